//! A step of the controller against the same work done by general-purpose libraries.

use super::filter_work::{Dense, Own, Told};
use crate::scenario::Scenario;
use crate::simulate::{HostController, HostReadings, SimulateError, Simulation};
use serde::Serialize;
use std::hint::black_box;
use std::time::Instant;

/// Steps whose readings are kept and gone through again.
const STEPS: usize = 3000;
/// Lifts and tanks of the filter that is timed, and both.
const L: usize = 8;
const T: usize = 9;
const N: usize = T + L;

/// One line of the table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpeedRow {
    /// What.
    pub what: String,
    /// Time of one step, ns.
    pub step_ns: f64,
}

/// Times what is there. The least of five rounds counts: whatever else runs on the machine only adds.
///
/// # Errors
/// The scenario cannot run.
pub fn speed(scenario: &Scenario) -> Result<Vec<SpeedRow>, SimulateError> {
    let mut simulation = Simulation::new(scenario, scenario.seed)?;
    let mut readings: Vec<HostReadings> = Vec::with_capacity(STEPS);
    for _ in 0..STEPS {
        readings.push(simulation.step()?.readings.clone());
    }
    let mut rows = Vec::new();
    let fresh = Simulation::controller(scenario)?;
    let (tanks, lifts) = (scenario.told.tanks.len(), scenario.told.lifts.len());
    let mut time = |what: String, mut round: Box<dyn FnMut() + '_>| {
        let least = (0..5).map(|_| {
            let start = Instant::now();
            round();
            start.elapsed().as_secs_f64()
        });
        #[allow(clippy::cast_precision_loss)]
        let step_ns = 1e9 * least.fold(f64::INFINITY, f64::min) / STEPS as f64;
        rows.push(SpeedRow { what, step_ns });
    };
    time(
        format!("whole step of the controller, {lifts} lifts, {tanks} tanks"),
        Box::new(|| {
            let mut controller = fresh.clone();
            for readings in &readings {
                black_box(HostController::step(&mut controller, black_box(readings)));
            }
        }),
    );
    time(
        format!("its filter alone, {L} lifts, {T} tanks"),
        Box::new(|| {
            let mut filter = Own::<L, T>::new();
            (0..STEPS).for_each(|_| filter.step());
        }),
    );
    time(
        format!("the same filter on nalgebra, {N} states"),
        Box::new(|| {
            let mut filter = Dense::<T, N>::new();
            (0..STEPS).for_each(|_| filter.step());
        }),
    );
    time(
        format!("{L} PI controllers of the pid crate, flow given"),
        Box::new(|| {
            let mut controllers = Told::<L>::new();
            (0..STEPS).for_each(|_| controllers.step());
        }),
    );
    Ok(rows)
}
