//! The run in plain words.

use super::recorder::ReportRecorder;
use super::{capital, escaped};
use crate::names::when_to_come;
use crate::output::{MEAN_WITHIN_PERCENT, clock, closing, duration};
use crate::simulate::{AlarmOutcome, LiftOutcome, Outcome};
use risertrim::alarm::Urgency;
use std::fmt::Write;

/// Root mean square of its error from which on a lift was off its target for long, %: hours of a day at tens of percent.
const STRAYED_RMS_PERCENT: f64 = 10.0;

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
    out.push_str(&calls(outcome));
    out
}

/// What to do about every alarm that somebody must come for now: each kind once for each part, as it stood last.
fn calls(outcome: &Outcome) -> String {
    let mut last: Vec<(&AlarmOutcome, usize)> = Vec::new();
    for alarm in outcome.alarms.iter().filter(|alarm| alarm.urgency == Urgency::High) {
        match last
            .iter_mut()
            .find(|(other, _)| other.kind == alarm.kind && other.subject == alarm.subject)
        {
            Some((other, times)) => (*other, *times) = (alarm, *times + 1),
            None => last.push((alarm, 1)),
        }
    }
    if last.is_empty() {
        return String::new();
    }
    last.sort_by(|(a, _), (b, _)| a.first_to_see(b));
    let mut out = String::from("<h3>What to come for now</h3>\n<ul class=\"calls\">\n");
    for (alarm, times) in last {
        let until = alarm.cleared_s.map_or_else(
            || "stands at the end".to_owned(),
            |cleared_s| format!("until {}", clock(cleared_s)),
        );
        let times = if times > 1 {
            format!(", {times} times in all")
        } else {
            String::new()
        };
        let _ = writeln!(
            out,
            "<li>From {}, {until}{times}: {}</li>",
            clock(alarm.at_s),
            escaped(&capital(&alarm.text))
        );
    }
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
                "; after one change of its target or service it was not at its target within {}",
                duration(settle_s)
            );
        }
        Some(settle_s) if !strayed(lift) => {
            let _ = write!(
                text,
                "; after every change of its target or service it was at its target within {}",
                duration(settle_s)
            );
        }
        _ => {}
    }
    let _ = write!(
        text,
        ". By the end it delivered {:.0} % of what its curve says.",
        100.0 * lift.delivery_factor
    );
    text
}

/// True for a lift that was off its target long after it had come to it: how fast it came there is no praise then.
fn strayed(lift: &LiftOutcome) -> bool {
    let mean = lift.mean_error_percent().unwrap_or(0.0).abs();
    mean > MEAN_WITHIN_PERCENT || lift.delivered_rms_error_percent.unwrap_or(0.0) > STRAYED_RMS_PERCENT
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
    // Those that are come for now are all told below.
    if let Some(first) = outcome.alarms.iter().min_by(|a, b| a.first_to_see(b))
        && first.urgency != Urgency::High
    {
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
