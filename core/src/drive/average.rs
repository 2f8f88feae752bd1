//! Several samples a step, averaged: a level sampled once a second shows slosh as a slow wave that is not there.

use super::{InputFault, LevelInput, Quality, Sample};
use crate::reading::Reading;

/// Averages the samples taken between two steps.
///
/// A tank sloshing at 0.95 Hz looks like a wave of 20 s when it is sampled once a second. Call [`Averaged::take`] ten times a
/// second or so, and [`LevelInput::sample`] once a step.
#[derive(Clone, Copy, Debug)]
pub struct Averaged<I> {
    input: I,
    mean: f32,
    good: u16,
    bad: u16,
    low: u16,
    high: u16,
    fault: InputFault,
}

impl<I: LevelInput> Averaged<I> {
    /// Averages this input.
    #[must_use]
    pub const fn new(input: I) -> Self {
        Self {
            input,
            mean: 0.0,
            good: 0,
            bad: 0,
            low: 0,
            high: 0,
            fault: InputFault::NoAnswer,
        }
    }

    /// Takes one sample towards the next mean.
    pub fn take(&mut self) {
        let sample = self.input.sample();
        match (sample.reading, sample.quality) {
            (Reading::Value(value), quality) => {
                // The running mean neither overflows nor loses digits as a sum would.
                self.good = self.good.saturating_add(1);
                self.mean += (value - self.mean) / f32::from(self.good);
                match quality {
                    Quality::AtLowEnd => self.low = self.low.saturating_add(1),
                    Quality::AtHighEnd => self.high = self.high.saturating_add(1),
                    Quality::Good | Quality::Failed(_) => {}
                }
            }
            (Reading::Missing, quality) => {
                self.bad = self.bad.saturating_add(1);
                if let Quality::Failed(fault) = quality {
                    self.fault = fault;
                }
            }
        }
    }
}

impl<I: LevelInput> LevelInput for Averaged<I> {
    /// The mean of the samples taken since the last call, or one sample when none was taken. Missing when fewer than half
    /// were good. At an end when most of the good ones were.
    fn sample(&mut self) -> Sample {
        if self.good == 0 && self.bad == 0 {
            return self.input.sample();
        }
        let sample = if self.good == 0 {
            Sample::failed(self.fault)
        } else if self.good < self.bad {
            Sample::failed(InputFault::TooFewSamples)
        } else if !self.mean.is_finite() {
            Sample::failed(InputFault::NotANumber)
        } else {
            let most = |count: u16| count > self.good / 2;
            let quality = if most(self.low) {
                Quality::AtLowEnd
            } else if most(self.high) {
                Quality::AtHighEnd
            } else {
                Quality::Good
            };
            Sample {
                reading: Reading::Value(self.mean),
                quality,
            }
        };
        (self.mean, self.good, self.bad, self.low, self.high) = (0.0, 0, 0, 0, 0);
        sample
    }
}
