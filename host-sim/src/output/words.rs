//! Times and states in plain words.

use risertrim::step::LiftState;

/// Width of everything printed for people, columns.
pub const WIDTH: u16 = 100;

/// A paragraph in lines of at most [`WIDTH`] columns, all but the first set in by `indent`; the first by its own spaces.
#[must_use]
pub fn wrapped(paragraph: &str, indent: usize) -> String {
    let words = paragraph.trim_start();
    let mut column = paragraph.len() - words.len();
    let mut text = " ".repeat(column);
    for (index, word) in words.split(' ').enumerate() {
        let length = word.chars().count();
        if index > 0 && column + 1 + length > usize::from(WIDTH) {
            text.push('\n');
            text.push_str(&" ".repeat(indent));
            column = indent;
        } else if index > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += length;
    }
    text.push('\n');
    text
}

/// A time since the start as on a clock that showed 00:00 then: `06:05`, and from the second day on `day 2 06:05`.
#[must_use]
pub fn clock(time_s: f64) -> String {
    let minutes = whole(time_s / 60.0);
    let (day, hour, minute) = (minutes / 1440, minutes / 60 % 24, minutes % 60);
    if day == 0 {
        format!("{hour:02}:{minute:02}")
    } else {
        format!("day {} {hour:02}:{minute:02}", day + 1)
    }
}

/// A length of time in the unit that suits it: `45 s`, `12.5 min`, `3.0 h`.
#[must_use]
pub fn duration(time_s: f64) -> String {
    if time_s < 119.5 {
        format!("{time_s:.0} s")
    } else if time_s < 7170.0 {
        format!("{:.1} min", time_s / 60.0)
    } else {
        format!("{:.1} h", time_s / 3600.0)
    }
}

/// What a lift is doing.
#[must_use]
pub fn lift_state(state: LiftState) -> &'static str {
    match state {
        LiftState::Settling => "settling",
        LiftState::Trimming => "trimming",
        LiftState::Holding => "holding",
        LiftState::StoppedToMeasure => "stopped to measure",
        LiftState::Commissioning => "being commissioned",
        LiftState::WaitingForCommissioning => "waiting for commissioning",
        LiftState::HeldByLevel => "held by level",
        LiftState::FullByLevel => "full for a level",
        LiftState::Stopped => "stopped, valve waits",
        LiftState::ShortOfAir => "short of air",
        LiftState::OutOfReach => "target out of reach",
        LiftState::EssentialAir => "essential air",
        LiftState::Manual => "manual",
        LiftState::OutOfService => "out of service",
        LiftState::Fixed => "fixed",
    }
}

/// Several names as a list in a sentence: `a`, `a and b`, `a, b and c`.
pub(super) fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [front @ .., last] => format!("{} and {last}", front.join(", ")),
    }
}

/// A whole number with its thousands set apart by spaces: `123 456`.
pub(super) fn thousands(number: f64) -> String {
    let digits = whole(number).to_string();
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // the cast saturates
fn whole(number: f64) -> u64 {
    number as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_read_as_on_a_clock() {
        assert_eq!(clock(0.0), "00:00");
        assert_eq!(clock(21_959.0), "06:05");
        assert_eq!(clock(86_400.0 + 3_600.0), "day 2 01:00");
        assert_eq!(duration(90.0), "90 s");
        assert_eq!(duration(3600.0), "60.0 min");
        assert_eq!(duration(86_400.0), "24.0 h");
    }

    #[test]
    fn paragraphs_stay_within_the_width() {
        let paragraph = "word ".repeat(100);
        let text = wrapped(paragraph.trim(), 4);
        assert!(text.lines().all(|line| line.chars().count() <= usize::from(WIDTH)));
        assert!(text.lines().skip(1).all(|line| line.starts_with("    word")));
        assert_eq!(text.split_whitespace().count(), 100);
    }

    #[test]
    fn lists_and_thousands_read_well() {
        assert_eq!(listed(&["a".into(), "b".into(), "c".into()]), "a, b and c");
        assert_eq!(thousands(1_234_567.9), "1 234 567");
        assert_eq!(thousands(123.0), "123");
    }
}
