//! Water lost from a place or come into it, told from water moved within it.

use crate::condition::Condition;
use crate::math::seldom::{positive, smaller, whole};

/// Time over which the usual amount follows, s: evaporation and a daily top-up pass unnoticed, a leak does not.
const USUAL_S: f32 = 5400.0;
/// A change counts from this height over the largest tank on, m.
const COUNTS_M: f32 = 0.0135;
/// Seconds for which it must be so.
const DELAY_S: u32 = 60;

/// Follows the water of all tanks together.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WaterSum {
    usual_m3: Option<f32>,
    missing_m3: f32,
    lost: Condition,
    gained: Condition,
}

impl WaterSum {
    /// Nothing known yet.
    pub const NEW: Self = Self {
        usual_m3: None,
        missing_m3: 0.0,
        lost: Condition::CLEAR,
        gained: Condition::CLEAR,
    };

    /// One step: the water of all tanks, m3, or `None` when a level is not read; and the surface of the largest, m2.
    pub fn update(&mut self, water_m3: Option<f32>, largest_m2: f32, seconds: f32, step_ms: u32) {
        let Some(water) = water_m3 else {
            self.usual_m3 = None;
            return;
        };
        let usual = self.usual_m3.unwrap_or(water);
        self.missing_m3 = usual - water;
        self.usual_m3 = Some(usual - smaller(seconds / USUAL_S, 1.0) * self.missing_m3);
        let counts = COUNTS_M * positive(largest_m2);
        let missing = self.missing_m3;
        self.lost
            .update(missing > counts, missing < 0.5 * counts, DELAY_S, step_ms);
        self.gained
            .update(-missing > counts, -missing < 0.5 * counts, DELAY_S, step_ms);
    }

    /// Water is being lost.
    #[must_use]
    pub fn is_lost(&self) -> bool {
        self.lost.stands()
    }

    /// Water is coming in.
    #[must_use]
    pub fn is_gained(&self) -> bool {
        self.gained.stands()
    }

    /// How much less there is than lately, or how much more, L.
    #[must_use]
    pub fn litres(&self) -> u16 {
        whole(smaller(1000.0 * self.missing_m3.abs(), 60_000.0), 60_000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(l_min: f32, minutes: u32) -> WaterSum {
        let mut balance = WaterSum::NEW;
        let mut water = 5.0;
        for _ in 0..600 {
            balance.update(Some(water), 3.0, 1.0, 1000);
        }
        for _ in 0..60 * minutes {
            water += l_min / 60_000.0;
            balance.update(Some(water), 3.0, 1.0, 1000);
        }
        balance
    }

    #[test]
    fn two_litres_a_minute_are_found_within_the_hour_and_evaporation_is_not() {
        assert!(after(-2.0, 60).is_lost() && !after(-2.0, 60).is_gained());
        assert!(after(2.0, 60).is_gained() && !after(2.0, 60).is_lost());
        // 40 L a day for a day, and 40 L put back in ten minutes.
        assert!(!after(-0.028, 24 * 60).is_lost());
        assert!(!after(4.0, 10).is_gained());
    }

    #[test]
    fn a_level_that_is_not_read_begins_it_afresh() {
        let mut balance = after(-2.0, 20);
        balance.update(None, 3.0, 1.0, 1000);
        balance.update(Some(4.0), 3.0, 1.0, 1000);
        assert_eq!(balance.litres(), 0);
    }
}
