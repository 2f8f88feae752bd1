//! The new installation: the same file with what is proposed changed in it; comments, order and all other values stay.

use super::proposal::Proposal;
use std::fmt;
use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, TableLike, Value};

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

/// The text of an installation or scenario file with the proposal in it.
///
/// # Errors
/// The text is no TOML, or not of this place.
pub fn written(text: &str, proposal: &Proposal) -> Result<String, WriteError> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|error: toml_edit::TomlError| WriteError::Syntax(error.to_string()))?;
    let place = &proposal.installation;
    for index in &proposal.tanks {
        let told = &place.tanks[*index];
        let tank = item(document.get_mut("tank"), *index).ok_or_else(|| missing("tank", *index))?;
        for (number, outlet) in told.outlets.iter().enumerate() {
            let of = item(tank.get_mut("outlet"), number).ok_or_else(|| missing("outlet", number))?;
            set(of, "coefficient", digits(outlet.coefficient.into(), 4));
        }
        if tank.contains_key("area_m2") {
            let area = told.area.first().map_or(1.0, |point| f64::from(point.area_m2));
            set(tank, "area_m2", digits(area, 4));
        } else if tank.contains_key("area_m2_at_mm") {
            let mut points = Array::new();
            for point in &told.area {
                let mut pair = Array::new();
                pair.push(digits(1000.0 * f64::from(point.level_m), 6));
                pair.push(digits(point.area_m2.into(), 4));
                points.push(pair);
            }
            set(tank, "area_m2_at_mm", Value::Array(points));
        }
        let zero_mm = 1000.0 * f64::from(told.sensor.zero_m);
        set(sensor(tank).ok_or_else(no_sensor)?, "zero_mm", digits(zero_mm, 3));
    }
    for index in &proposal.noises {
        let tank = item(document.get_mut("tank"), *index).ok_or_else(|| missing("tank", *index))?;
        let noise_mm = 1000.0 * f64::from(place.tanks[*index].sensor.noise_m);
        set(sensor(tank).ok_or_else(no_sensor)?, "noise_mm", digits(noise_mm, 3));
    }
    for index in &proposal.curves {
        let lift = item(document.get_mut("lift"), *index).ok_or_else(|| missing("lift", *index))?;
        let calibration = &place.lifts[*index].calibration;
        set(lift, "calibration", Value::InlineTable(table(calibration)));
    }
    if !proposal.settings.is_empty() {
        if !document.contains_table("control") && document.get("control").is_none() {
            document.insert("control", Item::Table(Table::new()));
        }
        let control = document
            .get_mut("control")
            .and_then(Item::as_table_like_mut)
            .ok_or_else(|| WriteError::Missing("[control]".to_owned()))?;
        for change in &proposal.settings {
            set(control, &change.key, plain(change.after));
        }
    }
    Ok(document.to_string())
}

fn no_sensor() -> WriteError {
    WriteError::Missing("sensor that is a table".to_owned())
}

fn missing(what: &str, index: usize) -> WriteError {
    WriteError::Missing(format!("{what} {}", index + 1))
}

/// The table at a place of a list of tables, however the list is written.
fn item(list: Option<&mut Item>, index: usize) -> Option<&mut dyn TableLike> {
    match list? {
        Item::ArrayOfTables(tables) => tables.get_mut(index).map(|table| table as &mut dyn TableLike),
        Item::Value(Value::Array(values)) => values
            .get_mut(index)
            .and_then(Value::as_inline_table_mut)
            .map(|table| table as &mut dyn TableLike),
        _ => None,
    }
}

/// The sensor of a tank, begun if there is none; `None` when what stands there is no table.
fn sensor(tank: &mut dyn TableLike) -> Option<&mut dyn TableLike> {
    let begun = || Item::Value(Value::InlineTable(InlineTable::new()));
    tank.entry("sensor").or_insert_with(begun).as_table_like_mut()
}

/// Sets a value and keeps what stands around it.
fn set(table: &mut dyn TableLike, key: &str, value: Value) {
    match table.get_mut(key) {
        Some(Item::Value(old)) => {
            let decor = old.decor().clone();
            *old = value;
            *old.decor_mut() = decor;
        }
        _ => {
            table.insert(key, Item::Value(value));
        }
    }
}

fn table(calibration: &risertrim::lift::Calibration) -> InlineTable {
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

/// A setting: whole where it is whole.
fn plain(value: f64) -> Value {
    #[allow(clippy::cast_possible_truncation)] // seconds
    if value.fract() == 0.0 && value.abs() < 1.0e6 {
        (value as i64).into()
    } else {
        digits(value, 4)
    }
}

/// A number rounded to so many significant digits.
fn digits(value: f64, digits: usize) -> Value {
    format!("{value:.*e}", digits.saturating_sub(1))
        .parse()
        .unwrap_or(value)
        .into()
}
