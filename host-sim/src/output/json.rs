//! The outcome as one JSON object.

use crate::simulate::Outcome;

/// The outcome as one JSON object, for programs. Fields and units are those of [`Outcome`].
///
/// # Errors
/// Does not happen for an outcome of a run.
pub fn json(outcome: &Outcome) -> Result<String, serde_json::Error> {
    serde_json::to_string_pretty(outcome)
}
