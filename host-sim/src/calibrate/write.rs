//! The calibrated installation: the same file, with `calibration` set for a lift and everything else as it was.

use super::curve_model::multipliers;
use super::fit::Fitted;
use super::judge::Judgement;
use std::fmt;
use toml_edit::{Array, DocumentMut, InlineTable, Item, Value};

/// Why an installation file could not be rewritten.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WriteError {
    /// The file is no TOML.
    Syntax(String),
    /// It has no lift of this name.
    NoSuchLift(String),
}

impl fmt::Display for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Syntax(why) => write!(f, "the installation file is not TOML: {why}"),
            Self::NoSuchLift(name) => write!(f, "the installation file has no lift \"{name}\""),
        }
    }
}

impl std::error::Error for WriteError {}

/// The text of an installation or scenario file with the calibration of `lift` set. Comments, order and all other values stay.
///
/// # Errors
/// When the text is no TOML or names no such lift.
pub fn calibrated(text: &str, lift: &str, fitted: &Fitted, judgement: &Judgement) -> Result<String, WriteError> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|error: toml_edit::TomlError| WriteError::Syntax(error.to_string()))?;
    let value = Item::Value(Value::InlineTable(table(fitted, judgement)));
    let named = |name: Option<&str>| name == Some(lift);
    match document.get_mut("lift") {
        Some(Item::ArrayOfTables(lifts)) => {
            let of_name = lifts
                .iter_mut()
                .find(|one| named(one.get("name").and_then(Item::as_str)));
            of_name
                .ok_or_else(|| WriteError::NoSuchLift(lift.to_owned()))?
                .insert("calibration", value);
        }
        Some(Item::Value(Value::Array(lifts))) => {
            let mut tables = lifts.iter_mut().filter_map(Value::as_inline_table_mut);
            let of_name = tables.find(|one| named(one.get("name").and_then(Value::as_str)));
            let one = of_name.ok_or_else(|| WriteError::NoSuchLift(lift.to_owned()))?;
            one.insert("calibration", Value::InlineTable(table(fitted, judgement)));
        }
        _ => return Err(WriteError::NoSuchLift(lift.to_owned())),
    }
    Ok(document.to_string())
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

/// A number rounded to so many significant digits.
fn digits(value: f64, digits: usize) -> Value {
    format!("{value:.*e}", digits.saturating_sub(1))
        .parse()
        .unwrap_or(value)
        .into()
}
