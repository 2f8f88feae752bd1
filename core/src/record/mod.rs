//! What happened, as records in frames: the same log from a board and from the modelled installation.
//!
//! Each frame ([`crate::frame`]) holds one [`Record`] and its number; `RECORD.md` beside this crate's manifest shows the bytes on
//! one page. [`Recorder`] decides what is worth a record by its [`Plan`] and writes frames to a [`Sink`]; [`read`] takes a
//! payload apart again.
//!
//! Every record with a time carries its [`Basis`]: manifold pressure, sump level, version of the curves and the reference of the
//! air. Without them a flow or an air of last month cannot be compared with one of today, and a later fit is worthless.
//!
//! What is absent is a variant of an enum; no number in a log is NaN or infinite.

mod basis;
mod header;
mod kinds;
mod mean;
mod moved;
mod plan;
mod read;
mod recorder;
mod standing;
mod write;

pub use crate::ResetCause;
pub use basis::{AirReference, Basis, Seen, curves_version, sump};
pub use header::{Began, FORMAT, Header, LAYOUT, MAGIC};
pub use kinds::{
    AlarmChange, AlarmRecord, BlowerRecord, CommandRecord, Commissioned, GapCause, GapRecord, InstallationMark,
    LearnedRecord, LiftRecord, Logged, ReadingsRecord, Record, StepRecord, TankRecord, ValveRecord, Verdict,
};
pub use plan::{Pace, Plan, Sensitivity};
pub use read::{Unread, read, read_installation};
pub use recorder::Recorder;
pub use write::{Sink, SinkFull};

#[cfg(test)]
mod tests;
