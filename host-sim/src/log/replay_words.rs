//! What came of a replay, in words.

use super::difference::Difference;
use super::replay::Start;
use super::replay_outcome::{FieldOutcome, ReplayOutcome};
use crate::output::{clock, duration};
use std::fmt::Write;

/// What came of a replay, as lines for people.
#[must_use]
pub fn replay_text(outcome: &ReplayOutcome, start: &Start) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{} steps over {}; the log holds {} of them to compare with: {} equal in every bit",
        outcome.steps,
        duration(outcome.span_s),
        outcome.compared,
        outcome.equal
    );
    let _ = writeln!(
        out,
        "log of {}; replayed with risertrim {}{}",
        outcome.firmware.join(", "),
        env!("CARGO_PKG_VERSION"),
        match start {
            Start::Logged => "",
            Start::With(_) => " on another installation",
            Start::Tuned(_) => " with other settings",
        }
    );
    if !outcome.inexact.is_empty() {
        out.push_str("\nWhat keeps it from being exact:\n");
        for reason in &outcome.inexact {
            let _ = writeln!(out, "  {:<12} {}", clock(reason.time_s), reason.why);
        }
        if outcome.more_inexact > 0 {
            let _ = writeln!(out, "  and {} more", outcome.more_inexact);
        }
    }
    if outcome.uncompared_steps() > 0 {
        let _ = writeln!(
            out,
            "\n{} of {} logged steps could not be compared:",
            outcome.uncompared_steps(),
            outcome.uncompared_steps() + outcome.compared
        );
        for (why, steps) in &outcome.uncompared {
            let _ = writeln!(out, "  {steps:<12} {why}");
        }
    }
    if outcome.compared == 0 {
        out.push_str("\nNothing could be compared.\n");
        return out;
    }
    for (time_s, command) in &outcome.commands {
        let _ = writeln!(out, "  {:<12} {command}", clock(*time_s));
    }
    if outcome.what_was_compared_is_equal() {
        out.push_str(if outcome.uncompared_steps() == 0 {
            "\nThe same decisions, bit by bit.\n"
        } else {
            "\nWhat could be compared is the same, bit by bit; of the rest nothing is known.\n"
        });
        return out;
    }
    if outcome.first.is_empty() {
        return out;
    }
    let _ = writeln!(
        out,
        "\nFirst difference at {} ({:.1} s), causes first (then: in the log; now: in this replay):",
        clock(outcome.first_s),
        outcome.first_s
    );
    for difference in outcome.first.iter().take(6) {
        let _ = writeln!(out, "  {}: {}", difference.field, then_now(difference));
    }
    let rest = outcome.first.len().saturating_sub(6);
    if rest > 0 {
        let _ = writeln!(out, "  and {rest} more in that step");
    }
    out.push_str(
        "\nDifferences over the whole log, beliefs first and then what follows from them (RMS: their usual size):\n",
    );
    for (field, differs) in &outcome.fields {
        let _ = writeln!(
            out,
            "  {:<36} {}",
            field.to_string(),
            field_words(differs, outcome.compared)
        );
    }
    out.push_str(
        "\nThe readings are those of the log: this shows other decisions, not what would have come of them. For that run simulate.\n",
    );
    out
}

fn then_now(difference: &Difference) -> String {
    let (unit, times) = difference.field.unit();
    match (difference.logged, difference.now) {
        (Some(then), Some(now)) => {
            // As many digits as it takes to tell them apart, and no more.
            let digits = (2..12)
                .find(|digits| format!("{:.*}", *digits, then * times) != format!("{:.*}", *digits, now * times))
                .unwrap_or(12);
            format!(
                "then {:.*}, now {:.*} {unit}",
                digits,
                then * times,
                digits,
                now * times
            )
        }
        _ => "not the same".to_owned(),
    }
}

fn field_words(differs: &FieldOutcome, compared: u64) -> String {
    let (unit, times) = differs.first.field.unit();
    #[allow(clippy::cast_precision_loss)]
    let share = 100.0 * differs.steps as f64 / compared as f64;
    let steps = format!("in {share:.1} % of steps from {}", clock(differs.first_s));
    match differs.widest.1.apart() {
        Some(widest) => format!(
            "{steps}, by {:.3} {unit} RMS, at most {:.3} {unit} at {}",
            differs.rms() * times,
            widest * times,
            clock(differs.widest.0)
        ),
        None => steps,
    }
}
