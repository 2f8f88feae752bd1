//! Time as a wrapping millisecond counter.

use serde::{Deserialize, Serialize};

/// A millisecond counter that wraps every 49.7 days, as microcontrollers keep it. Only differences mean anything.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(transparent)]
pub struct Millis(pub u32);

/// What lies between two readings of the counter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Elapsed {
    /// This many milliseconds have passed (0 when the counter did not move).
    Forward(u32),
    /// The counter went back (a difference of 2^31 ms or more).
    Backward,
}

impl Millis {
    /// The time from `earlier` to `self`, through a wrap if need be.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Elapsed {
        let gap = self.0.wrapping_sub(earlier.0);
        if gap < 1 << 31 {
            Elapsed::Forward(gap)
        } else {
            Elapsed::Backward
        }
    }

    /// The counter `milliseconds` later.
    #[must_use]
    pub const fn plus(self, milliseconds: u32) -> Self {
        Self(self.0.wrapping_add(milliseconds))
    }
}

/// A duration that counts up in whole milliseconds and stops at its largest value (49.7 days) instead of wrapping.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(transparent)]
pub struct Held(u32);

impl Held {
    /// Nothing yet.
    pub const NONE: Self = Self(0);

    /// A stopwatch that stands at its largest value: "long ago".
    pub const LONG: Self = Self(u32::MAX);

    /// Adds the time of one step.
    pub fn add(&mut self, step_ms: u32) {
        self.0 = self.0.saturating_add(step_ms);
    }

    /// Back to nothing.
    pub fn clear(&mut self) {
        self.0 = 0;
    }

    /// Puts it at this many seconds.
    pub fn set_s(&mut self, seconds: u32) {
        self.0 = seconds.saturating_mul(1000);
    }

    /// Whole milliseconds.
    #[must_use]
    pub const fn ms(self) -> u32 {
        self.0
    }

    /// True once `seconds` have been reached.
    #[must_use]
    pub const fn reached_s(self, seconds: u32) -> bool {
        self.0 >= seconds.saturating_mul(1000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wrap_of_the_counter_leaves_no_trace() {
        let before = Millis(u32::MAX - 400);
        assert_eq!(before.plus(1000).since(before), Elapsed::Forward(1000));
    }

    #[test]
    fn a_counter_that_went_back_is_told_from_one_that_wrapped() {
        assert_eq!(Millis(500).since(Millis(1500)), Elapsed::Backward);
        assert_eq!(Millis(500).since(Millis(500)), Elapsed::Forward(0));
    }
}
