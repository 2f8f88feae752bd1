//! One entry of a log.

use crate::scenario::{LIFTS, TANKS};
use risertrim::Installation;
use risertrim::frame::Damage;
use risertrim::record::{InstallationMark, ReadingsRecord, Record, StepRecord};

/// A record at the capacities of this crate.
pub type HostRecord = Record<LIFTS, TANKS>;
/// A record of a step at the capacities of this crate.
pub type HostStepRecord = StepRecord<LIFTS, TANKS>;
/// A record of readings at the capacities of this crate.
pub type HostReadingsRecord = ReadingsRecord<TANKS>;
/// An installation at the capacities of this crate.
pub type HostInstallation = Installation<LIFTS, TANKS>;

/// What stands at a place of a log, or is missing there.
#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant)] // a box for each of ten million records costs more than moving them
pub enum What {
    /// A record. ([`Record::Installation`] comes as [`What::Installation`].)
    Record(HostRecord),
    /// The installation from here on; `None` when it is laid out as by another version.
    Installation {
        /// How it is laid out, and its fingerprint.
        mark: InstallationMark,
        /// The installation.
        installation: Option<Box<HostInstallation>>,
    },
    /// Bytes that are no intact frame.
    Damaged(Damage),
    /// Records missing here, by their numbers: what was damaged, or what was lost before it came to this file.
    Missing(u32),
    /// A record that was there before: repeated, or late; not to be used again.
    Repeated(u16),
    /// The numbers begin anew without a header: another log begins here, or the header of a restart was lost.
    Stretch,
    /// Intact, but no record known here.
    Unknown,
}

/// One entry of a log.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Byte of the log at which it begins.
    pub offset: u64,
    /// Which start of the controller it belongs to: 0 before the first, 1 from the first on.
    pub session: u32,
    /// Milliseconds of records since the beginning of the log. It never goes back; a counter that does, a restart and a change of
    /// the log stand still, because nobody knows how long they took. For what has no time of its own, that of the record before.
    pub time_ms: u64,
    /// True when the time does not follow from the record before: after a restart, a new stretch, or a counter that went back.
    pub time_broken: bool,
    /// What it is.
    pub what: What,
}

impl Entry {
    /// Its time in seconds.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        #[allow(clippy::cast_precision_loss)] // exact below 2^53 ms
        let time_ms = self.time_ms as f64;
        time_ms * 1e-3
    }
}
