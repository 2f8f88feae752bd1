//! The mean of readings over some steps: one reading in ten would alias waves, the mean of ten does not.

use super::Logged;
use super::kinds::gather;
use crate::step::{Reading, Readings};

/// Sum of the readings of one sensor that were numbers.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    sum: f32,
    numbers: u16,
    /// True when a reading came that was no number.
    spoilt: bool,
}

impl Sum {
    const NONE: Self = Self {
        sum: 0.0,
        numbers: 0,
        spoilt: false,
    };

    fn add(&mut self, reading: Reading) {
        match Logged::of(reading) {
            Logged::Missing => {}
            Logged::NotANumber => self.spoilt = true,
            Logged::Number(value) => {
                self.sum += value;
                self.numbers = self.numbers.saturating_add(1);
            }
        }
    }

    /// The mean of the numbers; without any, why.
    fn mean(self) -> Logged {
        let mean = self.sum / f32::from(self.numbers);
        if self.numbers > 0 && mean.is_finite() {
            Logged::Number(mean)
        } else if self.spoilt || self.numbers > 0 {
            Logged::NotANumber
        } else {
            Logged::Missing
        }
    }
}

/// Readings gathered over some steps.
#[derive(Clone, Debug)]
pub(super) struct Mean<const TANKS: usize> {
    levels: [Sum; TANKS],
    manifold: Sum,
    tanks: usize,
    over: u16,
}

impl<const TANKS: usize> Mean<TANKS> {
    pub const NONE: Self = Self {
        levels: [Sum::NONE; TANKS],
        manifold: Sum::NONE,
        tanks: 0,
        over: 0,
    };

    /// Adds one step's readings.
    pub fn add(&mut self, readings: &Readings<TANKS>) {
        for (sum, reading) in self.levels.iter_mut().zip(&readings.levels) {
            sum.add(*reading);
        }
        self.manifold.add(readings.manifold);
        self.tanks = readings.levels.len();
        self.over = self.over.saturating_add(1);
    }

    /// Steps, levels and manifold so far; starts anew.
    pub fn take(&mut self) -> (u16, heapless::Vec<Logged, TANKS>, Logged) {
        let levels = gather(self.levels.iter().take(self.tanks).map(|sum| sum.mean()));
        let taken = (self.over, levels, self.manifold.mean());
        *self = Self::NONE;
        taken
    }
}
