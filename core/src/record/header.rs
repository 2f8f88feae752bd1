//! What a log, and every stretch of it that can be read by itself, begins with.

use super::AirReference;
use crate::ResetCause;
use serde::{Deserialize, Serialize};

/// Version of the format that is written. A reader knows every one from 1 to its own.
///
/// It goes up when a record changes, is added, or an enum that goes into one does (variants are only ever added at the end).
pub const FORMAT: u16 = 3;

/// Version of how an installation is laid out in bytes: goes up with every change of a type in it, and the older types are kept
/// where logs are read.
pub const LAYOUT: u16 = 1;

/// What every header holds behind its record number, in every format for ever; the format's version follows.
pub const MAGIC: [u8; 4] = *b"riT\x1a";

/// Why there is a header here.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Began {
    /// The controller started afresh.
    Started(ResetCause),
    /// The installation of the running controller was exchanged.
    Exchanged,
    /// The controller changed its installation by what a trial found.
    Measured,
    /// Nothing happened: it is repeated now and then, so that a log whose beginning is lost can be read.
    Repeated,
}

/// The header. The installation follows in the next record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Header {
    /// [`MAGIC`].
    pub magic: [u8; 4],
    /// [`FORMAT`] of the writer.
    pub format: u16,
    /// Why it is here.
    pub began: Began,
    /// Name and version of what runs, as text in UTF-8.
    pub firmware: heapless::Vec<u8, 24>,
    /// Fingerprint of the installation ([`crate::frame::fingerprint`]).
    pub fingerprint: u32,
    /// Time between two steps, ms.
    pub period_ms: u32,
    /// Lifts of the installation.
    pub lifts: u8,
    /// Tanks of the installation.
    pub tanks: u8,
    /// What air is told in.
    pub air: AirReference,
}
