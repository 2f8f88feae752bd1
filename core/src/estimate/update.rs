//! Level readings taken into account.

use super::row::{add, add_at, get, set};
use super::{FACTOR_HIGH, FACTOR_LOW, Filter};
use crate::math::{limit, sqrt};

/// Deviations beyond which a reading surprises: once in 16 000 readings by chance.
const SURPRISE: f32 = 4.0;
/// Least variance of a factor: rounding may not take it to zero, or the filter would stop learning.
const LEAST_FACTOR_VARIANCE: f32 = 1.0e-8;
/// Least variance of a level, m2.
const LEAST_LEVEL_VARIANCE_M2: f32 = 1.0e-10;
/// Readings after which the covariance is gone through once: a number of it costs fifteen instructions for five readings, six for
/// one.
const AT_ONCE: usize = 5;

/// What each of [`AT_ONCE`] readings takes off one row.
type Weights = [f32; AT_ONCE];

/// One level reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LevelInput {
    /// The tank.
    pub tank: usize,
    /// Level read, m.
    pub level_m: f32,
    /// Variance of the reading, m2.
    pub variance_m2: f32,
}

impl<const LIFTS: usize, const TANKS: usize> Filter<LIFTS, TANKS> {
    /// Takes level readings into account, one after the other.
    ///
    /// With `c` the column of the covariance that belongs to a level and `s` the variance of the surprise, the gain is `c/s` and the
    /// covariance loses `c c'/s`. That is worked out as the square of one vector, `w = c/sqrt(s)`: what is taken off is then
    /// symmetric and never negative, whatever the rounding. The covariance itself is gone through only after every few readings; until
    /// then what they take off is taken off the columns that are needed.
    pub fn update(&mut self, readings: &[LevelInput]) {
        for together in readings.chunks(AT_ONCE) {
            // Constants: cleared at once, not row by row.
            let mut w_h = const { [[0.0f32; AT_ONCE]; TANKS] };
            let mut w_f = const { [[0.0f32; AT_ONCE]; LIFTS] };
            for (turn, reading) in together.iter().enumerate() {
                self.weigh(reading, turn, &mut w_h, &mut w_f);
            }
            self.take_off(&w_h, &w_f);
            for LevelInput { tank, .. } in together {
                if let Some(own) = self.p_hh.get_mut(*tank).and_then(|row| row.get_mut(*tank))
                    && !(*own > 0.0)
                {
                    *own = LEAST_LEVEL_VARIANCE_M2;
                }
            }
        }
        for (level, most) in self.level.iter_mut().zip(&self.most_m) {
            *level = limit(*level, 0.0, *most);
        }
        for factor in &mut self.factor {
            *factor = limit(*factor, FACTOR_LOW, FACTOR_HIGH);
        }
    }

    /// Moves levels and factors by one reading, and notes what it takes off the covariance.
    fn weigh(&mut self, reading: &LevelInput, turn: usize, w_h: &mut [Weights; TANKS], w_f: &mut [Weights; LIFTS]) {
        let tank = reading.tank;
        let (Some(row), Some(c_f), Some(before)) = (self.p_hh.get(tank), self.p_hf.get(tank), w_h.get(tank).copied())
        else {
            return;
        };
        let mut c_h = *row;
        for (c, row) in c_h.iter_mut().zip(&self.p_hh).take(tank) {
            *c = get(row, tank);
        }
        let s = get(&c_h, tank) - product(&before, &before) + reading.variance_m2;
        if !(s > 0.0) || !reading.level_m.is_finite() {
            return;
        }
        let off = reading.level_m - get(&self.level, tank);
        // Water that moves as nothing here explains (a hose, a lift shut by hand a moment ago) is water all the same: the level
        // follows it, and the factors are told the less.
        let surprise = off * off / (SURPRISE * SURPRISE) - s;
        let s = if surprise > 0.0 {
            add(&mut c_h, tank, surprise);
            s + surprise
        } else {
            s
        };
        let root = sqrt(s);
        if !(root > 0.0) {
            return;
        }
        let surprised = Surprise {
            before,
            share: 1.0 / root,
            moves: off / root,
            turn,
        };
        surprised.weigh(w_h, &c_h, &mut self.level);
        surprised.weigh(w_f, c_f, &mut self.factor);
        if surprise > 0.0 {
            add_at(&mut self.p_hh, tank, tank, surprise);
        }
    }

