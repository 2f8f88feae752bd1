//! Events of the whole: blower, gauge, power, board and clock.

use super::super::happening::{BoardEvent, Happening, Names};
use super::super::report::Kind;
use super::super::section::Section;
use super::super::units::PERCENT;
use crate::plant::Change;
use risertrim::Command;

/// Keys that say what happens; `automatic` concerns a lift when it names one.
pub(super) const ACTIONS: [&str; 14] = [
    "automatic",
    "blower_left_percent",
    "blower",
    "blower_surge_percent",
    "intake_blocked_percent",
    "gauge",
    "gauge_shift_kpa",
    "essential_air",
    "mains",
    "power",
    "board",
    "clock_leaps_s",
    "clock_wraps",
    "water_c",
];
/// Period of a surge unless it is told, s (common practice, no source: a stalled impeller hunts within seconds).
const SURGE_PERIOD_S: f64 = 6.0;

/// The happening that the keys of the whole tell.
pub(super) fn read(section: &mut Section<'_>, names: &Names<'_>, over_s: f64) -> Option<Happening> {
    let left = section.maybe_number("blower_left_percent", 0.0..=150.0);
    let blower = section.word("blower", &["stops", "runs"]);
    let gauge = section.word("gauge", &["missing", "mended"]);
    let surge = section.maybe_number("blower_surge_percent", 0.0..=100.0);
    let period_s = section.number_or("surge_period_s", 0.1..=3600.0, SURGE_PERIOD_S);
    let blocked = section.maybe_number("intake_blocked_percent", 0.0..=95.0);
    let shift = section.maybe_number("gauge_shift_kpa", -1000.0..=1000.0);
    let essential = section.maybe_flag("essential_air");
    let mains = section.word("mains", &["fails", "back"]);
    let power = section.word("power", &["fails", "back"]);
    let board = section.word("board", &["stops", "starts", "starts afresh"]);
    let leap = section.maybe_number("clock_leaps_s", -4.0e6..=4.0e6);
    let water_c = section.maybe_number("water_c", 0.0..=40.0);
    let wraps = section.maybe_flag("clock_wraps");
    if section.has("surge_period_s") && surge.is_none() {
        let message = "surge_period_s means something only beside blower_surge_percent";
        section.warning(Kind::Event, "surge_period_s", message, None);
    }
    if wraps == Some(false) {
        let message = "clock_wraps = false: nothing would happen";
        section.fault(Kind::Event, "clock_wraps", message, None);
    }
    let gauged = if shift.is_some() { "gauge_shift_kpa" } else { "gauge" };
    if (gauge.is_some() || shift.is_some()) && !names.has_gauge {
        section.fault(
            Kind::Event,
            gauged,
            "there is no manifold gauge",
            Some("gauge_noise_kpa in [air] says that there is one".to_owned()),
        );
    }
    if mains == Some(0) && !names.has_backup {
        section.warning(
            Kind::Untold,
            "mains",
            "mains = \"fails\": [air] tells of no backup that the blower could then run on",
            Some(
                "write power = \"fails\" where blower and board stop then; or, under [air], backup = { energy_wh = 500, wanted_h = 4 } \
                 with what the battery holds"
                    .to_owned(),
            ),
        );
    }
    if let Some(on) = essential {
        return Some(Happening::Command(Command::EssentialAir(on)));
    }
    if let Some(word) = mains {
        return Some(Happening::Command(Command::OnBackup(word == 0)));
    }
    let event = match (power, board, leap, wraps) {
        (Some(0), ..) => Some(BoardEvent::PowerFails),
        (Some(_), ..) => Some(BoardEvent::PowerBack),
        (_, Some(0), ..) => Some(BoardEvent::Stops),
        (_, Some(word), ..) => Some(BoardEvent::Starts { remembers: word == 1 }),
        (_, _, Some(s), _) => Some(BoardEvent::ClockLeaps(s)),
        (_, _, _, Some(_)) => Some(BoardEvent::ClockWraps),
        _ => None,
    };
    if let Some(event) = event {
        return Some(Happening::Board(event));
    }
    let change = if let Some(percent) = left {
        Change::SagBlower {
            left: percent * PERCENT,
        }
    } else if let Some(word) = blower {
        Change::RunBlower { on: word == 1 }
    } else if let Some(water_c) = water_c {
        Change::Warm { water_c }
    } else if let Some(percent) = surge {
        Change::SurgeBlower {
            depth: percent * PERCENT,
            period_s,
        }
    } else if let Some(percent) = blocked {
        Change::BlockIntake {
            lost: percent * PERCENT,
        }
    } else if let Some(kpa) = shift {
        Change::ShiftGauge { pa: kpa * 1000.0 }
    } else {
        Change::LoseGauge { lost: gauge? == 0 }
    };
    Some(Happening::Plant { change, over_s })
}
