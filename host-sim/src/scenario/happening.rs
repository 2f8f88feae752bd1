//! What can happen, and what every happening says: when, and to whom.

use super::report::Kind;
use super::section::Section;
use crate::plant::Change;
use risertrim::Command;

pub(super) const HOUR_S: f64 = 3600.0;
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

impl Happening {
    /// What the controller is told, if it is told anything.
    #[must_use]
    pub const fn command(&self) -> Option<Command> {
        match self {
            Self::Command(command) | Self::Both { command, .. } => Some(*command),
            Self::Plant { .. } | Self::Board(_) => None,
        }
    }
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
    pub has_backup: bool,
    pub hours: f64,
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
