//! The filter that learns what each lift delivers from the levels alone.
//!
//! One extended Kalman filter over the levels and one delivery factor a lift, `flow = factor x curve(air, levels)`. The process is
//! the water balance of every tank; the measurements are the levels, one scalar update each. With one lift a tank the outlet
//! law gives the flow; with two the sum shows, and the filter shares the correction by how sure it is of each. There is no
//! integral to wind up: a valve at its limit is just a prediction made with the real opening.
//!
//! The covariance is kept in blocks: levels by levels, levels by factors, factors by factors. The two that are symmetric are
//! kept as their upper triangle, from the diagonal on; what lies below it is scratch.

mod balance;
mod predict;
mod row;
mod update;

pub use balance::Balance;
pub use update::LevelInput;

use crate::math::seldom::limit;
use crate::math::sqrt;
use row::{Places, get, set};

/// Bounds of a delivery factor.
pub const FACTOR_LOW: f32 = 0.02;
/// Bounds of a delivery factor.
pub const FACTOR_HIGH: f32 = 4.0;

/// One lift as the filter sees it in one step.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LiftInput {
    /// Source and receiving tank.
    pub from: usize,
    /// Receiving tank.
    pub to: usize,
    /// Flow of its curve (factor 1), m3/s.
    pub curve_m3_s: f32,
    /// Change of that flow with the source level, m2/s.
    pub per_source: f32,
    /// Change of that flow with the receiving level, m2/s.
    pub per_receiver: f32,
}

/// One outlet as the filter sees it in one step.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OutletInput {
    /// The tank it drains.
    pub from: usize,
    /// The tank it drains into, `None` when out of the system.
    pub to: Option<usize>,
    /// Flow, m3/s.
    pub flow_m3_s: f32,
    /// Change of flow with the level of `from`, m2/s.
    pub per_level: f32,
    /// Change of flow with the level of `to`, m2/s.
    pub per_downstream: f32,
}

/// One tank as the filter sees it in one step.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TankInput {
    /// Water surface, m2.
    pub area_m2: f32,
    /// Highest level believed possible, m.
    pub most_m: f32,
    /// Unseen flow, m3/s in one second.
    pub unseen_m3_s: f32,
}

/// The filter.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Filter<const LIFTS: usize, const TANKS: usize> {
    level: [f32; TANKS],
    factor: [f32; LIFTS],
    /// Levels by levels, upper triangle.
    p_hh: [[f32; TANKS]; TANKS],
    /// Levels by factors.
    p_hf: [[f32; LIFTS]; TANKS],
    /// Factors by factors, upper triangle.
    p_ff: [[f32; LIFTS]; LIFTS],
    /// Tanks whose level was read, a bit each.
    known: u32,
    most_m: [f32; TANKS],
    tanks: usize,
    lifts: usize,
    most_factor_variance: f32,
}

/// Standard deviation of a level nothing is known of, m.
const UNKNOWN_LEVEL_M: f32 = 0.3;

impl<const LIFTS: usize, const TANKS: usize> Filter<LIFTS, TANKS> {
    /// A filter of no lift and no tank.
    #[must_use]
    pub const fn idle() -> Self {
        Self {
            level: [0.0; TANKS],
            factor: [1.0; LIFTS],
            p_hh: [[0.0; TANKS]; TANKS],
            p_hf: [[0.0; LIFTS]; TANKS],
            p_ff: [[0.0; LIFTS]; LIFTS],
            known: 0,
            most_m: [f32::MAX; TANKS],
            tanks: 0,
            lifts: 0,
            most_factor_variance: 0.0,
        }
    }

    /// A filter that knows no level yet, with factors of 1 and this standard deviation.
    #[must_use]
    pub fn new(lifts: usize, tanks: usize, spread: f32) -> Self {
        let mut filter = Self::idle();
        filter.begin(lifts, tanks, spread);
        filter
    }

