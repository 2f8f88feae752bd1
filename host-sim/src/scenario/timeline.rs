//! Reads `[[target]]` and `[[event]]`: what happens when.

use super::event;
use super::report::Kind;
use super::section::Section;
use super::units::{L_MIN, narrow};
use crate::plant::Change;
use risertrim::{Command, WaterFlow};

pub(super) const HOUR_S: f64 = 3600.0;
const DAY_S: f64 = 24.0 * HOUR_S;
/// A year: longer runs are made of days that repeat.
pub(super) const LATEST_H: f64 = 8784.0;

/// Something that happens at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Timed {
    /// When it first happens, s after the start.
    pub at_s: f64,
    /// True when it happens again every 24 h.
    pub repeats_daily: bool,
    /// What happens.
    pub what: Happening,
    /// Line of the file that says so.
    pub line: usize,
}

/// What happens.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Happening {
    /// The controller is told something.
    Command(Command),
    /// Something happens to the installation and nobody tells the controller.
    Plant {
        /// What happens.
        change: Change,
        /// Over what time, s; 0: at once.
        over_s: f64,
    },
    /// Somebody does something to the installation and tells the controller.
    Both {
        /// What the controller is told.
        command: Command,
        /// What happens, at once.
        change: Change,
    },
    /// Something happens to power, board or clock.
    Board(BoardEvent),
}

/// What happens to the power, to the board that runs the controller, and to its clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BoardEvent {
    /// The power fails: blower and board stop, every valve goes to where it stands without power (open).
    PowerFails,
    /// The power is back: the blower runs, the board starts with what it had saved.
    PowerBack,
    /// The board alone stops; the blower runs on and every valve goes open.
    Stops,
    /// The board starts again.
    Starts {
        /// With what the controller had learned; otherwise afresh.
        remembers: bool,
    },
    /// The board's counter leaps, s: ahead, or back below zero.
    ClockLeaps(f64),
    /// The board's counter stands a minute before its wrap.
    ClockWraps,
}

/// Names that the timeline may use.
pub(super) struct Names<'a> {
    pub tanks: &'a [String],
    pub lifts: &'a [String],
    /// Outlets of each tank.
    pub outlets: &'a [usize],
    pub has_gauge: bool,
    pub hours: f64,
}

/// Reads targets and events, in the order of time.
pub(super) fn read(top: &mut Section<'_>, names: &Names<'_>) -> Vec<Timed> {
    let mut timeline = Vec::new();
    for section in top.tables("target") {
        timeline.extend(target(section, names));
    }
    for section in top.tables("event") {
        timeline.extend(event::read(section, names));
    }
    timeline.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    timeline
}

pub(super) fn when(section: &mut Section<'_>, names: &Names<'_>) -> (f64, bool) {
    let at_h = section.number("at_h", 0.0..=LATEST_H);
    if at_h >= names.hours {
        let message = format!(
            "at_h {at_h} is not before the end of the run, {} h: it never happens",
            names.hours
        );
        section.warning(Kind::Event, "at_h", message, None);
    }
    (at_h * HOUR_S, section.flag_or("every_day", false))
}

pub(super) fn lift_index(section: &mut Section<'_>, names: &Names<'_>) -> Option<u8> {
    section
        .name_of("lift", names.lifts, "lift")
        .and_then(|index| u8::try_from(index).ok())
}

fn target(mut section: Section<'_>, names: &Names<'_>) -> Option<Timed> {
    let line = section.line();
    let (at_s, repeats_daily) = when(&mut section, names);
    let lift = lift_index(&mut section, names);
    let l_min = section.number("l_min", 0.0..=20_000.0);
    section.end();
    let command = Command::Target {
        lift: lift?,
        flow: WaterFlow::from_m3_s(narrow(l_min * L_MIN)),
    };
    Some(Timed {
        at_s,
        repeats_daily,
        what: Happening::Command(command),
        line,
    })
}

/// Every happening up to `until_s`, in order, the daily ones unfolded, with its time.
pub(super) fn unfolded(timeline: &[Timed], until_s: f64) -> Vec<(f64, &Timed)> {
    let mut all = Vec::new();
    for timed in timeline {
        let mut at_s = timed.at_s;
        while at_s < until_s {
            all.push((at_s, timed));
            if !timed.repeats_daily {
                break;
            }
            at_s += DAY_S;
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}
