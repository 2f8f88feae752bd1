//! The messages.

use crate::ResetCause;
use crate::alarm::Name;
use crate::command::{Command, Refused};
use crate::commission::Outcome;
use crate::link::Counts;
use crate::step::{Readings, Step};
use crate::time::Millis;
use serde::{Deserialize, Serialize};

/// Bytes of an installation in one message.
pub const PART: usize = 256;
/// Entries of the log in one message.
pub const LOG_PART: usize = 16;

/// From the host: a numbered request.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Request<const TANKS: usize> {
    /// One higher than that of the request before; the same when it is sent again.
    pub number: u32,
    /// What is asked.
    pub ask: Ask<TANKS>,
}

/// What a host can ask of a board.
// A part of an installation is by far the largest; there is no heap to put it on, and one request is alive at a time.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Ask<const TANKS: usize> {
    /// Who are you? Starts the numbers of the requests anew. Answered by [`Answer::Hello`], whatever the host's version.
    Hello {
        /// The host's [`super::VERSION`].
        version: u16,
    },
    /// Bench mode only: make a step from these readings. Answered by [`Answer::Step`].
    Readings(Readings<TANKS>),
    /// Bench mode only: forget what was learned and begin again with the installation that runs.
    StartAfresh,
    /// The last step made, whoever gave the readings. Answered by [`Answer::Step`] or [`Not::NoStepYet`].
    LastStep,
    /// Passed to the controller.
    Command(Command),
    /// A person has seen why the board was held at fixed openings after several resets, and lets it run again.
    Acknowledge,
    /// An installation follows, in parts; one that was only half sent is forgotten.
    PutBegin {
        /// Length of its postcard bytes.
        bytes: u32,
        /// Its fingerprint.
        fingerprint: u32,
    },
    /// A part of the installation's postcard bytes, in order.
    PutPart {
        /// Place of the first byte.
        offset: u32,
        /// The bytes.
        part: heapless::Vec<u8, PART>,
    },
    /// All parts were sent: check the installation, keep it, run it.
    PutCommit,
    /// Forget what was sent of an installation.
    PutForget,
    /// The postcard bytes of the installation that runs, from here on. Answered by [`Answer::Part`].
    Get {
        /// Place of the first byte wanted.
        offset: u32,
    },
    /// The log from this entry on. Answered by [`Answer::Log`].
    Log {
        /// Number of the first entry wanted.
        from: u32,
    },
    /// How the line is. Answered by [`Answer::Counts`].
    Counts,
    /// The records that the board itself keeps ([`crate::record`]), from this place on; 0 for the oldest. Answered by
    /// [`Answer::Records`] or [`Not::NoLog`].
    Records {
        /// Place of the first byte wanted.
        from: u64,
    },
}

/// From the board: the answer to a request.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Reply<const LIFTS: usize, const TANKS: usize> {
    /// The number of the request.
    pub number: u32,
    /// The answer.
    pub answer: Answer<LIFTS, TANKS>,
}

/// What a board answers.
// The step is by far the largest; there is no heap to put it on, and one reply is alive at a time.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Answer<const LIFTS: usize, const TANKS: usize> {
    /// Who the board is.
    Hello(Hello),
    /// A step.
    Step(Stepped<LIFTS, TANKS>),
    /// It was done.
    Done,
    /// It was not done.
    Not(Not),
    /// A part of the installation.
    Part {
        /// Length of the whole.
        bytes: u32,
        /// Place of the first byte.
        offset: u32,
        /// The bytes; empty past the end.
        part: heapless::Vec<u8, PART>,
    },
    /// A part of the log.
    Log {
        /// Number of the first entry here; older ones have been written over when it is beyond the one asked for.
        from: u32,
        /// Number after the newest entry of the board.
        end: u32,
        /// The entries.
        entries: heapless::Vec<LogEntry, LOG_PART>,
    },
    /// How the line is, as the board sees it.
    Counts(Counts),
    /// A part of the records that the board keeps.
    Records {
        /// Place of the first byte here; what lies between it and the one asked for has been written over.
        at: u64,
        /// Place to ask from next.
        next: u64,
        /// The bytes; empty at the end.
        part: heapless::Vec<u8, PART>,
    },
}

/// Who a board is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hello {
    /// The board's [`super::VERSION`].
    pub version: u16,
    /// Fingerprint of the installation it runs, or would run while it is held after several resets; none while it has none.
    pub fingerprint: Option<u32>,
    /// True when it was built in bench mode: levels come from the host.
    pub bench: bool,
    /// Lifts it has room for.
    pub lifts: u8,
    /// Tanks it has room for.
    pub tanks: u8,
    /// What it is doing.
    pub running: Running,
    /// Why it started last.
    #[serde(with = "super::cause")]
    pub reset: ResetCause,
}

/// What a board is doing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Running {
    /// It has no installation it could run: fixed openings.
    #[default]
    NoInstallation,
    /// It trims.
    Trimming,
    /// Bench mode, and the host is silent: fixed openings until it speaks again.
    LinkLost,
    /// Several resets in a short time: fixed openings until a person acknowledges them.
    Stopped,
}

