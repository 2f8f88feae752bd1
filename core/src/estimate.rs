//! The filter that learns what each lift delivers from the levels alone.
//!
//! One extended Kalman filter over the levels and one delivery factor a lift, `flow = factor x curve(air, levels)`. The process is
//! the water balance of every tank; the measurements are the levels, one scalar update each, in Joseph's form. With one lift
//! a tank the outlet law gives the flow; with two the sum shows, and the filter shares the correction by how sure it is of
//! each. There is no integral to wind up: a valve at its limit is just a prediction made with the real opening.
//!
//! The covariance is kept in blocks: levels by levels, levels by factors, factors by factors.

use crate::math::{larger, limit, sqrt};

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
    /// Variance to add to its factor over this step.
    pub doubt: f32,
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
    p_hh: [[f32; TANKS]; TANKS],
    p_hf: [[f32; LIFTS]; TANKS],
    p_ff: [[f32; LIFTS]; LIFTS],
    known: [bool; TANKS],
    most_m: [f32; TANKS],
    tanks: usize,
    lifts: usize,
    most_factor_variance: f32,
}

/// Deviations beyond which a reading surprises: once in 16 000 readings by chance.
const SURPRISE: f32 = 4.0;

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
            known: [false; TANKS],
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
        self.known.fill(false);
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
        set(&mut self.known, tank, true);
    }

    /// Takes the starting level of a tank that was never read, without claiming to know it.
    pub fn assume_level(&mut self, tank: usize, level_m: f32) {
        self.restart_level(tank, level_m, UNKNOWN_LEVEL_M);
        set(&mut self.known, tank, false);
    }

    /// True once a reading of this tank has been believed.
    #[must_use]
    pub fn knows(&self, tank: usize) -> bool {
        self.known.get(tank).copied().unwrap_or(false)
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

    /// Delivery factor of a lift.
    #[must_use]
    pub fn factor(&self, lift: usize) -> f32 {
        self.factor.get(lift).copied().unwrap_or(1.0)
    }

    /// Standard deviation of a delivery factor.
    #[must_use]
    pub fn factor_sigma(&self, lift: usize) -> f32 {
        self.p_ff.get(lift).map_or(0.0, |row| sqrt(get(row, lift)))
    }

    /// Carries levels, factors and doubts on by `seconds`.
    ///
    /// The balance is stepped by the linearised implicit rule for each tank's own outflow, `dh = dt net / (A + dt dQ/dh)`, which
    /// stays stable where a small tank empties within a step.
    pub fn predict(
        &mut self,
        seconds: f32,
        lifts: &[LiftInput],
        outlets: impl Iterator<Item = OutletInput>,
        tanks: &[TankInput],
    ) {
        let mut net = [0.0f32; TANKS];
        let mut by_level = [[0.0f32; TANKS]; TANKS];
        let mut by_factor = [[0.0f32; LIFTS]; TANKS];
        for outlet in outlets {
            add(&mut net, outlet.from, -outlet.flow_m3_s);
            add_at(&mut by_level, outlet.from, outlet.from, -outlet.per_level);
            if let Some(to) = outlet.to {
                add(&mut net, to, outlet.flow_m3_s);
                add_at(&mut by_level, to, outlet.from, outlet.per_level);
                add_at(&mut by_level, to, to, outlet.per_downstream);
                add_at(&mut by_level, outlet.from, to, -outlet.per_downstream);
            }
        }
        for (index, lift) in lifts.iter().enumerate() {
            let factor = self.factor(index);
            let flow = factor * lift.curve_m3_s;
            for (tank, sign) in [(lift.from, -1.0), (lift.to, 1.0)] {
                add(&mut net, tank, sign * flow);
                add_at(&mut by_factor, tank, index, sign * lift.curve_m3_s);
                add_at(&mut by_level, tank, lift.from, sign * factor * lift.per_source);
                add_at(&mut by_level, tank, lift.to, sign * factor * lift.per_receiver);
            }
        }

        // F = I + dt J / (A - dt J_own), row by row; levels move on the way.
        let rows = by_level
            .iter_mut()
            .zip(&mut by_factor)
            .zip(&mut self.level)
            .zip(&net)
            .zip(tanks);
        for (own, ((((row, factors), level), net), tank)) in rows.enumerate() {
            let own_slope = larger(-get(row, own), 0.0);
            let step = seconds / (tank.area_m2 + seconds * own_slope);
            *level = limit(*level + step * net, 0.0, tank.most_m);
            for value in row.iter_mut().take(self.tanks) {
                *value *= step;
            }
            add(row, own, 1.0);
            for value in factors.iter_mut().take(self.lifts) {
                *value *= step;
            }
        }
        for (most, tank) in self.most_m.iter_mut().zip(tanks) {
            *most = tank.most_m;
        }
        self.carry_covariance(&by_level, &by_factor);
        for (index, tank) in tanks.iter().enumerate().take(self.tanks) {
            let sigma = tank.unseen_m3_s / larger(tank.area_m2, 1.0e-4);
            add_at(&mut self.p_hh, index, index, sigma * sigma * seconds);
            self.hold_level_variance(index);
        }
        for (index, lift) in lifts.iter().enumerate().take(self.lifts) {
            let variance = self.p_ff.get(index).map_or(0.0, |row| get(row, index));
            let room = larger(self.most_factor_variance - variance, 0.0);
            add_at(&mut self.p_ff, index, index, limit(lift.doubt, 0.0, room));
        }
    }

    /// P <- F P F' with F split into its level and factor columns (factors stay as they are).
    fn carry_covariance(&mut self, f: &[[f32; TANKS]; TANKS], g: &[[f32; LIFTS]; TANKS]) {
        let (tanks, lifts) = (self.tanks, self.lifts);
        let mut x_h = [[0.0f32; TANKS]; TANKS];
        let mut x_f = [[0.0f32; LIFTS]; TANKS];
        for (((x_h, x_f), f), g) in x_h.iter_mut().zip(&mut x_f).zip(f).zip(g).take(tanks) {
            for ((weight, hh), hf) in f.iter().zip(&self.p_hh).zip(&self.p_hf).take(tanks) {
                if *weight != 0.0 {
                    add_scaled(x_h, *weight, hh, tanks);
                    add_scaled(x_f, *weight, hf, lifts);
                }
            }
            for (x, hf) in x_h.iter_mut().zip(&self.p_hf).take(tanks) {
                *x += dot(g, hf, lifts);
            }
            for (weight, ff) in g.iter().zip(&self.p_ff).take(lifts) {
                if *weight != 0.0 {
                    add_scaled(x_f, *weight, ff, lifts);
                }
            }
        }
        for (j, (x_h, x_f)) in x_h.iter().zip(&x_f).enumerate().take(tanks) {
            for (k, (f, g)) in f.iter().zip(g).enumerate().take(j + 1) {
                let value = dot(x_h, f, tanks) + dot(x_f, g, lifts);
                set_at(&mut self.p_hh, j, k, value);
                set_at(&mut self.p_hh, k, j, value);
            }
        }
        self.p_hf = x_f;
    }

    /// A tank that is not read for long: its doubt stops growing where it says "unknown".
    fn hold_level_variance(&mut self, tank: usize) {
        let most = UNKNOWN_LEVEL_M * UNKNOWN_LEVEL_M;
        let variance = self.p_hh.get(tank).map_or(0.0, |row| get(row, tank));
        if !(variance >= 0.0) || variance > most {
            let level = self.level_m(tank);
            let known = self.knows(tank);
            self.restart_level(tank, level, UNKNOWN_LEVEL_M);
            set(&mut self.known, tank, known);
        }
    }

    /// Takes one level reading of `variance_m2` into account.
    pub fn update(&mut self, tank: usize, level_m: f32, variance_m2: f32) {
        let (Some(c_h), Some(c_f)) = (self.p_hh.get(tank).copied(), self.p_hf.get(tank).copied()) else {
            return;
        };
        let own = get(&c_h, tank);
        let s = own + variance_m2;
        if !(s > 0.0) || !level_m.is_finite() {
            return;
        }
        let off = level_m - self.level_m(tank);
        // Water that moves as nothing here explains (a hose, a lift shut by hand a moment ago) is water all the same: the level
        // follows it, and the factors are told the less.
        let surprise = off * off / (SURPRISE * SURPRISE) - s;
        let mut c_h = c_h;
        let s = if surprise > 0.0 {
            add_at(&mut self.p_hh, tank, tank, surprise);
            add(&mut c_h, tank, surprise);
            s + surprise
        } else {
            s
        };
        let mut k_h = [0.0f32; TANKS];
        let mut k_f = [0.0f32; LIFTS];
        for (k, c) in k_h.iter_mut().zip(&c_h).take(self.tanks) {
            *k = c / s;
        }
        for (k, c) in k_f.iter_mut().zip(&c_f).take(self.lifts) {
            *k = c / s;
        }
        for ((level, k), most) in self.level.iter_mut().zip(&k_h).zip(&self.most_m).take(self.tanks) {
            *level = limit(*level + k * off, 0.0, *most);
        }
        for (factor, k) in self.factor.iter_mut().zip(&k_f).take(self.lifts) {
            *factor = limit(*factor + k * off, FACTOR_LOW, FACTOR_HIGH);
        }
        // Joseph's form for one measurement, P - K c' - (c - K s) K': the bracket is zero but for rounding, and with it the
        // rounding of K does no harm. Half of each symmetric block is worked out and mirrored.
        let mut d_h = [0.0f32; TANKS];
        let mut d_f = [0.0f32; LIFTS];
        for ((d, c), k) in d_h.iter_mut().zip(&c_h).zip(&k_h).take(self.tanks) {
            *d = c - k * s;
        }
        for ((d, c), k) in d_f.iter_mut().zip(&c_f).zip(&k_f).take(self.lifts) {
            *d = c - k * s;
        }
        for (i, ((row, k), d)) in self.p_hh.iter_mut().zip(&k_h).zip(&d_h).enumerate().take(self.tanks) {
            for ((p, kb), cb) in row.iter_mut().zip(&k_h).zip(&c_h).take(i + 1) {
                *p -= k * cb + d * kb;
            }
        }
        for ((row, k), d) in self.p_hf.iter_mut().zip(&k_h).zip(&d_h).take(self.tanks) {
            for ((p, kb), cb) in row.iter_mut().zip(&k_f).zip(&c_f).take(self.lifts) {
                *p -= k * cb + d * kb;
            }
        }
        for (i, ((row, k), d)) in self.p_ff.iter_mut().zip(&k_f).zip(&d_f).enumerate().take(self.lifts) {
            for ((p, kb), cb) in row.iter_mut().zip(&k_f).zip(&c_f).take(i + 1) {
                *p -= k * cb + d * kb;
            }
        }
        mirror(&mut self.p_hh, self.tanks);
        mirror(&mut self.p_ff, self.lifts);
        // Rounding may not take a variance to zero: the filter would stop learning.
        for lift in 0..self.lifts {
            let variance = self.p_ff.get(lift).map_or(0.0, |row| get(row, lift));
            if !(variance > 1.0e-8) {
                set_at(&mut self.p_ff, lift, lift, 1.0e-8);
            }
        }
        if !(self.p_hh.get(tank).map_or(0.0, |row| get(row, tank)) > 0.0) {
            set_at(&mut self.p_hh, tank, tank, 1.0e-10);
        }
    }
}

