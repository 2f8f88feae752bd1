//! What a lift does, as far as a log tells it, and how far its water may be beside its curve meanwhile.

use super::layout::{FORM_FOR_S, FORM_NOW, TRICKLE_FOR_S};

/// Standard deviation of what a lift moves while it is in service with too little air by its told curve, share of its target: its true
/// onset may lie far below the told one, and on its way to service it runs through it.
const WAKING: f64 = 0.4;
/// Standard deviation when it has just begun to run (logarithm): its air is not yet that of its valve.
const BEGINNING: f64 = 0.3;
/// How long a waking lift stays as it is, s.
const WAKING_FOR_S: f64 = 60.0;

/// Whether a lift serves.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Service {
    /// Shut: by its hand valve too, as a rule.
    #[default]
    Out,
    /// It stands still by its air valve, to be measured: next to nothing flows, but it takes the valve's way to begin.
    Measured,
    /// It is to deliver.
    Serves,
}

/// What a lift does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    /// Out of service.
    Out,
    /// Standing still to be measured.
    Measured,
    /// In service, with too little air to deliver by its told curve.
    Wakes,
    /// It delivers.
    Runs,
}

impl Doing {
    /// Of a lift by whether it serves, and the flow of its curve.
    #[must_use]
    pub fn of(service: Service, curve_m3_s: f64) -> Self {
        match (service, curve_m3_s > 0.0) {
            (Service::Out, _) => Self::Out,
            (Service::Measured, _) => Self::Measured,
            (Service::Serves, false) => Self::Wakes,
            (Service::Serves, true) => Self::Runs,
        }
    }

    /// Standard deviation of its water beside its curve at the beginning; `still` is that of a lift out of service, and of one
    /// that stands still to be measured.
    #[must_use]
    pub fn first(self, still: (f64, f64)) -> f64 {
        match self {
            Self::Out => still.0,
            Self::Measured => still.1,
            Self::Wakes => WAKING,
            Self::Runs => BEGINNING,
        }
    }

    /// The same later on, and how long it lasts, s.
    #[must_use]
    pub fn later(self, still: (f64, f64)) -> (f64, f64) {
        match self {
            Self::Out => (still.0, TRICKLE_FOR_S),
            Self::Measured => (still.1, TRICKLE_FOR_S),
            Self::Wakes => (WAKING, WAKING_FOR_S),
            Self::Runs => (FORM_NOW, FORM_FOR_S),
        }
    }
}
