//! What people and other programs can ask of a running controller.

use crate::commission::Refusal;
use crate::units::{Opening, WaterFlow};
use serde::{Deserialize, Serialize};

/// A run-time command.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Command {
    /// Deliver this flow from now on (approached at the ramp of the settings), also after an exchange of the installation, unless
    /// that tells another target for this lift than the one before.
    Target {
        /// Lift index.
        lift: u8,
        /// New target, zero or more.
        flow: WaterFlow,
    },
    /// Set the valve to this opening and leave it there, also while no level can be read or another lift is measured. What the
    /// lift delivers is still learned. Three things go before it as long as they last: a tank that is too full or too empty holds
    /// the lift, essential air takes it to its air floor, and a backup that would not last takes its air.
    Manual {
        /// Lift index.
        lift: u8,
        /// Opening.
        opening: Opening,
    },
    /// Trim the lift to its target again, without a bump.
    Automatic {
        /// Lift index.
        lift: u8,
    },
    /// Take the lift out of service, as when a person shuts it for cleaning. Its valve goes to the air floor, below the onset:
    /// it moves no water, and when its hand valve is opened again air flows at once. What it has learned is kept as it is. (To
    /// close the valve itself, use [`Command::Manual`]; the least opening of the settings holds there too.)
    OutOfService {
        /// Lift index.
        lift: u8,
    },
    /// Measure the outlet law and the curve of this lift from levels alone (see [`crate::commission`]). Lifts asked for
    /// while one is measured follow in order.
    Commission {
        /// Lift index.
        lift: u8,
    },
    /// Go to essential air (true) or back (false): every lift on its air floor, fish first.
    EssentialAir(bool),
    /// The mains is gone and the blower runs on a backup (true), or the mains is back (false). Essential air until then; lifts
    /// without fish give up their air where the energy would not last as long as wanted.
    OnBackup(bool),
    /// Somebody has seen every alarm that stands.
    Acknowledge,
    /// Takes latched alarms off the list that are over.
    ResetLatched,
    /// Silences the alarms that stand for some minutes, at most [`crate::alarm::LONGEST_SILENCE_MIN`].
    Silence {
        /// Minutes; 0 ends a silence.
        minutes: u8,
    },
}

/// Why a command was not taken. Nothing changes when one is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Refused {
    /// There is no lift with this index.
    NoSuchLift,
    /// A trial of this lift is not possible in this layout.
    NotPossible(Refusal),
    /// The target is not a number, negative, or above [`MOST_TARGET_L_MIN`].
    TargetOutOfRange,
    /// The target is far more than this lift can move at its peak: [`MOST_OF_PEAK`] times and more.
    TargetBeyondLift,
    /// A silence longer than allowed.
    SilenceTooLong,
}

/// Largest target taken, L/min.
pub const MOST_TARGET_L_MIN: f32 = 20_000.0;

/// A target beyond this many times the peak of the lift's curve is a slip of the finger, not a wish: it is refused. Real lifts were
/// seen to move up to 1.5 times what their curve says before calibration.
pub const MOST_OF_PEAK: f32 = 2.0;

impl core::fmt::Display for Refused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::NoSuchLift => "there is no lift with this number",
            Self::NotPossible(why) => why.text(),
            Self::TargetOutOfRange => "a target is a number of L/min from 0 to 20 000",
            Self::TargetBeyondLift => "this lift cannot move half of that target at any air",
            Self::SilenceTooLong => "alarms can be silenced for at most 240 minutes at a time",
        })
    }
}

impl core::error::Error for Refused {}
