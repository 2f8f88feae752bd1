//! Changes to an installation file that leave its comments, its order and all other values as they are.

use risertrim::lift::Calibration;
use std::fmt;
use toml_edit::{Array, DocumentMut, InlineTable, Item, TableLike, Value};

/// Why an installation file could not be rewritten.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WriteError {
    /// The file is no TOML.
    Syntax(String),
    /// It has no such part.
    Missing(String),
}

impl fmt::Display for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Syntax(why) => write!(f, "the installation file is not TOML: {why}"),
            Self::Missing(what) => write!(f, "the installation file has no {what}"),
        }
    }
}

impl std::error::Error for WriteError {}

/// The text of an installation or scenario file with one key of `lift` set.
///
/// # Errors
/// When the text is no TOML or names no such lift.
pub fn with_lift_key(text: &str, lift: &str, key: &str, value: Value) -> Result<String, WriteError> {
    let mut document = document(text)?;
    set(lift_of(&mut document, lift)?, key, value);
    Ok(document.to_string())
}

/// A file's text, to be changed.
///
/// # Errors
/// It is no TOML.
pub fn document(text: &str) -> Result<DocumentMut, WriteError> {
    text.parse()
        .map_err(|error: toml_edit::TomlError| WriteError::Syntax(error.to_string()))
}

/// The table of the lift of this name, written as `[[lift]]` or within an array.
fn lift_of<'a>(document: &'a mut DocumentMut, lift: &str) -> Result<&'a mut dyn TableLike, WriteError> {
    let missing = || WriteError::Missing(format!("lift \"{lift}\""));
    match document.get_mut("lift") {
        Some(Item::ArrayOfTables(lifts)) => lifts
            .iter_mut()
            .find(|one| one.get("name").and_then(Item::as_str) == Some(lift))
            .map(|table| table as &mut dyn TableLike)
            .ok_or_else(missing),
        Some(Item::Value(Value::Array(lifts))) => lifts
            .iter_mut()
            .filter_map(Value::as_inline_table_mut)
            .find(|one| one.get("name").and_then(Value::as_str) == Some(lift))
            .map(|table| table as &mut dyn TableLike)
            .ok_or_else(missing),
        _ => Err(missing()),
    }
}

/// Sets a key. A value that was there before leaves its comment behind.
pub fn set(table: &mut dyn TableLike, key: &str, mut value: Value) {
    if let Some(Item::Value(old)) = table.get_mut(key) {
        *value.decor_mut() = old.decor().clone();
        *old = value;
    } else {
        table.insert(key, Item::Value(value));
    }
}

/// A calibration as it stands in a file.
#[must_use]
pub fn calibration_table(calibration: &Calibration) -> InlineTable {
    let mut table = InlineTable::new();
    table.insert("losses", digits(calibration.losses.into(), 4));
    table.insert("slip", digits(calibration.slip.into(), 4));
    table.insert("air", digits(calibration.air.into(), 4));
    if let Some(fit) = calibration.fit {
        let mut covariance = Array::new();
        covariance.extend(fit.covariance.map(|value| digits(value.into(), 5)));
        table.insert("covariance", Value::Array(covariance));
        table.insert("air_low_l_min", digits(60_000.0 * f64::from(fit.air_low_m3_s), 4));
        table.insert("air_high_l_min", digits(60_000.0 * f64::from(fit.air_high_m3_s), 4));
    }
    table
}

/// A number rounded to so many significant digits.
#[must_use]
pub fn digits(value: f64, digits: usize) -> Value {
    format!("{value:.*e}", digits.saturating_sub(1))
        .parse()
        .unwrap_or(value)
        .into()
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str =
        "# a place\n[[lift]]\nname = \"fry\" # small\nair_floor_l_min = 1 # by hand\n\n[[lift]]\nname = \"beds\"\n";

    #[test]
    fn a_key_is_set_and_every_comment_stays() {
        let text = with_lift_key(FILE, "fry", "air_floor_l_min", digits(2.345_6, 3)).expect("it is there");
        assert_eq!(text, FILE.replace("= 1 #", "= 2.35 #"));
    }

    #[test]
    fn a_key_that_was_not_there_is_added_to_its_lift_alone() {
        let text = with_lift_key(FILE, "beds", "air_floor_l_min", 9.into()).expect("it is there");
        assert_eq!(text, format!("{FILE}air_floor_l_min = 9\n"));
        let inline = with_lift_key("lift = [{ name = \"fry\" }]\n", "fry", "priority", 2.into()).expect("it is there");
        let parsed: toml_edit::DocumentMut = inline.parse().expect("TOML");
        assert_eq!(parsed["lift"][0]["priority"].as_integer(), Some(2), "{inline}");
    }

    #[test]
    fn a_lift_that_is_not_there_and_no_toml_are_told() {
        let value = || Value::from(1);
        assert_eq!(
            with_lift_key(FILE, "cod", "priority", value()),
            Err(WriteError::Missing("lift \"cod\"".to_owned()))
        );
        assert!(matches!(
            with_lift_key("[[lift", "cod", "priority", value()),
            Err(WriteError::Syntax(_))
        ));
    }
}