/// A step, and what goes with it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stepped<const LIFTS: usize, const TANKS: usize> {
    /// The step.
    pub step: Step<LIFTS, TANKS>,
    /// What a trial that ended in this step found.
    pub commissioned: Option<Outcome>,
}

/// Why something was not done. Nothing has changed then.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Not {
    /// The board was built without bench mode: its levels come from its own sensors.
    BenchMode,
    /// It has no installation to run.
    NoInstallation,
    /// It is held at fixed openings after several resets until they are acknowledged.
    Stopped,
    /// No step was made yet.
    NoStepYet,
    /// The controller refused the command.
    Refused(Refused),
    /// The parts of the installation do not follow one another, or are too many: begin again.
    PartsOutOfOrder,
    /// The installation's bytes do not make one, or not the one announced.
    NotAnInstallation,
    /// More lifts or tanks than this board has room for, or more bytes than it can keep.
    TooLarge,
    /// The installation cannot be run: this many faults.
    Faults(u8),
    /// It could not be written to the store; the one before is still there and still runs.
    StoreFailed,
    /// The board keeps no log that can be read back.
    NoLog,
    /// The installation's period is longer than the board's watchdog bears, which is this many milliseconds.
    PeriodTooLong(u32),
    /// The host said at its [`Ask::Hello`] that it speaks another version of these messages: the board answers nothing else.
    WrongVersion,
}

/// What is worth keeping in the log of a board.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Event {
    /// The board started, for this reason.
    Started(#[serde(with = "super::cause")] ResetCause),
    /// An alarm began.
    Raised(Name),
    /// An alarm ended.
    Cleared(Name),
    /// The valve of a lift could not be driven.
    ValveFault {
        /// Lift index.
        lift: u8,
    },
    /// The valve of a lift can be driven again.
    ValveDriven {
        /// Lift index.
        lift: u8,
    },
    /// The blower could not be set.
    BlowerFault,
    /// The blower can be set again.
    BlowerDriven,
    /// A command was not taken.
    Refused(Refused),
    /// Several resets in a short time: openings fixed until somebody acknowledges.
    Stopped,
    /// Somebody acknowledged them.
    Acknowledged,
    /// What was kept of an installation or of what was learned could not be used.
    KeptRejected,
    /// Something could not be written to the store.
    StoreFailed,
    /// Another installation was taken over.
    InstallationTaken {
        /// Its fingerprint.
        fingerprint: u32,
    },
    /// An installation was refused.
    InstallationRefused {
        /// Number of faults found in it.
        faults: u8,
    },
    /// An installation was followed by a reset by the program's own fault within a minute: the one before runs again.
    InstallationTakenBack,
    /// Bench mode: the host fell silent, openings fixed.
    LinkLost,
    /// Bench mode: the host speaks again.
    LinkBack,
}

/// An event with its time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LogEntry {
    /// When, on the board's own counter.
    pub at: Millis,
    /// What.
    pub event: Event,
}

impl Not {
    /// What to tell people, and what to do.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::BenchMode => {
                "the board was built without bench mode: it takes its levels from its own sensors, and modelled ones are refused; \
                 look on with --watch, or build it with the feature `bench` on a bench without water"
            }
            Self::NoInstallation => "the board has no installation to run; send one with --send",
            Self::Stopped => {
                "the board restarted several times in a short time and holds its valves at fixed openings; find out why (--events), \
                 then let it run again with --run-again"
            }
            Self::NoStepYet => "the board has made no step yet",
            Self::Refused(_) => "the controller did not take the command",
            Self::PartsOutOfOrder => "parts of the installation were missed; send it again",
            Self::NotAnInstallation => {
                "what arrived is not the installation that was announced; host and board may be of different versions"
            }
            Self::TooLarge => "the installation is larger than this board has room for",
            Self::Faults(_) => "the installation has faults that stop it from being run; `risertrim check` names them",
            Self::StoreFailed => {
                "the installation could not be written to the board's store; the one before still runs, and is still kept"
            }
            Self::NoLog => {
                "the board keeps no log that can be fetched: it was built without one, or sends it on a port of its own \
                 (`risertrim decode --follow PORT`)"
            }
            Self::WrongVersion => {
                "host and board speak different versions of their messages, so the board does nothing that is asked; build both from one \
                 version of this program"
            }
            Self::PeriodTooLong(_) => {
                "the board's watchdog would bite between two steps of this installation; make `control_period_s` shorter and send it \
                 again"
            }
        }
    }
}

impl core::fmt::Display for Not {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.text())?;
        match self {
            Self::Refused(why) => write!(f, ": {why}"),
            Self::PeriodTooLong(longest_ms) => write!(f, " (at most {longest_ms} ms)"),
            _ => Ok(()),
        }
    }
}

impl core::error::Error for Not {}
