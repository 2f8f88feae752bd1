//! The level as it is read, without any model of lifts and outlets.

use crate::possibly::Possibly;
use crate::reading::Checked;

/// Time over which readings are averaged, s: waves and scatter are gone, a rising tank is not.
const MEAN_S: f32 = 3.0;
/// Time over which its rate is taken, s.
const RATE_S: f32 = 10.0;

/// Running means of one level: two numbers.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Seen {
    mean_m: Possibly,
    lagging_m: f32,
}

impl Seen {
    /// Nothing read yet.
    pub const NOTHING: Self = Self {
        mean_m: Possibly::NONE,
        lagging_m: 0.0,
    };

    /// One reading. A missing or impossible one leaves nothing seen; one that is held back leaves what was seen before.
    ///
    /// A level that `jumped` begins afresh: it did not rise at a pace that will go on.
    pub fn note(&mut self, checked: Checked, jumped: bool, seconds: f32) {
        match (checked, self.mean_m.get().filter(|_| !jumped)) {
            (Checked::Level(level), Some(mean)) => {
                let mean = mean + seconds / (seconds + MEAN_S) * (level - mean);
                self.mean_m = Possibly::some(mean);
                self.lagging_m += seconds / (seconds + RATE_S) * (mean - self.lagging_m);
            }
            (Checked::Level(level), None) => {
                self.mean_m = Possibly::some(level);
                self.lagging_m = level;
            }
            (Checked::Implausible, _) => {}
            (Checked::Missing | Checked::OutOfRange, _) => self.mean_m = Possibly::NONE,
        }
    }

    /// The level, m, if it is read.
    #[must_use]
    pub fn level_m(&self) -> Option<f32> {
        self.mean_m.get()
    }

    /// How fast it moves, m/s; 0 where it is not read.
    #[must_use]
    pub fn rate_m_s(&self) -> f32 {
        self.mean_m.get().map_or(0.0, |mean| (mean - self.lagging_m) / RATE_S)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_that_rises_evenly_shows_its_rate_and_lags_by_seconds() {
        let mut seen = Seen::NOTHING;
        let mut level = 0.5;
        for _ in 0..120 {
            seen.note(Checked::Level(level), false, 1.0);
            level += 0.002;
        }
        assert!((seen.rate_m_s() / 0.002 - 1.0).abs() < 0.05, "{}", seen.rate_m_s());
        let lag = level - seen.level_m().unwrap();
        assert!((0.004..0.01).contains(&lag), "{lag}");
    }

    #[test]
    fn scatter_of_a_millimetre_is_no_rate() {
        // Every second reading a millimetre up, the others a millimetre down.
        let mut seen = Seen::NOTHING;
        for step in 0..200 {
            let off = if step % 2 == 0 { 0.001 } else { -0.001 };
            seen.note(Checked::Level(0.5 + off), false, 1.0);
        }
        assert!(seen.rate_m_s().abs() < 1.0e-4, "{}", seen.rate_m_s());
    }

    #[test]
    fn a_silent_sensor_shows_nothing() {
        let mut seen = Seen::NOTHING;
        seen.note(Checked::Level(0.5), false, 1.0);
        seen.note(Checked::Implausible, false, 1.0);
        assert_eq!(seen.level_m(), Some(0.5));
        seen.note(Checked::Level(0.9), true, 1.0);
        assert_eq!((seen.level_m(), seen.rate_m_s()), (Some(0.9), 0.0));
        seen.note(Checked::Missing, false, 1.0);
        assert_eq!(seen.level_m(), None);
        assert_eq!(seen.rate_m_s(), 0.0);
    }
}
