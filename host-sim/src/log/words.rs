//! A log in words.

use super::entry::{Entry, HostRecord, What};
use super::summary::{Summary, TOLD};
use super::tables::{change_word, subject};
use crate::output::{clock, duration, lift_state};
use risertrim::Command;
use risertrim::record::{Began, CommandRecord, GapCause, ResetCause, Verdict};
use std::fmt::Write;

/// Why a board was reset.
pub(super) const fn cause_words(cause: ResetCause) -> &'static str {
    match cause {
        ResetCause::Unknown => "started, cause unknown",
        ResetCause::PowerOn => "power came on",
        ResetCause::BrownOut => "the supply sagged",
        ResetCause::Watchdog => "watchdog",
        ResetCause::Fault => "panic or processor fault",
        ResetCause::Asked => "asked for",
        ResetCause::Simulated => "simulation",
        ResetCause::Panic => "panic",
        ResetCause::HardFault => "processor fault",
        ResetCause::Pin => "reset pin",
    }
}

/// A command and its answer.
pub(super) fn command_words(record: &CommandRecord) -> String {
    let number = |lift: u8| u16::from(lift) + 1;
    let asked = match record.command {
        Command::Target { lift, flow } => format!("target of lift {} to {:.1} L/min", number(lift), flow.l_min()),
        Command::Manual { lift, opening } => {
            format!("lift {} by hand to {:.1} % open", number(lift), 100.0 * opening.share())
        }
        Command::Automatic { lift } => format!("lift {} to automatic", number(lift)),
        Command::OutOfService { lift } => format!("lift {} out of service", number(lift)),
        Command::Commission { lift } => format!("commission lift {}", number(lift)),
        Command::EssentialAir(true) => "essential air".to_owned(),
        Command::EssentialAir(false) => "end of essential air".to_owned(),
        Command::OnBackup(true) => "mains gone, on backup".to_owned(),
        Command::OnBackup(false) => "mains back".to_owned(),
        Command::Acknowledge => "alarms seen".to_owned(),
        Command::ResetLatched => "latched alarms reset".to_owned(),
        Command::Silence { minutes } => format!("alarms silent for {minutes} min"),
    };
    match record.refused {
        None => format!("command: {asked}"),
        Some(why) => format!("command refused: {asked}: {why}"),
    }
}

/// What is neither readings nor a step, alarm or command.
pub(super) fn event_words(what: &What) -> String {
    match what {
        What::Record(record) => record_words(record),
        What::Installation { mark, installation } => {
            let readable = if installation.is_some() {
                ""
            } else {
                ", laid out as by another version"
            };
            format!("installation {:08X}{readable}", mark.fingerprint)
        }
        What::Damaged(damage) => format!("damaged: {} bytes, {}", damage.bytes, damage.harm),
        What::Missing(records) => format!("missing: {records} records"),
        What::Repeated(number) => format!("record {number} again"),
        What::Stretch => "record numbers begin anew without a header".to_owned(),
        What::Unknown => "a record that this version does not know".to_owned(),
    }
}

fn record_words(record: &HostRecord) -> String {
    match record {
        HostRecord::Header(header) => {
            let firmware = String::from_utf8_lossy(&header.firmware);
            match header.began {
                Began::Started(cause) => format!("start of {firmware}: {}", cause_words(cause)),
                Began::Exchanged => "installation exchanged".to_owned(),
                Began::Measured => "installation changed by a trial".to_owned(),
                Began::Repeated => format!("header of {firmware}, repeated"),
            }
        }
        HostRecord::Installation(mark) => format!("installation {:08X}", mark.fingerprint),
        HostRecord::Loaded(lifts) if lifts.is_empty() => "nothing learned before".to_owned(),
        HostRecord::Loaded(lifts) => format!("{} lifts start with what was learned before", lifts.len()),
        HostRecord::Readings(readings) => format!("readings of {} tanks", readings.levels.len()),
        HostRecord::Step(step) => format!("step of {} lifts", step.lifts.len()),
        HostRecord::Alarm(alarm) => {
            let figure = alarm
                .figure
                .words()
                .map_or(String::new(), |(n, counts)| format!(", {n} {counts}"));
            format!(
                "alarm {}: {}, {}{figure}",
                change_word(alarm.change),
                alarm.name.kind.text().what,
                subject(alarm.name.subject)
            )
        }
        HostRecord::Command(command) => command_words(command),
        HostRecord::Learned(learned) => format!("learned, {} lifts", learned.lifts.len()),
        HostRecord::Commissioned(trial) => {
            let verdict = |verdict: Verdict| match verdict {
                Verdict::Taken => "taken over".to_owned(),
                Verdict::Refused(why) => format!("not taken over ({})", why.text()),
            };
            format!(
                "trial of lift {} ended: outlet law {}, curve {}",
                u16::from(trial.lift) + 1,
                verdict(trial.outlet_law),
                verdict(trial.curve)
            )
        }
        HostRecord::Valve(valve) => format!(
            "valve of lift {} {}",
            u16::from(valve.lift) + 1,
            if valve.driven {
                "can be driven again"
            } else {
                "cannot be driven"
            }
        ),
        HostRecord::Gap(gap) => format!(
            "{} records lost by the writer: {}",
            gap.records,
            match gap.cause {
                GapCause::SinkFull => "its log was full",
                GapCause::TooLong => "longer than its room",
            }
        ),
        HostRecord::Clock { unix_s, .. } => format!("wall clock: {unix_s} s since 1970 UTC"),
    }
}

/// One line for an entry: time and words; for readings and steps their figures.
#[must_use]
pub fn line(entry: &Entry) -> String {
    let time = format!("{:>12.1} s  ", entry.time_s());
    match &entry.what {
        What::Record(HostRecord::Step(step)) => {
            let lifts: Vec<String> = step
                .lifts
                .iter()
                .map(|lift| {
                    format!(
                        "{:.1}/{:.1} L/min {:.1} % {}",
                        60_000.0 * lift.flow_m3_s,
                        60_000.0 * lift.target_m3_s,
                        100.0 * lift.command.share(),
                        lift_state(lift.state)
                    )
                })
                .collect();
            format!("{time}{}", lifts.join(" | "))
        }
        what => format!("{time}{}", event_words(what)),
    }
}

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
    out.push_str("\n          water   target  (L/min, means)   valve open (mean)   of its curve (at the end)\n");
    for (index, lift) in summary.lifts.iter().enumerate() {
        let _ = writeln!(
            out,
            "lift {:<3} {:7.1}  {:7.1}                       {:7.1} %                   {:7.1} %",
            index + 1,
            lift.flow_l_min,
            lift.target_l_min,
            lift.opening_percent,
            lift.delivery_percent
        );
    }
    for (index, tank) in summary.tanks.iter().enumerate() {
        let _ = writeln!(
            out,
            "tank {:<3} level {:.0} to {:.0} mm, mean {:.0} mm; {} readings missing",
            index + 1,
            tank.lowest_mm,
            tank.highest_mm,
            tank.mean_mm,
            tank.no_reading
        );
    }
}

fn more(out: &mut String, count: u64, told: usize) {
    if count > TOLD as u64 {
        let _ = writeln!(out, "  and {} more", count - told as u64);
    }
}
