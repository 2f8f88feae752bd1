//! Why a trial gave nothing, or nothing to be trusted, and what to do instead.

use serde::{Deserialize, Serialize};

/// Why a trial gave nothing, or nothing to be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Refusal {
    /// Another lift feeds or drains the same receiving tank.
    SharedTank,
    /// Not exactly one outlet works below the warning level.
    OutletUnclear,
    /// The air floor moves water: the lift cannot stand still.
    FloorMovesWater,
    /// The tank reaches its lower warning level before its outlet stops.
    NoRoomToDrain,
    /// The level never came to rest.
    NeverSteady,
    /// The outlet is not determined to 1.5 %: its head is too shallow for this sensor.
    TooUnsure,
    /// The level did not fall as any outlet of this kind would let it.
    DoesNotFit,
    /// Water went on coming in while the lift should have stood still.
    LiftRuns,
    /// Fewer than three openings could be tried.
    TooFewOpenings,
    /// A level came too near a limit.
    LevelLimit,
    /// A level reading was lost.
    SensorLost,
    /// Stopped by a command, by essential air, or for want of air.
    Stopped,
    /// The flows at the openings do not lie on one curve of a lift.
    NoOneCurve,
    /// The lift is by hand or out of service.
    NotAutomatic,
}

impl Refusal {
    /// What to tell people, and what to do instead.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::SharedTank => {
                "another lift uses the same tank: shut it by hand first, or measure this lift's flow with a bucket at three openings"
            }
            Self::OutletUnclear => {
                "more than one outlet runs at the working level: plug all but one, or measure the flow with a bucket"
            }
            Self::FloorMovesWater => {
                "the lift cannot stand still at its air floor: allow less air for half an hour, or measure with a bucket"
            }
            Self::NoRoomToDrain => {
                "the tank would fall below its low warning level before its outlet stops: lower that level, or measure with a bucket"
            }
            Self::NeverSteady => "the level never came to rest: stop what fills or empties the tank and try again",
            Self::TooUnsure => {
                "the head over the outlet is too shallow to read its flow from: measure the flow with a bucket, or fit a narrower notch"
            }
            Self::DoesNotFit => {
                "the level did not fall the way this outlet should let it: check its kind and size, and look for a second way out"
            }
            Self::LiftRuns => {
                "water went on coming in while the lift should have stood still: where no fish need its air, shut it by hand for half an hour and try again; else measure with a bucket"
            }
            Self::TooFewOpenings => {
                "fewer than three openings could be tried: open the level limits or the valve's range"
            }
            Self::LevelLimit => "a level came too near its limit: look at the tank, then try again",
            Self::SensorLost => "a level reading was lost: check the sensor and try again",
            Self::Stopped => "the trial was stopped",
            Self::NoOneCurve => {
                "the flows at the openings do not lie on one curve of a lift: look for a leaking air line or a riser that is not upright, or measure with a bucket at three openings"
            }
            Self::NotAutomatic => {
                "the lift is set by hand or out of service: give it back to the controller first, then ask again"
            }
        }
    }
}

impl core::fmt::Display for Refusal {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.text())
    }
}

impl core::error::Error for Refusal {}
