//! A log's figures as lines for people.

use super::summary::{Summary, TOLD};
use crate::output::{clock, duration};
use std::fmt::Write;

/// The summary as lines for people.
#[must_use]
pub fn summary_text(summary: &Summary) -> String {
    let mut out = String::new();
    let hours = summary.span_s / 3600.0;
    #[allow(clippy::cast_precision_loss)]
    let per_hour = if hours > 0.01 {
        format!(", {:.0} kB an hour", summary.bytes as f64 / 1000.0 / hours)
    } else {
        String::new()
    };
    let _ = writeln!(
        out,
        "{} logged: readings of {} moments, {} steps of the controller; {} bytes{per_hour}",
        duration(summary.span_s),
        summary.readings,
        summary.steps,
        summary.bytes
    );
    if let Some(unix_s) = summary.began_unix_s {
        let _ = writeln!(out, "began {unix_s} s after 1970-01-01 00:00 UTC");
    }
    let _ = writeln!(out, "\nStarts: {}", summary.starts);
    for session in &summary.sessions {
        let _ = writeln!(
            out,
            "  {:<12} {:<28} {}, installation {}, {}",
            clock(session.from_s),
            session.cause.as_deref().unwrap_or("begins in the middle"),
            session.firmware,
            session.fingerprint,
            duration(session.until_s - session.from_s)
        );
    }
    more(&mut out, summary.starts, summary.sessions.len());
    if summary.renewals > 0 {
        let _ = writeln!(
            out,
            "  installation exchanged or changed by a trial: {}",
            summary.renewals
        );
    }
    damage_text(&mut out, summary);
    let _ = writeln!(
        out,
        "\nAlarms: {}",
        summary.alarms.iter().map(|alarm| alarm.times).sum::<u32>()
    );
    for alarm in &summary.alarms {
        let _ = writeln!(
            out,
            "  {:<12} {:<10} {}: {}, stood {}{}",
            clock(alarm.first_s),
            alarm.subject,
            alarm.what,
            if alarm.times == 1 {
                "once".to_owned()
            } else {
                format!("{} times", alarm.times)
            },
            duration(alarm.stood_s),
            if alarm.stands { ", still stands at the end" } else { "" }
        );
    }
    let _ = writeln!(
        out,
        "\nCommands: {} taken, {} refused; trials: {}; valve faults: {}",
        summary.commands, summary.refused, summary.trials, summary.valve_faults
    );
    figures_text(&mut out, summary);
    out
}

fn damage_text(out: &mut String, summary: &Summary) {
    let _ = writeln!(
        out,
        "\nGaps: {}{}",
        summary.gap_count,
        if summary.missing_records > 0 {
            format!(", {} records missing", summary.missing_records)
        } else {
            String::new()
        }
    );
    for gap in &summary.gaps {
        let records = if gap.records > 0 {
            format!("{} records missing, ", gap.records)
        } else {
            String::new()
        };
        let _ = writeln!(
            out,
            "  {:<12} before byte {}: {records}{} without readings",
            clock(gap.at_s),
            gap.byte,
            duration(gap.silent_s)
        );
    }
    more(out, summary.gap_count, summary.gaps.len());
    let _ = writeln!(
        out,
        "\nDamaged frames: {} ({} bytes)",
        summary.damage_count, summary.damaged_bytes
    );
    for damage in &summary.damage {
        let _ = writeln!(
            out,
            "  {:<12} byte {}: {} bytes, {}",
            clock(damage.at_s),
            damage.byte,
            damage.bytes,
            damage.harm
        );
    }
    more(out, summary.damage_count, summary.damage.len());
    if summary.repeated > 0 || summary.unknown > 0 {
        let _ = writeln!(
            out,
            "  records that came again: {}; not known to this version: {}",
            summary.repeated, summary.unknown
        );
    }
}

fn figures_text(out: &mut String, summary: &Summary) {
    if summary.steps == 0 {
        return;
    }
    let name = |names: &[String], noun: &str, index: usize| {
        let named = names.get(index).map(|name| format!("{noun} {name}"));
        named.unwrap_or_else(|| format!("{noun} {}", index + 1))
    };
    let parts = &summary.parts;
    let lifts: Vec<String> = (0..summary.lifts.len())
        .map(|index| name(&parts.lifts, "lift", index))
        .collect();
    let tanks: Vec<String> = (0..summary.tanks.len())
        .map(|index| name(&parts.tanks, "tank", index))
        .collect();
    let wide = lifts
        .iter()
        .chain(&tanks)
        .map(|name| name.chars().count())
        .max()
        .unwrap_or(0)
        .max(8);
    let _ = writeln!(
        out,
        "\n{:wide$}  water   target  (L/min, means)   valve open (mean)   of its curve (at the end)",
        ""
    );
    for (index, lift) in summary.lifts.iter().enumerate() {
        let _ = writeln!(
            out,
            "{:<wide$} {:7.1}  {:7.1}                       {:7.1} %                   {:7.1} %",
            lifts[index], lift.flow_l_min, lift.target_l_min, lift.opening_percent, lift.delivery_percent
        );
    }
    for (index, tank) in summary.tanks.iter().enumerate() {
        let _ = writeln!(
            out,
            "{:<wide$} level {:.0} to {:.0} mm, mean {:.0} mm; {} readings missing",
            tanks[index], tank.lowest_mm, tank.highest_mm, tank.mean_mm, tank.no_reading
        );
    }
}

fn more(out: &mut String, count: u64, told: usize) {
    if count > TOLD as u64 {
        let _ = writeln!(out, "  and {} more", count - told as u64);
    }
}
