//! What a lift does, as far as a log tells it, and how far its water may be beside its curve meanwhile.

use super::layout::{FORM_FOR_S, FORM_NOW, TRICKLE_FOR_S};

/// Standard deviation of what a lift moves while it is in service with too little air by its told curve, share of its target: its true
/// onset may lie far below the told one, and on its way to service it runs through it.
const WAKING: f64 = 0.4;
/// Standard deviation when it has just begun to run (logarithm): its air is not yet that of its valve.
const BEGINNING: f64 = 0.3;
/// How long a waking lift stays as it is, s.
const WAKING_FOR_S: f64 = 60.0;

/// What a lift does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    /// Out of service.
    Out,
    /// In service, with too little air to deliver by its told curve.
    Wakes,
    /// It delivers.
    Runs,
}

impl Doing {
    /// Of a lift by whether it is in service, and the flow of its curve.
    #[must_use]
    pub fn of(serves: bool, curve_m3_s: f64) -> Self {
        match (serves, curve_m3_s > 0.0) {
            (false, _) => Self::Out,
            (true, false) => Self::Wakes,
            (true, true) => Self::Runs,
        }
    }

    /// Standard deviation of its water beside its curve at the beginning; `still` is that of a lift out of service.
    #[must_use]
    pub fn first(self, still: f64) -> f64 {
        match self {
            Self::Out => still,
            Self::Wakes => WAKING,
            Self::Runs => BEGINNING,
        }
    }

    /// The same later on, and how long it lasts, s.
    #[must_use]
    pub fn later(self, still: f64) -> (f64, f64) {
        match self {
            Self::Out => (still, TRICKLE_FOR_S),
            Self::Wakes => (WAKING, WAKING_FOR_S),
            Self::Runs => (FORM_NOW, FORM_FOR_S),
        }
    }
}
