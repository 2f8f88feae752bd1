//! The new installation: the same file with what is proposed changed in it; comments, order and all other values stay.

use super::proposal::Proposal;
pub use crate::scenario::WriteError;
use crate::scenario::{calibration_table, digits, document, set};
use toml_edit::{Array, InlineTable, Item, Table, TableLike, Value};

/// The text of an installation or scenario file with the proposal in it.
///
/// # Errors
/// The text is no TOML, or not of this place.
pub fn written(text: &str, proposal: &Proposal) -> Result<String, WriteError> {
    let mut document = document(text)?;
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
        set(lift, "calibration", Value::InlineTable(calibration_table(calibration)));
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

/// A setting: whole where it is whole.
fn plain(value: f64) -> Value {
    #[allow(clippy::cast_possible_truncation)] // seconds
    if value.fract() == 0.0 && value.abs() < 1.0e6 {
        (value as i64).into()
    } else {
        digits(value, 4)
    }
}
