//! The calibrated installation: the same file, with `calibration` set for a lift and everything else as it was.

use super::curve_model::multipliers;
use super::fit::Fitted;
use super::judge::Judgement;
pub use crate::scenario::WriteError;
use crate::scenario::{digits, with_lift_key};
use toml_edit::{Array, InlineTable, Value};

/// The text of an installation or scenario file with the calibration of `lift` set. Comments, order and all other values stay.
///
/// # Errors
/// When the text is no TOML or names no such lift.
pub fn calibrated(text: &str, lift: &str, fitted: &Fitted, judgement: &Judgement) -> Result<String, WriteError> {
    with_lift_key(text, lift, "calibration", Value::InlineTable(table(fitted, judgement)))
}

fn table(fitted: &Fitted, judgement: &Judgement) -> InlineTable {
    let of = multipliers(&fitted.logs);
    let mut table = InlineTable::new();
    table.insert("losses", digits(of.losses.into(), 4));
    table.insert("slip", digits(of.slip.into(), 4));
    table.insert("air", digits(of.air.into(), 4));
    let mut covariance = Array::new();
    if let Some(fit) = fitted.calibration(judgement.widening).fit {
        covariance.extend(fit.covariance.map(|value| digits(value.into(), 5)));
    }
    table.insert("covariance", Value::Array(covariance));
    table.insert("air_low_l_min", digits(60_000.0 * fitted.air_range_m3_s.0, 4));
    table.insert("air_high_l_min", digits(60_000.0 * fitted.air_range_m3_s.1, 4));
    table
}
