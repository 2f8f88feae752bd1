//! Sensors whose output is a share of their supply.

use super::input::judge;
use super::{InputFault, LevelInput, Sample};

/// Supply within which a 5 V ratiometric sensor keeps its accuracy, V (5 V, 10 % either way; common practice, no standard).
pub const SUPPLY_V: (f32, f32) = (4.5, 5.5);

/// Shares of the supply that a sensor of 10 to 90 % can give while it works: 5 % and 95 %; beyond lies a broken or shorted
/// wire (common practice, no standard).
pub const VALID_RATIO: (f32, f32) = (0.05, 0.95);

/// A sensor that gives 10 to 90 % of its supply (0.5 to 4.5 V of 5 V). Its readings are that share: the scale in the
/// installation goes from 0.1 and 0.9 to metres.
///
/// Measure the supply with the signal: a supply that sags by 2 % would otherwise move the level by 2 % of the reading.
#[derive(Clone, Copy, Debug)]
pub struct Ratiometric<F> {
    read_v: F,
    ends: (f32, f32),
    supply_v: (f32, f32),
    valid: (f32, f32),
}

impl<F, E> Ratiometric<F>
where
    F: FnMut() -> Result<(f32, f32), E>,
{
    /// From a call that gives the signal and the supply, both in V (or both in counts of one converter: then say so with
    /// [`Ratiometric::supply_within`]).
    pub const fn new(read_v: F) -> Self {
        Self {
            read_v,
            ends: (0.1, 0.9),
            supply_v: SUPPLY_V,
            valid: VALID_RATIO,
        }
    }

    /// For a sensor with another range: shares of the supply at the ends of its range, and beyond which it has failed.
    #[must_use]
    pub const fn ratios(mut self, ends: (f32, f32), valid: (f32, f32)) -> Self {
        self.ends = ends;
        self.valid = valid;
        self
    }

    /// For another supply: the lowest and highest at which the sensor is to be believed, in the unit of the supply read.
    #[must_use]
    pub const fn supply_within(mut self, supply_v: (f32, f32)) -> Self {
        self.supply_v = supply_v;
        self
    }
}

impl<F, E> LevelInput for Ratiometric<F>
where
    F: FnMut() -> Result<(f32, f32), E>,
{
    fn sample(&mut self) -> Sample {
        let Ok((signal, supply)) = (self.read_v)() else {
            return Sample::failed(InputFault::NoAnswer);
        };
        if !signal.is_finite() || !supply.is_finite() {
            return Sample::failed(InputFault::NotANumber);
        }
        // A supply of zero has no share; one that is out of range cannot be trusted to give a true one.
        if !(supply > 0.0 && supply >= self.supply_v.0 && supply <= self.supply_v.1) {
            return Sample::failed(InputFault::Supply);
        }
        judge(signal / supply, self.ends, self.valid)
    }
}