fn get(row: &[f32], index: usize) -> f32 {
    row.get(index).copied().unwrap_or(0.0)
}

fn set<T>(row: &mut [T], index: usize, value: T) {
    if let Some(slot) = row.get_mut(index) {
        *slot = value;
    }
}

fn add(row: &mut [f32], index: usize, value: f32) {
    if let Some(slot) = row.get_mut(index) {
        *slot += value;
    }
}

fn set_at<const N: usize>(block: &mut [[f32; N]], row: usize, column: usize, value: f32) {
    if let Some(row) = block.get_mut(row) {
        set(row, column, value);
    }
}

fn add_at<const N: usize>(block: &mut [[f32; N]], row: usize, column: usize, value: f32) {
    if let Some(row) = block.get_mut(row) {
        add(row, column, value);
    }
}

/// Copies the lower triangle onto the upper one.
fn mirror<const N: usize>(block: &mut [[f32; N]; N], size: usize) {
    for row in 1..size {
        let lower = block.get(row).copied().unwrap_or([0.0; N]);
        for (column, value) in lower.iter().enumerate().take(row) {
            set_at(block, column, row, *value);
        }
    }
}

fn dot(a: &[f32], b: &[f32], length: usize) -> f32 {
    a.iter().zip(b).take(length).fold(0.0, |sum, (a, b)| sum + a * b)
}

fn add_scaled(to: &mut [f32], weight: f32, from: &[f32], length: usize) {
    for (to, from) in to.iter_mut().zip(from).take(length) {
        *to += weight * from;
    }
}
