//! Level readings: scaling to metres and checking.

pub use crate::reading::Checked;

use crate::condition::Condition;
use crate::math::{larger, limit, seldom, smaller, sqrt};
use crate::possibly::Possibly;
use crate::reading::Reading;
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

/// Seconds for which a level that jumped must stay where it jumped to before it is believed.
pub const JUMP_BELIEVED_AFTER_S: u32 = 20;

/// Lowest level read that can be one, m: a dry sensor may read a little below the floor.
pub(crate) const LOWEST_M: f32 = -0.1;
/// How far above the rim a level can be read, m: a brimming tank stands above it, and the sensor may be off by its zero.
pub(crate) const ABOVE_RIM_M: f32 = 0.25;
/// Rate that any level may have besides what lifts and outlets do, m/s: a hose, a person at work.
const ANY_RATE_M_S: f32 = 0.003;

/// Seconds for which a sensor must give the same number before it counts as stuck ...
const STUCK_AFTER_S: u32 = 180;
/// ... and as many readings.
const STUCK_READINGS: u32 = 60;
/// A sensor with less scatter than this share of its step may well give the same number for long.
const SCATTER_SHOWS: f32 = 0.3;
/// Time over which the scatter is measured, s.
const SCATTER_S: f32 = 60.0;
/// A sensor counts as noisy when its variance is more than this many times what it should be, and no more when it is less than
/// half of that.
const NOISY: f32 = 9.0;
/// Seconds of scatter until a sensor counts as noisy, and of quiet until it no longer does.
const NOISY_AFTER_S: (u32, u32) = (120, 300);
/// A single difference counts for at most this many deviations: a jump is no scatter.
const MOST_DEVIATIONS: f32 = 30.0;

/// Watches one sensor from step to step.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Watch {
    believed_m: Possibly,
    since_s: f32,
    /// Where the readings jumped to; no number when it was just believed that they did.
    jumped_to_m: f32,
    jumped_for: Held,
    /// What its readings are too high by since it was moved, m.
    shift_m: f32,
    last_m: f32,
    same_for: Held,
    variance_m2: f32,
    noisy: Condition,
}

impl Watch {
    /// Checks one reading against the range of sensor and tank, and against the fastest the water can move:
    /// `rate_m_s` by lifts and outlets together.
    ///
    /// A reading further from the last believed one is held back. When readings stay at the new level for
    /// [`JUMP_BELIEVED_AFTER_S`], it is believed that they jumped, and [`Watch::believed_jump`] tells so: the water (a bucket), or
    /// the sensor. A sensor that gives the same number again and again is not believed either.
    pub fn check(
        &mut self,
        reading: Reading,
        sensor: &Sensor,
        rim_m: f32,
        rate_m_s: f32,
        (step_ms, seconds): (u32, f32),
    ) -> Checked {
        if self.believed_jump() {
            self.jumped_to_m = 0.0;
        }
        self.since_s = limit(self.since_s + seconds, 0.0, 3600.0);
        let Reading::Value(raw) = reading else {
            self.jumped_for.clear();
            return Checked::Missing;
        };
        let read = sensor.scale.level_m(raw) + sensor.zero_m;
        if !read.is_finite() || read < LOWEST_M || read > rim_m + ABOVE_RIM_M {
            self.jumped_for.clear();
            return Checked::OutOfRange;
        }
        self.measure(read, sensor, (step_ms, seconds));
        if self.is_stuck(sensor, step_ms) {
            self.jumped_for.clear();
            return Checked::Implausible;
        }
        let most = rim_m + ABOVE_RIM_M;
        let level = limit(read - self.shift_m, 0.0, most);
        let deviation = if self.noisy.stands() {
            sqrt(self.variance_m2)
        } else {
            sensor.noise_m
        };
        let scatter = 8.0 * deviation + 2.0 * sensor.resolution_m;
        let rate = rate_m_s + ANY_RATE_M_S;
        let Some(believed) = self.believed_m.get() else {
            self.believe(level);
            return Checked::Level(level);
        };
        let off = |level: f32| (level - believed).abs();
        let held_back = self.jumped_for.ms() > 0;
        let reach = scatter + rate * if held_back { seconds } else { self.since_s };
        let mut level = level;
        if self.shift_m != 0.0 {
            let plain = seldom::limit(read, 0.0, most);
            if off(plain) <= reach && off(plain) + scatter < off(level) {
                self.shift_m = 0.0;
                level = plain;
            }
        }
        if off(level) <= reach {
            self.believe(level);
            return Checked::Level(level);
        }
        if held_back && (level - self.jumped_to_m).abs() > scatter + 0.005 {
            // Still on the move: water may do that as fast as water can.
            self.jumped_for.clear();
            if off(level) <= scatter + rate * self.since_s {
                self.believe(level);
                return Checked::Level(level);
            }
        }
        self.jumped_to_m = level;
        self.jumped_for.add(step_ms);
        if self.jumped_for.reached_s(JUMP_BELIEVED_AFTER_S) {
            self.believe(level);
            self.jumped_to_m = f32::NAN;
            return Checked::Level(level);
        }
        Checked::Implausible
    }

    fn believe(&mut self, level_m: f32) {
        self.believed_m = Possibly::some(level_m);
        self.since_s = 0.0;
        self.jumped_for.clear();
    }

