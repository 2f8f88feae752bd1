//! What one step of the filter is, and the same step as a textbook writes it on nalgebra, for any number of lifts: one lift into each
//! tank but the first, into which each of the others drains.
//!
//! The firmware's figures compile this very file too and count its instructions, so it needs the core library alone.

use core::hint::black_box;
use nalgebra::{SMatrix, SVector};
use pid::Pid;
use risertrim::estimate::{Balance, Filter, LevelInput, LiftInput, OutletInput, TankInput};

/// Where every level stands, m.
const LEVEL_M: f32 = 0.6;
/// Variance of a level reading, m2.
const READING_M2: f32 = 1.1e-6;
/// Water of each lift, m3/s.
const FLOW_M3_S: f32 = 2e-3;
/// Variance that a lift's delivery factor gains in a second.
const FACTOR_WALK: f32 = 9e-8;

/// The core's filter.
pub struct Own<const LIFTS: usize, const TANKS: usize> {
    filter: Filter<LIFTS, TANKS>,
    tanks: [TankInput; TANKS],
    readings: [LevelInput; TANKS],
}

impl<const LIFTS: usize, const TANKS: usize> Own<LIFTS, TANKS> {
    /// At rest.
    pub fn new() -> Self {
        let mut filter = Filter::new(LIFTS, TANKS, 0.3);
        for tank in 0..TANKS {
            filter.restart_level(tank, LEVEL_M, 0.001);
        }
        Self {
            filter,
            tanks: [TankInput {
                area_m2: 1.0,
                most_m: 1.0,
                unseen_m3_s: 2e-5,
            }; TANKS],
            readings: core::array::from_fn(|tank| LevelInput {
                tank,
                level_m: LEVEL_M,
                variance_m2: READING_M2,
            }),
        }
    }

    /// One second.
    pub fn step(&mut self) {
        let mut balance = Balance::still();
        for lift in 0..LIFTS {
            balance.outlet(&OutletInput {
                from: lift + 1,
                to: Some(0),
                flow_m3_s: FLOW_M3_S,
                per_level: 0.06,
                per_downstream: 0.0,
            });
            let input = LiftInput {
                from: 0,
                to: lift + 1,
                curve_m3_s: FLOW_M3_S,
                per_source: 0.01,
                per_receiver: 0.0,
            };
            balance.lift(lift, self.filter.factor(lift), &input);
        }
        self.filter.predict(1.0, &balance, &self.tanks);
        for lift in 0..LIFTS {
            self.filter.doubt(lift, FACTOR_WALK);
        }
        self.filter.update(black_box(&self.readings));
        black_box(&self.filter);
    }
}

/// The same states and readings: `F P F' + Q`, then one reading after the other in Joseph's form. `STATES` is tanks and lifts.
pub struct Dense<const TANKS: usize, const STATES: usize> {
    f: SMatrix<f32, STATES, STATES>,
    q: SMatrix<f32, STATES, STATES>,
    p: SMatrix<f32, STATES, STATES>,
    x: SVector<f32, STATES>,
}

impl<const TANKS: usize, const STATES: usize> Dense<TANKS, STATES> {
    /// At rest.
    pub fn new() -> Self {
        let mut f = SMatrix::identity();
        for tank in 1..TANKS {
            let factor = TANKS + tank - 1;
            f[(tank, tank)] = 0.94;
            f[(0, tank)] = 0.06;
            f[(0, 0)] -= 0.01;
            f[(tank, 0)] = 0.01;
            f[(tank, factor)] = FLOW_M3_S;
            f[(0, factor)] = -FLOW_M3_S;
        }
        let mut q = SMatrix::zeros();
        for state in 0..STATES {
            q[(state, state)] = if state < TANKS { 4e-10 } else { FACTOR_WALK };
        }
        Self {
            f,
            q,
            p: SMatrix::identity() * 1e-2,
            x: SVector::from_element(LEVEL_M),
        }
    }

    /// One second.
    pub fn step(&mut self) {
        self.x = self.f * self.x;
        self.p = self.f * self.p * self.f.transpose() + self.q;
        for tank in 0..TANKS {
            let gain: SVector<f32, STATES> = self.p.column(tank) / (self.p[(tank, tank)] + READING_M2);
            self.x += gain * (black_box(LEVEL_M) - self.x[tank]);
            let mut keep = SMatrix::<f32, STATES, STATES>::identity();
            let column = keep.column(tank) - gain;
            keep.set_column(tank, &column);
            self.p = keep * self.p * keep.transpose() + gain * gain.transpose() * READING_M2;
        }
        black_box((&self.x, &self.p));
    }
}

/// A PI controller a lift, given the flow that the filter has to find.
pub struct Told<const LIFTS: usize>([Pid<f32>; LIFTS]);

impl<const LIFTS: usize> Told<LIFTS> {
    /// At rest.
    pub fn new() -> Self {
        Self(core::array::from_fn(|_| {
            let mut pid = Pid::new(FLOW_M3_S, 1.0);
            pid.p(100.0, 1.0).i(2.0, 1.0);
            pid
        }))
    }

    /// One second.
    pub fn step(&mut self) {
        for pid in &mut self.0 {
            black_box(pid.next_control_output(black_box(1.9e-3)));
        }
    }
}
