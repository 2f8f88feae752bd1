//! The run in plain words.

use super::recorder::ReportRecorder;
use super::{capital, escaped};
use crate::names::when_to_come;
use crate::output::{closing, duration};
use crate::simulate::{LiftOutcome, Outcome};
use risertrim::alarm::Urgency;
use std::fmt::Write;

/// The top of the page: whether the job was done, and what each part did.
pub(super) fn summary(kept: &ReportRecorder, outcome: &Outcome) -> String {
    let mut out = String::new();
    let mut lines = closing(outcome);
    lines.pop(); // how fast it ran is told at the foot
    let done = lines.first().is_some_and(|line| line.starts_with("Job done:"));
    for (index, line) in lines.iter().enumerate() {
        let class = match (index, done) {
            (0, true) => " class=\"verdict done\"",
            (0, false) => " class=\"verdict undone\"",
            _ => "",
        };
        let _ = writeln!(out, "<p{class}>{}</p>", escaped(line));
    }
    out.push_str("<ul>\n");
    for lift in &outcome.lifts {
        let _ = writeln!(out, "<li>{}</li>", escaped(&lift_sentence(lift)));
    }
    let _ = writeln!(out, "<li>{}</li>", escaped(&air_sentence(kept, outcome)));
    let _ = writeln!(out, "<li>{}</li>", escaped(&alarm_sentence(outcome)));
    out.push_str("</ul>\n");
    out
}

fn lift_sentence(lift: &LiftOutcome) -> String {
    let mut text = format!("Lift {}", lift.name);
    match (lift.target_l_min, lift.delivered_mean_l_min) {
        (Some(target), Some(delivered)) => {
            let _ = write!(
                text,
                " was asked for {target:.1} L/min in the mean and delivered {delivered:.1}"
            );
            if let Some(percent) = lift.mean_error_percent() {
                let _ = write!(text, " ({percent:+.1} %)");
            }
        }
        _ => text.push_str(" had no time that could be counted"),
    }
    let _ = write!(text, ", with {:.1} L/min of free air", lift.air_mean_l_min);
    match lift.settle_s {
        Some(settle_s) if lift.not_settled => {
            let _ = write!(
                text,
                "; after one change it was not at its target within {}",
                duration(settle_s)
            );
        }
        Some(settle_s) => {
            let _ = write!(
                text,
                "; after every change it was at its target within {}",
                duration(settle_s)
            );
        }
        None => {}
    }
    let _ = write!(
        text,
        ". By the end it delivered {:.0} % of what its curve says.",
        100.0 * lift.delivery_factor
    );
    text
}

fn air_sentence(kept: &ReportRecorder, outcome: &Outcome) -> String {
    let minutes = kept.end_s / 60.0;
    format!(
        "The blower gave {:.1} m3 of free air ({:.0} L/min in the mean) and took {:.2} kWh.",
        outcome.air.free_air_m3,
        1_000.0 * outcome.air.free_air_m3 / minutes.max(1e-9),
        outcome.air.blower_energy_kwh
    )
}

fn alarm_sentence(outcome: &Outcome) -> String {
    if outcome.alarms.is_empty() {
        return "No alarm came up.".to_owned();
    }
    let count = |urgency| outcome.alarms.iter().filter(|alarm| alarm.urgency == urgency).count();
    let parts: Vec<String> = [Urgency::High, Urgency::Medium, Urgency::Low]
        .into_iter()
        .filter(|urgency| count(*urgency) > 0)
        .map(|urgency| format!("{} to {}", count(urgency), deed(urgency)))
        .collect();
    let plural = if outcome.alarms.len() == 1 { "alarm" } else { "alarms" };
    let mut text = format!("{} {plural}: {}.", outcome.alarms.len(), parts.join(", "));
    if let Some(first) = outcome.alarms.iter().min_by(|a, b| a.first_to_see(b)) {
        let _ = write!(
            text,
            " The most urgent (come {}): {}",
            when_to_come(first.urgency),
            capital(&first.text)
        );
    }
    text
}

const fn deed(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::High => "come for now",
        Urgency::Medium => "see to the same day",
        Urgency::Low => "see to when next there",
    }
}
