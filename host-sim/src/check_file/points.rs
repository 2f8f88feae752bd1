//! Measured points in words.

use super::{Sound, Unsound};
use crate::calibrate::{NamedLift, Point, read_points};

/// Litres a minute in one m3/s.
const L_MIN: f64 = 60_000.0;

/// Checks a points file against the lifts of its place.
pub(super) fn check(name: &str, text: &str, lifts: &[NamedLift]) -> Result<Sound, Unsound> {
    let only = (lifts.len() == 1).then_some(0);
    let read = read_points(name, text, lifts, only).map_err(|report| {
        let report = report.to_string();
        Unsound::Faults(report.replacen(", nothing was calibrated", "", 1))
    })?;
    let measured = lifts.iter().zip(&read.of_lift).filter(|(_, points)| !points.is_empty());
    Ok(Sound {
        kind: "measured points of lifts",
        words: measured.map(|(lift, points)| words(&lift.name, points)).collect(),
        warnings: read.warnings.iter().map(ToString::to_string).collect(),
    })
}

fn words(lift: &str, points: &[Point]) -> String {
    let ends = |of: fn(&Point) -> f64| {
        let values = points.iter().map(of);
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let (air, water) = (ends(|point| point.air_m3_s), ends(|point| point.flow_m3_s));
    let enough = if points.len() < 3 {
        "; three or more, well apart, tell more than the height of its curve"
    } else {
        ""
    };
    format!(
        "Lift {lift}: {} point{} from {:.1} to {:.1} L/min of free air, {:.1} to {:.1} L/min of water{enough}.",
        points.len(),
        if points.len() == 1 { "" } else { "s" },
        L_MIN * air.0,
        L_MIN * air.1,
        L_MIN * water.0,
        L_MIN * water.1
    )
}
