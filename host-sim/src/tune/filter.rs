//! A Kalman filter over levels, deliveries and everything fixed, in f64, about a given course, with masked updates.
//!
//! Masked (Schmidt 1966, "consider") numbers keep their value: only their uncertainty takes part, so what a log cannot tell neither
//! wanders off nor makes the rest look surer than it is.

#![allow(clippy::needless_range_loop)] // rows and columns by number, as in the formulas

mod disturbed;

use super::balance::{Balance, Kept, Straight};
use super::doing::Doing;
use super::drive::Drive;
use super::drive::level_m;
use super::layout::{Kind, Layout, UNSEEN_SIGMA_M3_S};
use super::reference::Course;
use super::series::Bin;

/// Time for which a curve is not trusted after its lift was switched, s.
pub const UNTRUSTED_S: f64 = 600.0;
/// A delivery is never doubted beyond this (logarithm).
const MOST_DOUBT: f64 = 0.3;
/// Deviations beyond which a reading surprises, as in the controller.
const SURPRISE: f64 = 4.0;
/// Time over which unseen water is forgotten, s.
const UNSEEN_FOR_S: f64 = 600.0;
/// Standard deviation of a level at the beginning of a stretch, m.
const START_M: f64 = 0.005;
/// Doubt added to a delivery over a gap of unknown length (logarithm).
const GAP_DOUBT: f64 = 0.05;

/// What is not fitted by the filter itself.
#[derive(Clone, Debug)]
pub struct Tuning {
    /// How far a delivery wanders by itself, share per root second.
    pub walk: f64,
    /// Flow that comes and goes unseen in every tank, m3/s in one second.
    pub unseen_m3_s: f64,
    /// What each lift moves when it should stand still, standard deviation, share of its target.
    pub trickle: Vec<f64>,
    /// The same of one that stands still by its air valve alone, to be measured.
    pub measured_trickle: Vec<f64>,
    /// True for a lift whose water stops with its switch, because its hand valve is shut; false for one that runs on while its air
    /// valve closes.
    pub at_once: Vec<bool>,
    /// Noise of one reading of each tank, m RMS, and the step it is rounded to.
    pub noise_m: Vec<(f64, f64)>,
}

/// When a lift last ran undisturbed.
#[derive(Clone, Copy, Debug)]
pub struct Ran {
    /// Levels of source and receiver above their floors, m.
    pub levels_m: (f64, f64),
    /// Air, m3/s.
    pub air_m3_s: f64,
}

/// The filter.
#[derive(Clone, Debug)]
pub struct Filter<'a> {
    balance: &'a Balance<'a>,
    tuning: &'a Tuning,
    /// The numbers.
    pub x: Vec<f64>,
    /// Their covariance, row by row.
    p: Vec<f64>,
    n: usize,
    masked: Vec<bool>,
    about: Vec<f64>,
    straight: Straight,
    kept: Vec<Kept>,
    unseen: Vec<f64>,
    carried: Vec<f64>,
    before: Option<(Drive, Course)>,
    doubted_at: Vec<f64>,
    switched_s: Vec<f64>,
    /// Time since any lift was switched, s.
    disturbed_s: f64,
    doing: Vec<Doing>,
    last_flow: Vec<f64>,
    jumps: Vec<f64>,
    /// When each lift last ran undisturbed.
    pub last_ran: Vec<Option<Ran>>,
    /// Logarithm of the likelihood of all readings, less a constant.
    pub log_likelihood: f64,
    /// Readings that surprised.
    pub surprises: u64,
}

impl Tuning {
    /// What a lift moves out of service, and while it is measured.
    pub(super) fn still(&self, lift: usize) -> (f64, f64) {
        (self.trickle[lift], self.measured_trickle[lift])
    }
}

