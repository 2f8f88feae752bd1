//! The line of a tank, a lift, an alarm. How much it matters shows in a mark and in words; colour only repeats it.

use super::snapshot::{AlarmLine, LiftLine, TankLine};
use crate::output::lift_state;
use ratatui::style::{Color, Modifier, Style};
use risertrim::alarm::{Standing, Urgency};
use risertrim::step::LiftState;

/// Columns of a tank's gauge between its brackets.
const GAUGE: usize = 24;

/// How much a line matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Weight {
    /// Nothing to see to.
    Fine,
    /// Somebody did this, or it passes by itself.
    Passing,
    /// See to it today.
    Today,
    /// Come now.
    Now,
}

impl Weight {
    /// Two characters in front of the line.
    pub const fn mark(self) -> &'static str {
        match self {
            Self::Fine => "  ",
            Self::Passing => "~ ",
            Self::Today => "! ",
            Self::Now => "!!",
        }
    }

    /// The look of the line.
    pub const fn style(self) -> Style {
        match self {
            Self::Fine => Style::new(),
            Self::Passing => Style::new().fg(Color::Cyan),
            Self::Today => Style::new().fg(Color::Yellow),
            Self::Now => Style::new().fg(Color::Red).add_modifier(Modifier::BOLD),
        }
    }
}

/// How much what a lift is doing matters.
pub(super) const fn lift_weight(state: LiftState) -> Weight {
    match state {
        LiftState::Trimming | LiftState::Holding => Weight::Fine,
        LiftState::Settling
        | LiftState::StoppedToMeasure
        | LiftState::Commissioning
        | LiftState::WaitingForCommissioning
        | LiftState::Manual
        | LiftState::OutOfService => Weight::Passing,
        LiftState::OutOfReach | LiftState::EssentialAir => Weight::Today,
        LiftState::HeldByLevel
        | LiftState::FullByLevel
        | LiftState::ShortOfAir
        | LiftState::Stopped
        | LiftState::Fixed => Weight::Now,
    }
}

/// A lift in words, as many of them as fit into `columns`; `name_columns` for its name.
pub(super) fn lift(lift: &LiftLine, name_columns: usize, columns: usize) -> String {
    let mut text = format!(
        "{} {:<name_columns$} {:>6.1} of {:>5.1} L/min",
        lift_weight(lift.state).mark(),
        lift.name,
        lift.believed_l_min,
        lift.target_l_min
    );
    let mut pieces = vec![lift_state(lift.state).to_owned()];
    if !lift.meddled.is_empty() {
        pieces.push(lift.meddled.clone());
    }
    pieces.extend(lift.true_l_min.map(|water| format!("truly {water:.1}")));
    pieces.push(format!("valve {:.0} %", lift.opening_percent));
    pieces.push(format!("air {:.0} L/min", lift.air_l_min));
    pieces.push(format!("delivers {:.0} % of its curve", lift.delivery_percent));
    for piece in pieces {
        if text.chars().count() + 2 + piece.chars().count() > columns {
            break;
        }
        text.push_str(", ");
        text.push_str(&piece);
    }
    text
}

/// How much a tank's level matters, and the word for it.
pub(super) fn tank_state(tank: &TankLine) -> (Weight, &'static str) {
    let [too_low, low, high, too_high] = tank.limits_mm;
    let level = tank.level_mm;
    if level > too_high {
        (Weight::Now, "TOO HIGH")
    } else if level < too_low {
        (Weight::Now, "TOO LOW")
    } else if level > high {
        (Weight::Today, "high")
    } else if level < low {
        (Weight::Today, "low")
    } else if !tank.read {
        (Weight::Today, "not read: reckoned")
    } else {
        (Weight::Fine, "good")
    }
}

/// A tank in words, with a gauge from too low to too high.
pub(super) fn tank(tank: &TankLine, name_columns: usize, columns: usize) -> String {
    let (weight, word) = tank_state(tank);
    let mut text = format!(
        "{} {:<name_columns$} [{}] {:>6.0} mm, {word}",
        weight.mark(),
        tank.name,
        gauge(tank),
        tank.level_mm
    );
    let mut pieces = Vec::new();
    pieces.extend(tank.fish.then(|| "fish".to_owned()));
    pieces.extend(tank.true_level_mm.map(|level| format!("truly {level:.0} mm")));
    for piece in pieces {
        if text.chars().count() + 2 + piece.chars().count() <= columns {
            text.push_str(", ");
            text.push_str(&piece);
        }
    }
    text
}

/// `=` up to the level, `|` at the warnings.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)] // limited to the gauge
fn gauge(tank: &TankLine) -> String {
    let [too_low, low, high, too_high] = tank.limits_mm;
    let place = |level: f64| {
        let share = (level - too_low) / (too_high - too_low).max(1e-9);
        (share.clamp(0.0, 1.0) * GAUGE as f64).round() as usize
    };
    let full = place(tank.level_mm);
    let marks = [place(low), place(high)];
    (0..GAUGE)
        .map(|column| {
            if marks.contains(&column) {
                '|'
            } else if column < full {
                '='
            } else {
                ' '
            }
        })
        .collect()
}

/// How much an alarm matters.
pub(super) const fn alarm_weight(alarm: &AlarmLine) -> Weight {
    if matches!(alarm.standing, Standing::Over) {
        return Weight::Passing;
    }
    match alarm.urgency {
        Urgency::High => Weight::Now,
        Urgency::Medium => Weight::Today,
        Urgency::Low => Weight::Passing,
    }
}

/// An alarm in words.
pub(super) fn alarm(alarm: &AlarmLine) -> String {
    let weight = alarm_weight(alarm);
    let when = match (alarm.standing, alarm.urgency) {
        (Standing::Over, _) => "over, look even so: ",
        (_, Urgency::High) => "come now: ",
        (_, Urgency::Medium) => "today: ",
        (_, Urgency::Low) => "",
    };
    let seen = if alarm.standing == Standing::Seen { "seen; " } else { "" };
    let mut text = format!("{} {seen}{when}{}: {}", weight.mark(), alarm.subject, alarm.what);
    if !alarm.figure.is_empty() {
        text.push_str(&format!(", {}", alarm.figure));
    }
    if alarm.follows.is_empty() {
        text.push_str(&format!("; {}", alarm.act));
    } else {
        text.push_str(&format!("; follows from {}", alarm.follows));
    }
    text
}
