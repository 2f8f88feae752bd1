//! One entry of a log in words.

use super::entry::{Entry, HostRecord, What};
use crate::names::Names;
use crate::output::lift_state;
use risertrim::Command;
use risertrim::record::{AlarmChange, Began, CommandRecord, GapCause, ResetCause, Verdict};

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

/// What became of an alarm, in a word.
pub(super) const fn change_word(change: AlarmChange) -> &'static str {
    match change {
        AlarmChange::On => "on",
        AlarmChange::Seen => "seen",
        AlarmChange::Over => "over",
        AlarmChange::Off => "off",
    }
}

/// A command and its answer.
pub(super) fn command_words(record: &CommandRecord, names: &Names) -> String {
    let name = |lift: u8| names.lift(lift);
    let asked = match record.command {
        Command::Target { lift, flow } => format!("target of {} to {:.1} L/min", name(lift), flow.l_min()),
        Command::Manual { lift, opening } => {
            format!("{} by hand to {:.1} % open", name(lift), 100.0 * opening.share())
        }
        Command::Automatic { lift } => format!("{} to automatic", name(lift)),
        Command::OutOfService { lift } => format!("{} out of service", name(lift)),
        Command::Commission { lift } => format!("commission {}", name(lift)),
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
pub(super) fn event_words(what: &What, names: &Names) -> String {
    match what {
        What::Record(record) => record_words(record, names),
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

fn record_words(record: &HostRecord, names: &Names) -> String {
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
                names.subject(alarm.name.subject)
            )
        }
        HostRecord::Command(command) => command_words(command, names),
        HostRecord::Learned(learned) => format!("learned, {} lifts", learned.lifts.len()),
        HostRecord::Commissioned(trial) => {
            let verdict = |verdict: Verdict| match verdict {
                Verdict::Taken => "taken over".to_owned(),
                Verdict::Refused(why) => format!("not taken over ({})", why.text()),
            };
            format!(
                "trial of {} ended: outlet law {}, curve {}",
                names.lift(trial.lift),
                verdict(trial.outlet_law),
                verdict(trial.curve)
            )
        }
        HostRecord::Valve(valve) => format!(
            "valve of {} {}",
            names.lift(valve.lift),
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
pub fn line(entry: &Entry, names: &Names) -> String {
    let time = format!("{:>12.1} s  ", entry.time_s());
    match &entry.what {
        What::Record(HostRecord::Step(step)) => {
            let lifts: Vec<String> = step
                .lifts
                .iter()
                .enumerate()
                .map(|(index, lift)| {
                    let name = names
                        .lifts
                        .get(index)
                        .map_or_else(String::new, |name| format!("{name} "));
                    format!(
                        "{name}{:.1}/{:.1} L/min {:.1} % {}",
                        60_000.0 * lift.flow_m3_s,
                        60_000.0 * lift.target_m3_s,
                        100.0 * lift.command.share(),
                        lift_state(lift.state)
                    )
                })
                .collect();
            format!("{time}{}", lifts.join(" | "))
        }
        what => format!("{time}{}", event_words(what, names)),
    }
}
