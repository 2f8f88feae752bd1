//! A step of the controller against the same work done by general-purpose libraries.

use crate::scenario::{LIFTS, Scenario, TANKS};
use crate::simulate::{HostController, HostReadings, SimulateError, Simulation};
use nalgebra::{SMatrix, SVector};
use pid::Pid;
use risertrim::estimate::{Balance, Filter, LevelInput, LiftInput, OutletInput, TankInput};
use serde::Serialize;
use std::hint::black_box;
use std::time::Instant;

/// Steps whose readings are kept and gone through again.
const STEPS: usize = 3000;
/// Tanks and lifts of the filter that is timed, and both.
const T: usize = 9;
const L: usize = 8;
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
    time(format!("its filter alone, {L} lifts, {T} tanks"), Box::new(own_filter));
    time(
        format!("the same filter on nalgebra, {N} states"),
        Box::new(dense_filter),
    );
    time(
        format!("{L} PI controllers of the pid crate, flow given"),
        Box::new(controllers),
    );
    Ok(rows)
}

/// One lift into each tank but the sump, each of which drains into the sump.
fn own_filter() {
    let mut filter = Filter::<LIFTS, TANKS>::new(L, T, 0.3);
    let tanks = [TankInput {
        area_m2: 1.0,
        most_m: 1.0,
        unseen_m3_s: 2e-5,
    }; T];
    let readings: Vec<LevelInput> = (0..T)
        .map(|tank| LevelInput {
            tank,
            level_m: 0.6,
            variance_m2: 1.1e-6,
        })
        .collect();
    for tank in 0..T {
        filter.restart_level(tank, 0.6, 0.001);
    }
    for _ in 0..STEPS {
        let mut balance = Balance::still();
        for lift in 0..L {
            balance.outlet(&OutletInput {
                from: lift + 1,
                to: Some(0),
                flow_m3_s: 2e-3,
                per_level: 0.06,
                per_downstream: 0.0,
            });
            let input = LiftInput {
                from: 0,
                to: lift + 1,
                curve_m3_s: 2e-3,
                per_source: 0.01,
                per_receiver: 0.0,
            };
            balance.lift(lift, filter.factor(lift), &input);
        }
        filter.predict(1.0, &balance, &tanks);
        for lift in 0..L {
            filter.doubt(lift, 9e-8);
        }
        filter.update(black_box(&readings));
    }
    black_box(&filter);
}

/// The same states and readings, as a textbook writes them: `F P F' + Q`, then one reading after the other in Joseph's form.
fn dense_filter() {
    let mut f = SMatrix::<f32, N, N>::identity();
    for lift in 0..L {
        let tank = lift + 1;
        f[(tank, tank)] = 0.94;
        f[(0, tank)] = 0.06;
        f[(0, 0)] -= 0.01;
        f[(tank, 0)] = 0.01;
        f[(tank, T + lift)] = 2e-3;
        f[(0, T + lift)] = -2e-3;
    }
    let mut q = SMatrix::<f32, N, N>::zeros();
    for state in 0..N {
        q[(state, state)] = if state < T { 4e-10 } else { 9e-8 };
    }
    let mut p = SMatrix::<f32, N, N>::identity() * 1e-2;
    let mut x = SVector::<f32, N>::from_element(0.6);
    for _ in 0..STEPS {
        x = f * x;
        p = f * p * f.transpose() + q;
        for tank in 0..T {
            let gain: SVector<f32, N> = p.column(tank) / (p[(tank, tank)] + 1.1e-6);
            x += gain * (black_box(0.6) - x[tank]);
            let mut keep = SMatrix::<f32, N, N>::identity();
            let column = keep.column(tank) - gain;
            keep.set_column(tank, &column);
            p = keep * p * keep.transpose() + gain * gain.transpose() * 1.1e-6;
        }
    }
    black_box(&p);
}

fn controllers() {
    let mut pids = [Pid::<f32>::new(2e-3, 1.0); L];
    for pid in &mut pids {
        pid.p(100.0, 1.0).i(2.0, 1.0);
    }
    for _ in 0..STEPS {
        for pid in &mut pids {
            black_box(pid.next_control_output(black_box(1.9e-3)));
        }
    }
}