    /// Keeps the scatter from one reading to the next, and how long nothing has changed.
    fn measure(&mut self, read_m: f32, sensor: &Sensor, (step_ms, seconds): (u32, f32)) {
        let told = sensor.variance_m2();
        let step = read_m - self.last_m;
        self.last_m = read_m;
        if step == 0.0 {
            self.same_for.add(step_ms);
        } else {
            self.same_for.clear();
        }
        // Half the square of a difference has the variance of one reading for its mean.
        let square = smaller(0.5 * step * step, 0.5 * MOST_DEVIATIONS * MOST_DEVIATIONS * told);
        let before = if self.variance_m2 > 0.0 { self.variance_m2 } else { told };
        self.variance_m2 = before + seconds / (seconds + SCATTER_S) * (square - before);
        let (beyond, back) = (self.variance_m2 > NOISY * told, self.variance_m2 < 0.5 * NOISY * told);
        self.noisy.update_slow(beyond, back, NOISY_AFTER_S, step_ms);
    }

    /// True when it has given the same number for so long that its scatter should have shown.
    #[must_use]
    pub fn is_stuck(&self, sensor: &Sensor, period_ms: u32) -> bool {
        // What follows is asked three times a step, and this settles it nearly always.
        if !self.same_for.reached_s(STUCK_AFTER_S) {
            return false;
        }
        let readings_s = period_ms.saturating_mul(STUCK_READINGS) / 1000;
        let long = if readings_s > STUCK_AFTER_S {
            readings_s
        } else {
            STUCK_AFTER_S
        };
        sensor.noise_m > SCATTER_SHOWS * sensor.resolution_m && self.same_for.reached_s(long)
    }

    /// True when its readings scatter far more than they should.
    #[must_use]
    pub fn is_noisy(&self) -> bool {
        self.noisy.stands()
    }

    /// Variance of one reading, m2: as told, or as measured where it is noisy.
    #[must_use]
    pub fn variance_m2(&self, sensor: &Sensor) -> f32 {
        if self.is_noisy() {
            larger(self.variance_m2, sensor.variance_m2())
        } else {
            sensor.variance_m2()
        }
    }

    /// True when the last check believed a level that had jumped.
    #[must_use]
    pub fn believed_jump(&self) -> bool {
        self.jumped_to_m.is_nan()
    }

    /// What its readings are too high by since it was moved, m; 0 for a sensor where it should be.
    #[must_use]
    pub fn shift_m(&self) -> f32 {
        self.shift_m
    }

    /// The sensor was moved, not the water: its readings are too high by this much more, m.
    pub fn shift_by(&mut self, more_m: f32) {
        self.shift_m += more_m;
        self.move_believed(-more_m);
    }

    /// Its readings are believed as they are from now on.
    pub fn unshift(&mut self) {
        self.move_believed(self.shift_m);
        self.shift_m = 0.0;
    }

    fn move_believed(&mut self, up_m: f32) {
        if let Some(level) = self.believed_m.get() {
            self.believed_m = Possibly::some(level + up_m);
        }
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

    #[test]
    fn a_step_of_the_zero_is_a_jump_even_where_water_could_have_come_as_far_in_some_seconds() {
        let mut watch = Watch::default();
        for step in 0..60 {
            check(&mut watch, 0.5 + if step % 2 == 0 { 0.0005 } else { -0.0005 });
        }
        let mut jumped = 0;
        for step in 0..60 {
            check(&mut watch, 0.53 + if step % 2 == 0 { 0.0005 } else { -0.0005 });
            jumped += u32::from(watch.believed_jump());
        }
        assert_eq!(jumped, 1);
        // Put back: at once what it was.
        watch.shift_by(0.03);
        assert!(matches!(check(&mut watch, 0.5301), Checked::Level(level) if (level - 0.5).abs() < 0.002));
        assert!(matches!(check(&mut watch, 0.5), Checked::Level(level) if (level - 0.5).abs() < 0.002));
        assert_eq!(watch.shift_m(), 0.0);
    }

    #[test]
    fn a_sensor_that_gives_the_same_number_for_three_minutes_is_stuck_until_it_moves() {
        let mut watch = Watch::default();
        for second in 0..400 {
            let checked = check(&mut watch, 0.5);
            assert_eq!(checked == Checked::Implausible, second >= 180, "{second}");
        }
        assert!(matches!(check(&mut watch, 0.501), Checked::Level(_)));
    }

    #[test]
    fn ten_times_the_scatter_is_noise_and_no_jump() {
        let mut watch = Watch::default();
        let mut dice = 1u32;
        let mut found = None;
        for second in 0..900u32 {
            // Uniform over 34 mm: ten times the deviation of a millimetre.
            dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            #[allow(clippy::cast_precision_loss)]
            let off = ((dice >> 8) as f32 / 16_777_216.0 - 0.5) * 0.0346;
            check(&mut watch, 0.5 + off);
            assert!(!watch.believed_jump(), "{second}");
            if watch.is_noisy() && found.is_none() {
                found = Some(second);
            }
        }
        assert!(found.is_some_and(|second| second < 600), "{found:?}");
        assert!((watch.variance_m2(&SENSOR) / 1.0e-4 - 1.0).abs() < 0.5);
    }
}
