//! Limits on levels.

use crate::condition::Condition;
use crate::math::seldom;
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
    /// Rises so fast that it would run over before the lifts that feed it can be held: hold them now.
    pub rising_fast: bool,
    /// Falls so fast that it would be half way from its lower act limit to dry before the lifts that draw from it can be held:
    /// hold them now.
    pub falling_fast: bool,
}

impl TankVerdict {
    /// The lifts that feed the tank are to be held.
    #[must_use]
    pub const fn holds_feeders(&self) -> bool {
        self.too_high || self.rising_fast
    }

    /// The lifts that draw from the tank are to be held.
    #[must_use]
    pub const fn holds_drawers(&self) -> bool {
        self.too_low || self.falling_fast
    }
}

/// What the guard is told of a tank.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TankView {
    /// Highest level it may stand at, m.
    pub top_m: f32,
    /// Lowest level it may stand at, m.
    pub bottom_m: f32,
    /// How fast the level moves, m/s; 0 when it is not measured.
    pub rate_m_s: f32,
    /// Time it takes to hold a lift from where its valve stands, s.
    pub lead_s: f32,
    /// Where water runs over, m.
    pub rim_m: f32,
}

/// Seconds for which a level must be on its way beyond a limit before the guard believes it: its rate is a mean of some seconds.
const ON_ITS_WAY_S: u32 = 3;
/// Seconds for which it must be back within its act limits before lifts held so are let go.
const LET_GO_S: u32 = 60;

/// Watches the level of one tank.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TankGuard {
    high: Condition,
    too_high: Condition,
    low: Condition,
    too_low: Condition,
    rising_fast: Condition,
    falling_fast: Condition,
}

/// How far to each side a level is taken that is not measured, m: two deviations, at most 50 mm.
#[must_use]
pub fn doubt_m(unsure_m: f32) -> f32 {
    seldom::limit(2.0 * unsure_m, 0.0, 0.05)
}

impl TankGuard {
    /// True while none of its conditions stands or turns.
    fn rests(&self) -> bool {
        let all = [
            self.too_high,
            self.low,
            self.too_low,
            self.rising_fast,
            self.falling_fast,
        ];
        all.into_iter().fold(self.high, Condition::or).rests()
    }

    /// One step with what is known of the tank.
    ///
    /// The limits have the delay of the settings; a level on its way over the rim, that would be there by the time the lifts are
    /// held, is acted on at once.
    pub fn update(
        &mut self,
        view: &TankView,
        limits: &LevelLimits,
        delay_s: u32,
        deadband_m: f32,
        step_ms: u32,
    ) -> TankVerdict {
        let (top, bottom) = (view.top_m, view.bottom_m);
        let ahead_m = view.rate_m_s * view.lead_s;
        if self.rests()
            && top <= limits.high_warn_m
            && top <= limits.high_act_m
            && top + ahead_m <= view.rim_m
            && bottom >= limits.low_warn_m
            && bottom >= limits.low_act_m
            && bottom + ahead_m >= 0.5 * limits.low_act_m
        {
            return TankVerdict::default();
        }
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
        let on_its_way = |condition: &mut Condition, beyond: bool, back: bool| {
            condition.update_slow(beyond && !back, back, (ON_ITS_WAY_S, LET_GO_S), step_ms)
        };
        let rising_fast = on_its_way(
            &mut self.rising_fast,
            ahead_m > 0.0 && top + ahead_m > view.rim_m,
            top < limits.high_act_m - deadband_m && top + ahead_m < view.rim_m,
        );
        let falling_fast = on_its_way(
            &mut self.falling_fast,
            ahead_m < 0.0 && bottom + ahead_m < 0.5 * limits.low_act_m,
            bottom > limits.low_act_m + deadband_m && bottom + ahead_m > 0.5 * limits.low_act_m,
        );
        TankVerdict {
            high,
            too_high,
            low,
            too_low,
            rising_fast,
            falling_fast,
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

    fn still(top_m: f32, bottom_m: f32) -> TankView {
        TankView {
            top_m,
            bottom_m,
            rate_m_s: 0.0,
            lead_s: 40.0,
            rim_m: 1.0,
        }
    }

    #[test]
    fn a_level_that_would_run_over_before_the_lifts_are_held_is_acted_on_before_it_does() {
        // 1.5 mm/s for the 40 s that holding takes are 60 mm: acted on 60 mm below the rim.
        let mut guard = TankGuard::default();
        let rising = |level| TankView {
            rate_m_s: 0.0015,
            ..still(level, level)
        };
        let mut acted_at = None;
        for step in 0..270u16 {
            let level = 0.6 + 0.0015 * f32::from(step);
            let verdict = guard.update(&rising(level), &LIMITS, 100, 0.02, 1000);
            if verdict.holds_feeders() && acted_at.is_none() {
                acted_at = Some(level);
            }
        }
        let acted_at = acted_at.unwrap();
        assert!((0.94..0.95).contains(&acted_at), "{acted_at}");
        for second in 0..120 {
            let verdict = guard.update(&still(0.87, 0.87), &LIMITS, 100, 0.02, 1000);
            assert_eq!(verdict.rising_fast, second < 59, "{second}");
        }
    }

    fn after(guard: &mut TankGuard, level_m: f32, seconds: u32) -> TankVerdict {
        let mut verdict = TankVerdict::default();
        for _ in 0..seconds {
            verdict = guard.update(&still(level_m, level_m), &LIMITS, 10, 0.02, 1000);
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
            let doubt = doubt_m(0.015);
            verdict = guard.update(&still(0.78 + doubt, 0.78 - doubt), &LIMITS, 10, 0.02, 1000);
        }
        assert!(verdict.high && !verdict.too_high && !verdict.low);
    }
}
