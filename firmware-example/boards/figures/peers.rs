//! What the same work costs with general-purpose libraries, on the same machine: a filter of the same size on nalgebra as a
//! textbook writes it, and plain PI controllers that are given the flow which the filter has to find.

use super::{LIFTS, PER_TICK, TANKS, ticks};
use core::hint::black_box;
use cortex_m::peripheral::SYST;
use nalgebra::{SMatrix, SVector};
use pid::Pid;
use risertrim::estimate::{Balance, Filter, LevelInput, LiftInput, OutletInput, TankInput};

/// Levels and factors.
const STATES: usize = TANKS + LIFTS;
/// Steps that the mean is taken over.
const STEPS: u32 = 100;
/// Variance of a level reading, m2.
const READING_M2: f32 = 1.1e-6;

/// Mean number of instructions of one step.
fn mean(mut step: impl FnMut()) -> u32 {
    let mut sum = 0u32;
    for _ in 0..STEPS {
        let before = SYST::get_current();
        step();
        sum += ticks(before);
    }
    sum * PER_TICK / STEPS
}

/// Our filter: one lift into each tank but the sump, each of which drains into the sump.
#[inline(never)]
pub fn own_filter() -> u32 {
    let mut filter = Filter::<LIFTS, TANKS>::new(LIFTS, TANKS, 0.3);
    let tanks = [TankInput {
        area_m2: 1.0,
        most_m: 1.0,
        unseen_m3_s: 2e-5,
    }; TANKS];
    let mut tank = 0;
    let readings = [(); TANKS].map(|()| {
        let reading = LevelInput {
            tank,
            level_m: 0.6,
            variance_m2: READING_M2,
        };
        tank += 1;
        reading
    });
    for tank in 0..TANKS {
        filter.restart_level(tank, 0.6, 0.001);
    }
    mean(|| {
        let mut balance = Balance::still();
        for lift in 0..LIFTS {
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
        for lift in 0..LIFTS {
            filter.doubt(lift, 9e-8);
        }
        filter.update(black_box(&readings));
        black_box(&filter);
    })
}

/// The same states and readings: `F P F' + Q`, then one reading after the other in Joseph's form.
#[inline(never)]
pub fn dense_filter() -> u32 {
    let mut f = SMatrix::<f32, STATES, STATES>::identity();
    for lift in 0..LIFTS {
        let tank = lift + 1;
        f[(tank, tank)] = 0.94;
        f[(0, tank)] = 0.06;
        f[(0, 0)] -= 0.01;
        f[(tank, 0)] = 0.01;
        f[(tank, TANKS + lift)] = 2e-3;
        f[(0, TANKS + lift)] = -2e-3;
    }
    let mut q = SMatrix::<f32, STATES, STATES>::zeros();
    for state in 0..STATES {
        q[(state, state)] = if state < TANKS { 4e-10 } else { 9e-8 };
    }
    let mut p = SMatrix::<f32, STATES, STATES>::identity() * 1e-2;
    let mut x = SVector::<f32, STATES>::from_element(0.6);
    mean(|| {
        x = f * x;
        p = f * p * f.transpose() + q;
        for tank in 0..TANKS {
            let gain: SVector<f32, STATES> = p.column(tank) / (p[(tank, tank)] + READING_M2);
            x += gain * (black_box(0.6) - x[tank]);
            let mut keep = SMatrix::<f32, STATES, STATES>::identity();
            let column = keep.column(tank) - gain;
            keep.set_column(tank, &column);
            p = keep * p * keep.transpose() + gain * gain.transpose() * READING_M2;
        }
        black_box((&x, &p));
    })
}

/// A PI controller a lift.
#[inline(never)]
pub fn controllers() -> u32 {
    let mut pids = [(); LIFTS].map(|()| {
        let mut pid = Pid::<f32>::new(2e-3, 1.0);
        pid.p(100.0, 1.0).i(2.0, 1.0);
        pid
    });
    mean(|| {
        for pid in &mut pids {
            black_box(pid.next_control_output(black_box(1.9e-3)));
        }
    })
}
