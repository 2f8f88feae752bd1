//! The two ways of a stepper's motor.

/// Which way the motor turns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    Opening,
    Shutting,
}

impl Way {
    pub(super) fn back(self) -> Self {
        match self {
            Self::Opening => Self::Shutting,
            Self::Shutting => Self::Opening,
        }
    }
}