    /// Begins afresh where it lies: knows no level yet, factors of 1 with this standard deviation.
    pub fn begin(&mut self, lifts: usize, tanks: usize, spread: f32) {
        self.level.fill(0.0);
        self.known = 0;
        self.most_m.fill(f32::MAX);
        for row in &mut self.p_hh {
            row.fill(0.0);
        }
        self.tanks = if tanks < TANKS { tanks } else { TANKS };
        self.lifts = if lifts < LIFTS { lifts } else { LIFTS };
        self.most_factor_variance = spread * spread;
        for lift in 0..self.lifts {
            self.restart_factor(lift, 1.0, spread);
        }
    }

    /// Sets a factor and its standard deviation, and forgets what it was correlated with.
    pub fn restart_factor(&mut self, lift: usize, factor: f32, sigma: f32) {
        if lift >= self.lifts {
            return;
        }
        for row in &mut self.p_hf {
            set(row, lift, 0.0);
        }
        for (other, row) in self.p_ff.iter_mut().enumerate() {
            if other == lift {
                *row = [0.0; LIFTS];
            }
            set(row, lift, if other == lift { sigma * sigma } else { 0.0 });
        }
        set(&mut self.factor, lift, limit(factor, FACTOR_LOW, FACTOR_HIGH));
    }

    /// Forgets what a factor was correlated with other factors. Of two lifts into a tank that both stand, one would else be taken to give
    /// more and more, because the other cannot give less than nothing.
    #[inline(never)]
    pub fn part(&mut self, lift: usize) {
        let variance = self.factor_variance(lift);
        for (other, row) in self.p_ff.iter_mut().enumerate() {
            if other == lift {
                *row = [0.0; LIFTS];
            }
            set(row, lift, if other == lift { variance } else { 0.0 });
        }
    }

    /// Sets a level and its standard deviation, and forgets what it was correlated with.
    pub fn restart_level(&mut self, tank: usize, level_m: f32, sigma_m: f32) {
        if tank >= self.tanks {
            return;
        }
        for (other, row) in self.p_hh.iter_mut().enumerate() {
            if other == tank {
                *row = [0.0; TANKS];
            }
            set(row, tank, if other == tank { sigma_m * sigma_m } else { 0.0 });
        }
        if let Some(row) = self.p_hf.get_mut(tank) {
            *row = [0.0; LIFTS];
        }
        set(&mut self.level, tank, level_m);
        self.note_known(tank, true);
    }

    /// Takes the starting level of a tank that was never read, without claiming to know it.
    pub fn assume_level(&mut self, tank: usize, level_m: f32) {
        self.restart_level(tank, level_m, UNKNOWN_LEVEL_M);
        self.note_known(tank, false);
    }

    /// True once a reading of this tank has been believed.
    #[must_use]
    pub fn knows(&self, tank: usize) -> bool {
        self.known & Places::of(tank) != 0
    }

    fn note_known(&mut self, tank: usize, known: bool) {
        let bit = Places::of(tank);
        self.known = if known { self.known | bit } else { self.known & !bit };
    }

    /// Level believed, m.
    #[must_use]
    pub fn level_m(&self, tank: usize) -> f32 {
        get(&self.level, tank)
    }

    /// Standard deviation of a level, m.
    #[must_use]
    pub fn level_sigma_m(&self, tank: usize) -> f32 {
        self.p_hh.get(tank).map_or(0.0, |row| sqrt(get(row, tank)))
    }

    /// Variance of a delivery factor.
    #[must_use]
    pub fn factor_variance(&self, lift: usize) -> f32 {
        self.p_ff.get(lift).map_or(0.0, |row| get(row, lift))
    }

    /// Delivery factor of a lift.
    #[must_use]
    pub fn factor(&self, lift: usize) -> f32 {
        self.factor.get(lift).copied().unwrap_or(1.0)
    }

    /// Standard deviation of a delivery factor.
    #[must_use]
    pub fn factor_sigma(&self, lift: usize) -> f32 {
        sqrt(self.factor_variance(lift))
    }
}
