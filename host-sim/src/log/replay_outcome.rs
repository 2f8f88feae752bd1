//! What came of a replay: how often it decided the same, where not, and what could not be compared.

use super::difference::{Difference, Field};
use std::collections::BTreeMap;

/// Why a replay cannot be exact, with the time of the log at which it ceased to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Exactness {
    /// Time of records since the beginning of the log, s.
    pub time_s: f64,
    /// Why.
    pub why: String,
}

/// Why a logged step was compared with nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Uncompared {
    /// The readings it was made from are in the log only as a mean with others (plan *sparing*).
    MeansOnly,
    /// Readings of steps before it were never logged (plan *on change*): the replay knows less than the controller knew.
    ReadingsThinned,
    /// Its own readings are not in the log.
    NoReadings,
    /// No controller could be started: the installation is missing or refused.
    NoController,
}

impl std::fmt::Display for Uncompared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::MeansOnly => "their readings are in the log only as means over several steps",
            Self::ReadingsThinned => {
                "readings of steps before them were not logged, as the log keeps only what changed"
            }
            Self::NoReadings => "their own readings are not in the log",
            Self::NoController => "no controller could be started: its installation is missing or refused",
        })
    }
}

/// How one field differs over a whole log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldOutcome {
    /// Steps in which it differs.
    pub steps: u64,
    /// When it first does, s.
    pub first_s: f64,
    /// The first difference.
    pub first: Difference,
    /// The widest difference: when, s, and which. Of what is no number, the first.
    pub widest: (f64, Difference),
    /// Sum of the squares of the differences, in the record's unit squared.
    pub(super) squares: f64,
}

impl FieldOutcome {
    /// Root of the mean square of the difference over the steps in which it differs, in the record's unit.
    #[must_use]
    pub fn rms(&self) -> f64 {
        #[allow(clippy::cast_precision_loss)]
        let steps = self.steps as f64;
        (self.squares / steps).sqrt()
    }
}

/// What came of a replay.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReplayOutcome {
    /// Steps made.
    pub steps: u64,
    /// Logged steps they were compared with.
    pub compared: u64,
    /// Of these, equal in every bit.
    pub equal: u64,
    /// Starts of the controller.
    pub starts: u32,
    /// Firmware that wrote the log, in order of appearance.
    pub firmware: Vec<String>,
    /// Every field that differs.
    pub fields: BTreeMap<Field, FieldOutcome>,
    /// The differences of the first step that differs, causes first.
    pub first: Vec<Difference>,
    /// Time of that step, s.
    pub first_s: f64,
    /// Commands that were taken then and are refused now, or the other way round: when, s, and which.
    pub commands: Vec<(f64, String)>,
    /// Why it cannot be exact.
    pub inexact: Vec<Exactness>,
    /// Reasons that were not kept.
    pub more_inexact: u64,
    /// Logged steps that nothing could be compared with, by why.
    pub uncompared: BTreeMap<Uncompared, u64>,
    /// Time of records, s.
    pub span_s: f64,
}

impl ReplayOutcome {
    /// True when there are logged steps, each was compared, and each is equal in every bit.
    #[must_use]
    pub fn is_equal(&self) -> bool {
        self.compared > 0 && self.what_was_compared_is_equal() && self.uncompared_steps() == 0
    }

    /// True when nothing that was compared differs. It says nothing of steps that could not be compared.
    #[must_use]
    pub fn what_was_compared_is_equal(&self) -> bool {
        self.equal == self.compared && self.commands.is_empty()
    }

    /// Logged steps that nothing could be compared with.
    #[must_use]
    pub fn uncompared_steps(&self) -> u64 {
        self.uncompared.values().sum()
    }
}
