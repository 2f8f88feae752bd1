//! Why a simulation did not start or go on.

use super::control::ControlFailed;
use crate::plant::SpecError;
use risertrim::fault::Faults;
use std::fmt;

/// Longest run, hours: ten years.
pub(super) const MOST_HOURS: f64 = 87_600.0;

/// Why a simulation did not start or go on.
#[derive(Debug)]
pub enum SimulateError {
    /// The controller refuses the installation.
    Installation(Box<Faults>),
    /// The modelled installation cannot be built, or something on the timeline cannot happen to it.
    Plant(SpecError),
    /// The length of the run is not a number of hours above zero, or too long.
    Hours(f64),
    /// The controller refused a command or gave no answer.
    Control {
        /// When, s since the start.
        at_s: f64,
        /// Why.
        why: ControlFailed,
    },
    /// What was to be kept of the run could not be written.
    Record(std::io::Error),
}

impl SimulateError {
    /// True when other input would help, false when the run itself failed.
    #[must_use]
    pub fn is_bad_input(&self) -> bool {
        matches!(self, Self::Installation(_) | Self::Plant(_) | Self::Hours(_))
    }
}

impl fmt::Display for SimulateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Installation(faults) => {
                f.write_str("the controller cannot start with this installation:")?;
                for fault in faults.named().iter().filter(|fault| !fault.only_warns) {
                    write!(f, "\n  {fault}")?;
                }
                Ok(())
            }
            Self::Plant(error) => write!(f, "the modelled installation cannot be: {error}"),
            Self::Hours(hours) => write!(
                f,
                "cannot simulate {hours} hours: give a number above 0 and at most {}",
                MOST_HOURS
            ),
            Self::Control { at_s, why } => write!(f, "at {at_s:.0} s the controller failed: {why}"),
            Self::Record(error) => write!(f, "cannot write what was recorded: {error}"),
        }
    }
}

impl std::error::Error for SimulateError {}

impl From<SpecError> for SimulateError {
    fn from(error: SpecError) -> Self {
        Self::Plant(error)
    }
}

impl From<std::io::Error> for SimulateError {
    fn from(error: std::io::Error) -> Self {
        Self::Record(error)
    }
}