    fn take_off(&mut self, w_h: &[Weights; TANKS], w_f: &[Weights; LIFTS]) {
        let mut from_here: &[Weights] = w_h;
        for (at, (hh, hf)) in self.p_hh.iter_mut().zip(&mut self.p_hf).enumerate() {
            let Some((own, rest)) = from_here.split_first() else {
                break;
            };
            take_product(hh.get_mut(at..).unwrap_or(&mut []), own, from_here);
            take_product(hf, own, w_f);
            from_here = rest;
        }
        let mut from_here: &[Weights] = w_f;
        for (at, ff) in self.p_ff.iter_mut().enumerate() {
            let Some((own, rest)) = from_here.split_first() else {
                break;
            };
            let ff = ff.get_mut(at..).unwrap_or(&mut []);
            take_product(ff, own, from_here);
            if let Some(variance) = ff.first_mut()
                && !(*variance > LEAST_FACTOR_VARIANCE)
            {
                *variance = LEAST_FACTOR_VARIANCE;
            }
            from_here = rest;
        }
    }
}

/// A reading as it moves the numbers of a row.
struct Surprise {
    /// The weights of its tank by the readings before it.
    before: Weights,
    /// One over the deviation of the surprise.
    share: f32,
    /// The surprise over its deviation.
    moves: f32,
    turn: usize,
}

impl Surprise {
    /// Moves what is believed by the covariances `c` with the reading, and notes the weights.
    #[inline(never)]
    fn weigh(&self, weights: &mut [Weights], c: &[f32], believed: &mut [f32]) {
        let (before, turn) = (self.before, self.turn);
        if turn == 0 {
            for (([w, ..], c), believed) in weights.iter_mut().zip(c).zip(believed) {
                let own = *c * self.share;
                *believed += own * self.moves;
                *w = own;
            }
            return;
        }
        if turn >= AT_ONCE {
            return; // said once, it need not be asked in the loop
        }
        if turn == 1 {
            // One weight before it; the others are zero.
            let [before, ..] = before;
            for ((w, c), believed) in weights.iter_mut().zip(c).zip(believed) {
                let [first, own, ..] = w;
                *own = (*c - before * *first) * self.share;
                *believed += *own * self.moves;
            }
            return;
        }
        for ((w, c), believed) in weights.iter_mut().zip(c).zip(believed) {
            let own = less_product(*c, &before, w) * self.share;
            *believed += own * self.moves;
            set(w, turn, own);
        }
    }
}

fn product(a: &Weights, b: &Weights) -> f32 {
    let ([a0, a1, a2, a3, a4], [b0, b1, b2, b3, b4]) = (a, b);
    a0 * b0 + a1 * b1 + a2 * b2 + a3 * b3 + a4 * b4
}

/// `row -= own x others`, as far as both go: the inner loop of the filter.
#[inline(never)]
fn take_product(row: &mut [f32], own: &Weights, others: &[Weights]) {
    for (value, other) in row.iter_mut().zip(others) {
        *value = less_product(*value, own, other);
    }
}

/// `value - a x b`: ten instructions.
#[inline]
fn less_product(value: f32, [a0, a1, a2, a3, a4]: &Weights, [b0, b1, b2, b3, b4]: &Weights) -> f32 {
    value - a0 * b0 - a1 * b1 - a2 * b2 - a3 * b3 - a4 * b4
}
