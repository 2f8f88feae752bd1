//! Why a command did not do what was asked, and the exit code for it.

use risertrim_sim::simulate::SimulateError;
use std::fmt;
use std::process::ExitCode;

/// Why a command did not do what was asked.
#[derive(Debug)]
pub enum Failure {
    /// The scenario or the arguments: other input would help.
    BadInput(String),
    /// Something failed that was asked for rightly.
    Internal(String),
}

impl Failure {
    /// 2 for bad input, 1 otherwise.
    pub fn exit_code(&self) -> ExitCode {
        ExitCode::from(match self {
            Self::BadInput(_) => 2,
            Self::Internal(_) => 1,
        })
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadInput(text) | Self::Internal(text) => f.write_str(text.trim_end()),
        }
    }
}

impl From<SimulateError> for Failure {
    fn from(error: SimulateError) -> Self {
        if error.is_bad_input() {
            Self::BadInput(error.to_string())
        } else {
            Self::Internal(error.to_string())
        }
    }
}
