//! The lift curves with the operating points of the run.

use super::recorder::{LiftTrace, ReportRecorder};
use crate::calibrate::NamedLift;
use crate::curve::{Levels, Mark, tabulate};
use crate::simulate::Outcome;
use serde::Serialize;

/// Airs of a curve.
const AIRS: usize = 61;

/// One lift's curve, columns of equal length in rising order of air.
#[derive(Debug, Default, Serialize)]
pub(super) struct CurveChart {
    pub title: String,
    /// Free air, L/min.
    pub air: Vec<f64>,
    /// Water by the curve that the controller was told, L/min.
    pub told: Vec<Option<f64>>,
    /// The same times the delivery factor learned by the end.
    pub learned: Vec<Option<f64>>,
    /// Water truly delivered, L/min.
    pub points: Vec<Option<f64>>,
    /// The factor.
    pub factor: f64,
    /// Air and water at the peak of the told curve, L/min.
    pub peak: Option<(f64, f64)>,
    /// The same of the onset.
    pub onset_air: Option<f64>,
}

/// Every lift's curve at the mean levels of the run.
pub(super) fn curves(kept: &ReportRecorder, outcome: &Outcome) -> Vec<CurveChart> {
    let named = NamedLift::all(&kept.scenario.told, &kept.scenario.lift_names);
    let lifts = named.iter().zip(&kept.lifts).zip(&outcome.lifts);
    lifts
        .map(|((lift, trace), outcome)| chart(kept, lift, trace, outcome.delivery_factor))
        .collect()
}

fn chart(kept: &ReportRecorder, lift: &NamedLift, trace: &LiftTrace, factor: f64) -> CurveChart {
    let levels = Levels {
        source_m: mean_level_m(kept, lift.lift.from),
        receiver_m: Some(mean_level_m(kept, lift.lift.to) + lift.floor_rise_m),
    };
    let most = trace.points.iter().map(|point| point.0).fold(0.0, f64::max);
    let table = |most| {
        tabulate(
            &lift.name,
            &lift.lift.riser,
            &lift.lift.calibration,
            &lift.conditions,
            levels,
            AIRS,
            most,
        )
    };
    let usual = table(None);
    // As far as the points go, if that is further than the curve is usually shown.
    let reach = usual.rows.last().map_or(0.0, |row| row.air_l_min);
    let table = if most > reach { table(Some(1.05 * most)) } else { usual };
    let mark = |mark| table.landmarks.iter().find(|landmark| landmark.mark == mark);
    let mut rows: Vec<(f64, Option<f64>, Option<f64>)> = table
        .rows
        .iter()
        .map(|row| (row.air_l_min, Some(row.water_l_min), None))
        .collect();
    rows.extend(trace.points.iter().map(|(air, water)| (*air, None, Some(*water))));
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    CurveChart {
        title: format!("Lift {}", lift.name),
        air: rows.iter().map(|row| round(row.0)).collect(),
        told: rows.iter().map(|row| row.1.map(round)).collect(),
        learned: rows
            .iter()
            .map(|row| row.1.map(|water| round(factor * water)))
            .collect(),
        points: rows.iter().map(|row| row.2.map(round)).collect(),
        factor: (1_000.0 * factor).round() / 1_000.0,
        peak: mark(Mark::Peak).map(|peak| (round(peak.at.air_l_min), round(peak.at.water_l_min))),
        onset_air: mark(Mark::Onset).map(|onset| round(onset.at.air_l_min)),
    }
}

fn mean_level_m(kept: &ReportRecorder, tank: u8) -> f64 {
    let rows = kept.tanks.get(usize::from(tank)).map(|tank| tank.level_rows.rows());
    let means: Vec<f64> = rows
        .unwrap_or_default()
        .iter()
        .filter_map(super::hourly::Cell::mean)
        .collect();
    #[allow(clippy::cast_precision_loss)] // a few rows
    let count = means.len().max(1) as f64;
    1e-3 * means.iter().sum::<f64>() / count
}

/// To a hundredth: finer than any screen.
fn round(value: f64) -> f64 {
    (100.0 * value).round() / 100.0
}
