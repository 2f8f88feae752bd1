//! Level readings: scaling to metres and checking.

use crate::math::limit;
use crate::step::Reading;
use crate::time::Held;
use serde::{Deserialize, Serialize};

/// How a sensor's own number becomes a level: two points of a straight line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Scale {
    /// Sensor reading at the lower point, in the sensor's unit (mA, V, counts, m).
    pub raw_low: f32,
    /// Sensor reading at the upper point.
    pub raw_high: f32,
    /// Level at the lower point, m above the tank's floor.
    pub level_low_m: f32,
    /// Level at the upper point, m above the tank's floor.
    pub level_high_m: f32,
}

impl Scale {
    /// For a sensor that gives metres above the floor.
    pub const METRES: Self = Self {
        raw_low: 0.0,
        raw_high: 1.0,
        level_low_m: 0.0,
        level_high_m: 1.0,
    };

    /// The level at a raw reading, m.
    #[must_use]
    pub fn level_m(&self, raw: f32) -> f32 {
        let share = (raw - self.raw_low) / (self.raw_high - self.raw_low);
        self.level_low_m + share * (self.level_high_m - self.level_low_m)
    }
}

/// A level sensor as mounted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sensor {
    /// From its number to metres.
    pub scale: Scale,
    /// Added after scaling, m: the zero found on site.
    pub zero_m: f32,
    /// Scatter of one reading, RMS, m; 0.0001 to 0.1.
    pub noise_m: f32,
    /// Smallest step it can show, m.
    pub resolution_m: f32,
}

impl Sensor {
    /// Variance of one reading, m2: scatter and rounding.
    #[must_use]
    pub fn variance_m2(&self) -> f32 {
        self.noise_m * self.noise_m + self.resolution_m * self.resolution_m / 12.0
    }
}

/// What a checked reading is worth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Checked {
    /// A level to be believed, m above the floor.
    Level(f32),
    /// No reading came.
    Missing,
    /// A number that no water in this tank can give: not finite, below the floor or far above the rim.
    OutOfRange,
    /// Further from the last believed reading than water can have moved; held back until it persists.
    Implausible,
}

/// Seconds for which a level that jumped must stay where it jumped to before it is believed.
pub const JUMP_BELIEVED_AFTER_S: u32 = 20;

/// Rate that any level may have besides what lifts and outlets do, m/s: a hose, a person at work.
const ANY_RATE_M_S: f32 = 0.003;

/// Watches one sensor from step to step.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Watch {
    believed_m: Option<f32>,
    since_s: f32,
    jumped_to_m: f32,
    jumped_for: Held,
    believed_jump: bool,
}

impl Watch {
    /// Checks one reading against the range of sensor and tank, and against the fastest the water can move:
    /// `rate_m_s` by lifts and outlets together.
    ///
    /// A reading further from the last believed one is held back. When readings stay at the new level for
    /// [`JUMP_BELIEVED_AFTER_S`], the water really is there (a bucket, a displaced sensor): it is believed, and
    /// [`Watch::believed_jump`] tells the estimator to start afresh from it.
    pub fn check(
        &mut self,
        reading: Reading,
        sensor: &Sensor,
        rim_m: f32,
        rate_m_s: f32,
        (step_ms, seconds): (u32, f32),
    ) -> Checked {
        self.believed_jump = false;
        self.since_s = limit(self.since_s + seconds, 0.0, 3600.0);
        let Reading::Value(raw) = reading else {
            self.jumped_for.clear();
            return Checked::Missing;
        };
        let level = sensor.scale.level_m(raw) + sensor.zero_m;
        // A dry sensor may read a little below the floor, a brimming one above the rim.
        if !level.is_finite() || level < -0.1 || level > rim_m + 0.25 {
            self.jumped_for.clear();
            return Checked::OutOfRange;
        }
        let level = limit(level, 0.0, rim_m + 0.25);
        let scatter = 8.0 * sensor.noise_m + 2.0 * sensor.resolution_m;
        let reach = scatter + (rate_m_s + ANY_RATE_M_S) * self.since_s;
        if self.believed_m.is_none_or(|believed| (level - believed).abs() <= reach) {
            self.believe(level);
            return Checked::Level(level);
        }
        if (level - self.jumped_to_m).abs() > scatter + 0.005 {
            self.jumped_for.clear();
        }
        self.jumped_to_m = level;
        self.jumped_for.add(step_ms);
        if self.jumped_for.reached_s(JUMP_BELIEVED_AFTER_S) {
            self.believe(level);
            self.believed_jump = true;
            return Checked::Level(level);
        }
        Checked::Implausible
    }

    fn believe(&mut self, level_m: f32) {
        self.believed_m = Some(level_m);
        self.since_s = 0.0;
        self.jumped_for.clear();
    }

    /// True when the last check believed a level that had jumped.
    #[must_use]
    pub fn believed_jump(&self) -> bool {
        self.believed_jump
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SENSOR: Sensor = Sensor {
        scale: Scale::METRES,
        zero_m: 0.0,
        noise_m: 0.001,
        resolution_m: 0.001,
    };

    fn check(watch: &mut Watch, level_m: f32) -> Checked {
        watch.check(Reading::Value(level_m), &SENSOR, 0.8, 0.005, (1000, 1.0))
    }

    #[test]
    fn a_splash_is_held_back_and_a_lasting_jump_is_believed() {
        let mut watch = Watch::default();
        assert_eq!(check(&mut watch, 0.5), Checked::Level(0.5));
        assert_eq!(check(&mut watch, 0.6), Checked::Implausible);
        assert_eq!(check(&mut watch, 0.5), Checked::Level(0.5));
        // 0.18 m away: further than 13 mm of scatter and 20 s at 8 mm/s.
        let seen: [Checked; 20] = core::array::from_fn(|_| check(&mut watch, 0.79));
        assert!(
            seen.iter().take(19).all(|checked| *checked == Checked::Implausible),
            "{seen:?}"
        );
        assert_eq!(seen.last(), Some(&Checked::Level(0.79)));
        assert!(watch.believed_jump());
    }

    #[test]
    fn a_level_may_move_as_fast_as_lifts_and_outlets_can_move_it() {
        let mut watch = Watch::default();
        let mut level = 0.3;
        for _ in 0..60 {
            assert!(matches!(check(&mut watch, level), Checked::Level(_)), "at {level}");
            level += 0.005;
        }
    }

    #[test]
    fn numbers_no_water_can_give_are_out_of_range() {
        let mut watch = Watch::default();
        for raw in [f32::NAN, f32::INFINITY, -0.2, 1.06] {
            assert_eq!(check(&mut watch, raw), Checked::OutOfRange, "{raw}");
        }
    }
}