impl<'a> Filter<'a> {
    /// At the told values. `about` is the point the fixed numbers are straightened about.
    #[must_use]
    pub fn new(balance: &'a Balance<'a>, tuning: &'a Tuning, masked: Vec<bool>, about: Vec<f64>) -> Self {
        let layout = balance.layout;
        let n = layout.count();
        let mut p = vec![0.0; n * n];
        for (index, sigma) in layout.prior.iter().enumerate() {
            p[index * n + index] = sigma * sigma;
        }
        Self {
            balance,
            tuning,
            x: vec![0.0; n],
            p,
            n,
            masked,
            about,
            straight: Straight::default(),
            kept: vec![Kept::default(); layout.lifts],
            unseen: Vec::new(),
            carried: vec![0.0; layout.tanks * n],
            before: None,
            doubted_at: vec![0.0; layout.lifts],
            switched_s: vec![0.0; layout.lifts],
            disturbed_s: 0.0,
            doing: vec![Doing::Out; layout.lifts],
            last_flow: vec![0.0; layout.lifts],
            jumps: vec![0.0; layout.lifts],
            last_ran: vec![None; layout.lifts],
            log_likelihood: 0.0,
            surprises: 0,
        }
    }

    fn layout(&self) -> &'a Layout {
        self.balance.layout
    }

    /// Covariance of two numbers.
    #[must_use]
    pub fn covariance(&self, a: usize, b: usize) -> f64 {
        self.p[a * self.n + b]
    }

    /// Standard deviation of a number.
    #[must_use]
    pub fn sigma(&self, of: usize) -> f64 {
        self.covariance(of, of).max(0.0).sqrt()
    }

    /// Variance of a weighted sum of numbers.
    #[must_use]
    pub fn variance_along(&self, weights: &[(usize, f64)]) -> f64 {
        let mut sum = 0.0;
        for (a, wa) in weights {
            for (b, wb) in weights {
                sum += wa * wb * self.covariance(*a, *b);
            }
        }
        sum.max(0.0)
    }

    /// Takes the next bin in.
    pub fn take(&mut self, bin: &Bin, drive: &Drive, course: &Course) {
        match (bin.since_s, self.before) {
            (Some(since_s), Some(before)) => self.carry((since_s, bin.lead_s), (&before.0, &before.1), (drive, course)),
            _ => self.restart(bin),
        }
        self.before = Some((*drive, *course));
        for tank in 0..self.layout().tanks {
            if bin.counts[tank] > 0 {
                let sensor = &self.balance.place.tanks[tank].sensor;
                let level_m = level_m(sensor, bin.raw[tank]);
                self.update(tank, level_m, self.noise_m2(tank, bin.counts[tank]));
            }
        }
        for lift in 0..self.layout().lifts {
            if self.doing[lift] == Doing::Runs && self.switched_s[lift] >= UNTRUSTED_S {
                let of = &self.balance.place.lifts[lift];
                self.last_ran[lift] = Some(Ran {
                    levels_m: (self.x[usize::from(of.from)], self.x[usize::from(of.to)]),
                    air_m3_s: drive.air_m3_s[lift],
                });
            }
        }
    }

    /// A stretch begins: levels are where they are read, what wanders may have wandered.
    fn restart(&mut self, bin: &Bin) {
        let layout = self.layout();
        for index in 0..self.n {
            match layout.kinds[index] {
                Kind::Level(tank) => {
                    self.forget(index, START_M * START_M);
                    if bin.counts[tank] > 0 {
                        let zero = layout.zero_at[tank].map_or(0.0, |at| self.x[at]);
                        self.x[index] = level_m(&self.balance.place.tanks[tank].sensor, bin.raw[tank]) - zero;
                    } else if self.x[index] == 0.0 {
                        let limits = &self.balance.place.tanks[tank].limits;
                        self.x[index] = 0.5 * f64::from(limits.low_warn_m + limits.high_warn_m);
                        self.forget(index, 0.09);
                    }
                }
                Kind::Unseen(_) => {
                    self.x[index] = 0.0;
                    self.forget(index, UNSEEN_SIGMA_M3_S * UNSEEN_SIGMA_M3_S);
                }
                Kind::Delivery(_) if self.before.is_some() => self.doubt(index, GAP_DOUBT * GAP_DOUBT),
                _ => {}
            }
        }
        self.switched_s.iter_mut().for_each(|time| *time = 0.0);
    }

    /// A number begins anew with this variance, bound to no other.
    fn forget(&mut self, index: usize, variance: f64) {
        for other in 0..self.n {
            self.p[index * self.n + other] = 0.0;
            self.p[other * self.n + index] = 0.0;
        }
        self.p[index * self.n + index] = variance;
    }

    fn doubt(&mut self, index: usize, variance: f64) {
        let own = &mut self.p[index * self.n + index];
        let room = (MOST_DOUBT * MOST_DOUBT - *own).max(0.0);
        *own += variance.min(room);
    }

    /// Carries everything on from the middle of one bin to the middle of the next.
    fn carry(&mut self, (since_s, lead_s): (f64, f64), before: (&Drive, &Course), now: (&Drive, &Course)) {
        let lifts = self.layout().lifts;
        let switched = before.0.serves != now.0.serves;
        let moved = (0..lifts).any(|lift| {
            let (a, b) = (before.0.air_m3_s[lift], now.0.air_m3_s[lift]);
            (a - b).abs() > 0.1 * a.max(b)
        });
        self.note_jumps(since_s, before, now);
        if switched || moved {
            // A switch begins a bin, so its moment is known.
            let late_s = if switched {
                lead_s.clamp(0.0, since_s)
            } else {
                0.5 * since_s
            };
            self.step(since_s - late_s, before.0, before.1);
            self.step(late_s, now.0, now.1);
        } else {
            let mut mean = *now.0;
            for (mean, before) in mean.air_m3_s.iter_mut().zip(&before.0.air_m3_s) {
                *mean = 0.5 * (*mean + before);
            }
            let mut course = *now.1;
            for tank in 0..self.layout().tanks {
                course.level_m[tank] = 0.5 * (course.level_m[tank] + before.1.level_m[tank]);
                course.level_m_s[tank] = 0.5 * (course.level_m_s[tank] + before.1.level_m_s[tank]);
            }
            for tank in 0..self.layout().tanks {
                course.rests[tank] &= before.1.rests[tank];
                if course.rests[tank] {
                    course.level_m_s[tank] = 0.0;
                }
            }
            self.step(since_s, &mean, &course);
        }
    }

    fn step(&mut self, seconds: f64, drive: &Drive, course: &Course) {
        if seconds <= 0.0 {
            return;
        }
        let mut straight = std::mem::take(&mut self.straight);
        self.balance
            .straighten(course, &self.about, drive, &mut self.kept, &mut straight);
        self.balance.bend(course, &self.about, &self.x, &mut straight);
        let steep = (0..self.layout().tanks).fold(0.0f64, |most, tank| most.max(-straight.slopes[tank][tank]));
        let parts = (seconds * steep / 0.4).ceil().clamp(1.0, 64.0);
        self.unseen = (0..self.layout().tanks)
            .map(|tank| self.unseen_m3_s(tank, &straight, drive))
            .collect();
        let mut left = parts;
        while left > 0.5 {
            self.advance(seconds / parts, &straight);
            left -= 1.0;
        }
        self.straight = straight;
        self.watch_lifts(seconds, drive);
    }

    /// One step of the straight balance, to second order, with its covariance.
    fn advance(&mut self, h: f64, straight: &Straight) {
        let layout = self.layout();
        let (n, tanks) = (self.n, layout.tanks);
        let mut rates = vec![0.0; tanks];
        let mut transition = vec![vec![0.0; n]; tanks];
        for tank in 0..tanks {
            let mut rate = straight.constant[tank];
            for at in &layout.touches[tank] {
                rate += straight.slopes[tank][*at] * self.x[*at];
            }
            rates[tank] = rate;
        }
        for (tank, row) in transition.iter_mut().enumerate() {
            for at in &layout.touches[tank] {
                row[*at] += h * straight.slopes[tank][*at];
            }
            for via in layout.touches[tank].iter().filter(|via| **via < tanks) {
                let weight = 0.5 * h * h * straight.slopes[tank][*via];
                for at in &layout.touches[*via] {
                    row[*at] += weight * straight.slopes[*via][*at];
                }
            }
            row[tank] += 1.0;
        }
        for tank in 0..tanks {
            let mut moved = h * rates[tank];
            for via in 0..tanks {
                moved += 0.5 * h * h * straight.slopes[tank][via] * rates[via];
            }
            let most = f64::from(self.balance.place.tanks[tank].rim_m) + 0.25;
            self.x[tank] = (self.x[tank] + moved).clamp(0.0, most);
        }
        self.carry_covariance(&transition);
        for index in 0..n {
            let passing = match layout.kinds[index] {
                Kind::Unseen(_) => Some((UNSEEN_SIGMA_M3_S, UNSEEN_FOR_S)),
                Kind::Form(lift) => Some(self.doing[lift].later(self.tuning.still(lift))),
                _ => None,
            };
            if let Some((sigma, lasts_s)) = passing {
                let kept = (-h / lasts_s).exp();
                self.x[index] *= kept;
                for other in 0..n {
                    self.p[index * n + other] *= kept;
                    self.p[other * n + index] *= kept;
                }
                self.p[index * n + index] += sigma * sigma * (1.0 - kept * kept);
            }
        }
        for tank in 0..tanks {
            let sigma = self.unseen[tank] / straight.area_m2[tank];
            self.p[tank * n + tank] += sigma * sigma * h;
        }
    }

    /// P <- F P F', F differing from the identity in the rows of the levels.
    fn carry_covariance(&mut self, transition: &[Vec<f64>]) {
        let layout = self.layout();
        let (n, tanks) = (self.n, layout.tanks);
        self.carried.iter_mut().for_each(|value| *value = 0.0);
        for (tank, row) in transition.iter().enumerate() {
            let carried = &mut self.carried[tank * n..(tank + 1) * n];
            for at in &layout.touches[tank] {
                let weight = row[*at];
                if weight != 0.0 {
                    for (to, from) in carried.iter_mut().zip(&self.p[at * n..(at + 1) * n]) {
                        *to += weight * from;
                    }
                }
            }
        }
        for tank in 0..tanks {
            for other in tanks..n {
                let value = self.carried[tank * n + other];
                self.p[tank * n + other] = value;
                self.p[other * n + tank] = value;
            }
            for other in 0..=tank {
                let value: f64 = layout.touches[other]
                    .iter()
                    .map(|at| self.carried[tank * n + at] * transition[other][*at])
                    .sum();
                self.p[tank * n + other] = value;
                self.p[other * n + tank] = value;
            }
        }
    }

    fn delivery_at(&self, lift: usize) -> usize {
        // Levels come first, then deliveries.
        self.layout().tanks + lift
    }

    /// Variance of a mean of so many readings, m2.
    fn noise_m2(&self, tank: usize, count: u32) -> f64 {
        let (sigma, step) = self.tuning.noise_m[tank];
        let rounding = step * step / 12.0;
        let many = f64::from(count);
        // Without noise to shake it, a rounding stays where it is.
        let rounding = if sigma > 0.5 * step { rounding / many } else { rounding };
        sigma * sigma / many + rounding
    }

    /// Takes one level in.
    fn update(&mut self, tank: usize, level_m: f64, variance_m2: f64) {
        let n = self.n;
        let zero = self.layout().zero_at[tank];
        let mut c: Vec<f64> = self.p[tank * n..(tank + 1) * n].to_vec();
        let mut expected = self.x[tank];
        if let Some(zero) = zero {
            expected += self.x[zero];
            for (c, p) in c.iter_mut().zip(&self.p[zero * n..(zero + 1) * n]) {
                *c += p;
            }
        }
        let off = level_m - expected;
        let own = c[tank] + zero.map_or(0.0, |zero| c[zero]);
        let mut s = own + variance_m2;
        let surprise = off * off / (SURPRISE * SURPRISE) - s;
        if surprise > 0.0 {
            self.surprises += 1;
            self.p[tank * n + tank] += surprise;
            c[tank] += surprise;
            s += surprise;
        }
        self.log_likelihood -= 0.5 * (off * off / s + s.ln());
        for i in 0..n {
            if !self.masked[i] {
                self.x[i] += c[i] / s * off;
            }
        }
        for i in 0..n {
            let gain = c[i] / s;
            if gain == 0.0 {
                continue;
            }
            // Half of it, and mirrored: rounding that differed on the two sides would grow.
            for j in 0..=i {
                if self.masked[i] && self.masked[j] {
                    continue;
                }
                let value = self.p[i * n + j] - gain * c[j];
                self.p[i * n + j] = value;
                self.p[j * n + i] = value;
            }
        }
        let own = &mut self.p[tank * n + tank];
        *own = own.max(1.0e-12);
    }
}
