//! Limits on levels.

use super::Condition;
use crate::math::limit;
use crate::tank::LevelLimits;

/// What the guard makes of one tank.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TankVerdict {
    /// Above the upper warning limit.
    pub high: bool,
    /// Above the upper act limit: hold the lifts that feed it.
    pub too_high: bool,
    /// Below the lower warning limit.
    pub low: bool,
    /// Below the lower act limit: hold the lifts that draw from it.
    pub too_low: bool,
}

/// Watches the level of one tank.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TankGuard {
    high: Condition,
    too_high: Condition,
    low: Condition,
    too_low: Condition,
}

impl TankGuard {
    /// One step with the believed level and how unsure it is.
    ///
    /// A level that is not measured is taken two deviations on the bad side (at most 50 mm), for each side by itself.
    pub fn update(
        &mut self,
        level_m: f32,
        unsure_m: f32,
        limits: &LevelLimits,
        delay_s: u32,
        deadband_m: f32,
        step_ms: u32,
    ) -> TankVerdict {
        let unsure = limit(2.0 * unsure_m, 0.0, 0.05);
        let (top, bottom) = (level_m + unsure, level_m - unsure);
        let above = |condition: &mut Condition, limit_m: f32| {
            condition.update(top > limit_m, top < limit_m - deadband_m, delay_s, step_ms)
        };
        let high = above(&mut self.high, limits.high_warn_m);
        let too_high = above(&mut self.too_high, limits.high_act_m);
        let below = |condition: &mut Condition, limit_m: f32| {
            condition.update(bottom < limit_m, bottom > limit_m + deadband_m, delay_s, step_ms)
        };
        let low = below(&mut self.low, limits.low_warn_m);
        let too_low = below(&mut self.too_low, limits.low_act_m);
        TankVerdict {
            high,
            too_high,
            low,
            too_low,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: LevelLimits = LevelLimits {
        high_warn_m: 0.8,
        high_act_m: 0.9,
        low_warn_m: 0.3,
        low_act_m: 0.2,
    };

    fn after(guard: &mut TankGuard, level_m: f32, seconds: u32) -> TankVerdict {
        let mut verdict = TankVerdict::default();
        for _ in 0..seconds {
            verdict = guard.update(level_m, 0.0, &LIMITS, 10, 0.02, 1000);
        }
        verdict
    }

    #[test]
    fn a_level_must_stay_beyond_its_limit_for_the_delay() {
        let mut guard = TankGuard::default();
        assert!(!after(&mut guard, 0.95, 9).too_high);
        assert!(!after(&mut guard, 0.7, 1).too_high);
        assert!(!after(&mut guard, 0.95, 9).too_high);
        assert!(after(&mut guard, 0.95, 1).too_high);
    }

    #[test]
    fn a_level_must_come_back_past_the_deadband_before_the_guard_lets_go() {
        let mut guard = TankGuard::default();
        assert!(after(&mut guard, 0.15, 10).too_low);
        assert!(after(&mut guard, 0.21, 600).too_low);
        assert!(!after(&mut guard, 0.23, 10).too_low);
    }

    #[test]
    fn a_level_that_is_not_measured_is_taken_on_its_bad_side() {
        let mut guard = TankGuard::default();
        let mut verdict = TankVerdict::default();
        for _ in 0..20 {
            verdict = guard.update(0.78, 0.015, &LIMITS, 10, 0.02, 1000);
        }
        assert!(verdict.high && !verdict.too_high && !verdict.low);
    }
}
