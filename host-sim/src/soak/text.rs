//! What came of long runs, for people.

use super::calm::Calm;
use super::hostile::Hostile;
use super::years::Years;
use crate::output::{duration, wrapped};
use std::fmt::Write;

/// Alarms listed one by one.
const LISTED: usize = 30;

/// Days without a fault.
#[must_use]
pub fn calm_text(calm: &Calm) -> String {
    let mut text = String::new();
    for alarm in calm.false_alarms.iter().take(LISTED) {
        let _ = writeln!(
            text,
            "{}, seed {}: {} ({}) on day {:.2}, {} times",
            alarm.scenario, alarm.seed, alarm.kind, alarm.subject, alarm.at_days, alarm.times
        );
    }
    let more = calm.false_alarms.len().saturating_sub(LISTED);
    if more > 0 {
        let _ = writeln!(text, "and {more} more: --json lists them all.");
    }
    let _ = writeln!(
        text,
        "{} runs of {} days without a fault in {}: {} false alarms.",
        calm.runs,
        calm.days,
        duration(calm.wall_s),
        calm.false_alarms.len()
    );
    text
}

/// Hostile steps.
#[must_use]
pub fn hostile_text(hostile: &Hostile) -> String {
    let mut text = String::new();
    for fault in hostile.faults.iter().take(LISTED) {
        text.push_str(&wrapped(fault, 4));
    }
    let _ = writeln!(
        text,
        "{} hostile steps of {} controllers with {} commands in {}: {} answers at fault.",
        hostile.steps,
        hostile.starts,
        hostile.commands,
        duration(hostile.wall_s),
        hostile.faults.len()
    );
    text
}

/// Years.
#[must_use]
pub fn years_text(years: &Years) -> String {
    let mut text = format!("{}, {} days\n\n", years.place, years.days);
    for year in &years.years {
        let _ = writeln!(
            text,
            "year {} (the counter has wrapped {} times)",
            year.year, year.wraps
        );
        for (index, lift) in years.lifts.iter().enumerate() {
            let at = |list: &[f64]| list.get(index).copied().unwrap_or(0.0);
            let clean = year.factor_when_clean.get(index).copied().flatten();
            let _ = writeln!(
                text,
                "  {lift:<12} flow {:+.2} %, belief {:+.2} %, factor when clean {}",
                at(&year.flow_error_percent),
                at(&year.belief_error_percent),
                clean.map_or_else(|| "-".to_owned(), |factor| format!("{factor:.3}"))
            );
        }
        for alarm in &year.alarms {
            let _ = writeln!(
                text,
                "  alarm {} ({}): {} times, at most {} a day",
                alarm.kind, alarm.subject, alarm.times, alarm.most_a_day
            );
        }
    }
    for cleaning in &years.cleanings {
        let (Some(lift), Some(percent)) = (years.lifts.get(cleaning.lift), cleaning.percent_before) else {
            continue;
        };
        let due = cleaning.due_days_before;
        let _ = writeln!(
            text,
            "  day {:>5.0}: {lift} cleaned; before, {percent} % of what it gave when clean{}",
            cleaning.at_days,
            due.map_or_else(String::new, |days| format!(", and due in {days} days"))
        );
    }
    let broken = years.broken();
    for line in &broken {
        text.push_str(&wrapped(&format!("Not kept: {line}."), 4));
    }
    let _ = writeln!(
        text,
        "\n{} days in {}: {:.1} L spilled, {:.0} s dry, {} clock alarms, {} promises not kept.",
        years.days,
        duration(years.wall_s),
        years.spilled_l,
        years.dry_s,
        years.clock_alarms,
        broken.len()
    );
    text
}
