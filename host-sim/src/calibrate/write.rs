//! The calibrated installation: the same file, with `calibration` set for a lift and everything else as it was.

use super::fit::Fitted;
use super::judge::Judgement;
pub use crate::scenario::WriteError;
use crate::scenario::{calibration_table, with_lift_key};
use toml_edit::Value;

/// The text of an installation or scenario file with the calibration of `lift` set. Comments, order and all other values stay.
///
/// # Errors
/// When the text is no TOML or names no such lift.
pub fn calibrated(text: &str, lift: &str, fitted: &Fitted, judgement: &Judgement) -> Result<String, WriteError> {
    let table = calibration_table(&fitted.calibration(judgement.widening));
    with_lift_key(text, lift, "calibration", Value::InlineTable(table))
}
