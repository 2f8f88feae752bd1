//! What a fault is, and what is promised about it.

use super::site::Site;
use crate::scenario::{Happening, Scenario};

/// What is done, and how long after the fault's onset, s.
pub type Actions = Vec<(f64, Happening)>;

/// What the parts of a fault are made from.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'s> {
    /// The place.
    pub scenario: &'s Scenario,
    /// Where the fault strikes.
    pub site: Site,
}

/// Which part an alarm must be about to count as naming a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// The lift or the tank it fills.
    Lift,
    /// The tank it draws from, or any lift.
    Source,
    /// Anything.
    Anywhere,
}

/// How a fault becomes known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Naming {
    /// An alarm of one of these kinds names it.
    By {
        /// Short names of the kinds.
        kinds: &'static [&'static str],
        /// Within this time of its onset, s.
        within_s: f64,
    },
    /// An alarm of one of these kinds names the group it belongs to.
    Group {
        /// Short names of the kinds.
        kinds: &'static [&'static str],
        /// Within this time of its onset, s.
        within_s: f64,
        /// What else it could be with these readings.
        members: &'static str,
        /// The reading that would tell.
        reading: &'static str,
    },
    /// Nothing of it shows in these readings, or nobody needs to be told.
    Silent {
        /// Why, and the reading that would show it if there is one.
        why: &'static str,
    },
}

impl Naming {
    /// Short names of the kinds that count; none when it stays silent.
    #[must_use]
    pub fn kinds(&self) -> &'static [&'static str] {
        match self {
            Self::By { kinds, .. } | Self::Group { kinds, .. } => kinds,
            Self::Silent { .. } => &[],
        }
    }

    /// Time allowed, s.
    #[must_use]
    pub fn within_s(&self) -> Option<f64> {
        match self {
            Self::By { within_s, .. } | Self::Group { within_s, .. } => Some(*within_s),
            Self::Silent { .. } => None,
        }
    }
}

/// A fault: how it begins and ends, and what is promised about it.
#[derive(Clone, Copy)]
pub struct Fault {
    /// Its name, in words.
    pub name: &'static str,
    /// How long it lasts, s.
    pub lasts_s: f64,
    /// How it begins; empty where the place has no such part.
    pub begins: fn(&Scene<'_>) -> Actions,
    /// How it is put right, counted from its end.
    pub ends: fn(&Scene<'_>) -> Actions,
    /// The part that alarms must be about.
    pub at: At,
    /// How it becomes known.
    pub naming: Naming,
    /// The lifts are back on target this long after it was put right, s.
    pub back_within_s: f64,
    /// Bumps count from here on, s after it was put right: a valve that stood open without power needs its stroke.
    pub bump_after_s: f64,
}

impl std::fmt::Debug for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Fault")
            .field("name", &self.name)
            .finish_non_exhaustive()
    }
}
