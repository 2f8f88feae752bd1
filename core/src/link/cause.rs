//! The cause of a reset as the line numbers it: these numbers were there before the log's.

use crate::ResetCause;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Only appended to, like every enum that goes over a line.
#[derive(Serialize, Deserialize)]
#[serde(rename = "ResetCause")]
enum Numbered {
    PowerOn,
    BrownOut,
    Watchdog,
    Panic,
    HardFault,
    Asked,
    Pin,
    Unknown,
    Fault,
    Simulated,
}

pub(super) fn serialize<S: Serializer>(cause: &ResetCause, to: S) -> Result<S::Ok, S::Error> {
    match cause {
        ResetCause::PowerOn => Numbered::PowerOn,
        ResetCause::BrownOut => Numbered::BrownOut,
        ResetCause::Watchdog => Numbered::Watchdog,
        ResetCause::Panic => Numbered::Panic,
        ResetCause::HardFault => Numbered::HardFault,
        ResetCause::Asked => Numbered::Asked,
        ResetCause::Pin => Numbered::Pin,
        ResetCause::Unknown => Numbered::Unknown,
        ResetCause::Fault => Numbered::Fault,
        ResetCause::Simulated => Numbered::Simulated,
    }
    .serialize(to)
}

pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<ResetCause, D::Error> {
    Ok(match Numbered::deserialize(from)? {
        Numbered::PowerOn => ResetCause::PowerOn,
        Numbered::BrownOut => ResetCause::BrownOut,
        Numbered::Watchdog => ResetCause::Watchdog,
        Numbered::Panic => ResetCause::Panic,
        Numbered::HardFault => ResetCause::HardFault,
        Numbered::Asked => ResetCause::Asked,
        Numbered::Pin => ResetCause::Pin,
        Numbered::Unknown => ResetCause::Unknown,
        Numbered::Fault => ResetCause::Fault,
        Numbered::Simulated => ResetCause::Simulated,
    })
}
