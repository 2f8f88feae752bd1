//! Fouling over weeks: what a lift gives of what it gave when clean, at what rate that falls, and when cleaning is due.
//!
//! Dirt is a loss of pressure that goes with the square of the water, so a mesh that fouls evenly makes `1 / factor^2` rise in a
//! straight line (the factor itself falls ever slower). Once a day that goes into a line fitted to the last two weeks. Fit and
//! memory are those of the expanding-memory polynomial filter of first degree, which is the least-squares line through all looks
//! and needs no record of them (Brookner, Tracking and Kalman Filtering Made Easy, 1998, section 1.2.10; from memory). A look that
//! surprises counts only in part, so a bad day moves the line little. What is kept takes eight bytes a lift and has the same bits
//! after a restart.

use crate::math::seldom::{larger, limit, positive, whole};
use crate::math::sqrt;
use serde::{Deserialize, Serialize};

/// Looks from which on a rate is told.
const TOLD_AFTER: u8 = 10;
/// Looks over which it is remembered.
const MEMORY: u8 = 14;
/// A look counts at most by so much off the line, relative to it: 5 % of the water. Less than what two days of fast fouling take, and
/// the line would lag behind for weeks once a clean lift begins to foul.
const SURPRISE: f32 = 0.1;
/// A look so much under the line is a lift that was cleaned: 5 % more water.
const CLEANED: f32 = 0.1;
/// The same where somebody worked on the lift: 1 % more.
const SERVED: f32 = 0.02;
/// Fouling that counts, share of the clean lift's water.
pub const FOULING_COUNTS: f32 = 0.03;
/// Slower than this a day, relative, it is a season and no fouling: 1.5 % of the water in a month.
const LEAST_RATE: f32 = 1.0e-3;
/// Units in which the clean factor is kept.
const FACTOR_UNIT: f32 = 1.0 / 20_000.0;
/// Units in which the line is kept.
const LINE_UNIT: f32 = 1.0 / 4000.0;
/// Units in which a rate is kept, a day.
const RATE_UNIT: f32 = 1.0e-5;
/// Factors between which the line is kept.
const FACTORS: (f32, f32) = (0.25, 3.2);
/// Days for "not to be foreseen".
const NEVER: u8 = u8::MAX;
/// Further ahead nothing is foreseen, days.
const FURTHEST: u8 = 180;

/// The trend of one lift.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trend {
    /// Delivery factor of the clean lift, in 20 000ths; 0 before it is known.
    clean: u16,
    /// `1 / factor^2` by the line, in 4000ths.
    line: u16,
    /// What that gains in a day, in 100 000ths.
    rate: i16,
    /// Looks since it began afresh, as far as they are remembered.
    looks: u8,
    /// Days until cleaning is due, as foreseen at the last look; 255 when it is not foreseen.
    due_days: u8,
}

impl Trend {
    /// Nothing known yet.
    pub const NEW: Self = Self {
        clean: 0,
        line: 0,
        rate: 0,
        looks: 0,
        due_days: NEVER,
    };

    /// Somebody worked on the lift. If it gives more now, it was cleaned.
    pub fn serve(&mut self) {
        self.looks = 0;
    }

    /// The day's look at its delivery factor; `None` on a day on which it could not be told. `sure` where more water than before is
    /// surely the lift's, because a stop has shown it or none can be made: it was cleaned then. Where it is not, it does not count.
    /// `counts` as for [`Trend::fouls`]: less than that is no cleaning either.
    pub fn look(&mut self, factor: Option<f32>, sure: bool, counts: f32) {
        let ahead = larger(self.line() + self.rate(), LINE_UNIT);
        let Some(factor) = factor else {
            if self.looks > 0 {
                self.line = kept(ahead / LINE_UNIT);
            }
            return;
        };
        let factor = limit(factor, FACTORS.0, FACTORS.1);
        let seen = 1.0 / (factor * factor);
        let off = seen - ahead;
        // `1 / factor^2` loses twice the share that the water gains, and a little more.
        let cleaned = larger(CLEANED, 2.5 * counts);
        let better = if self.looks == 0 { SERVED } else { cleaned };
        if self.clean > 0 && self.looks > 0 && !sure && off < -cleaned * ahead {
            self.line = kept(ahead / LINE_UNIT);
            return;
        }
        if self.clean == 0 || off < -better * ahead {
            self.clean = kept(factor / FACTOR_UNIT);
            self.looks = 0;
        }
        if self.looks == 0 {
            (self.line, self.rate, self.looks) = (kept(seen / LINE_UNIT), 0, 1);
            return;
        }
        let n = f32::from(self.looks);
        let of = (n + 1.0) * (n + 2.0);
        let (gain, rate_gain) = (2.0 * (2.0 * n + 1.0) / of, 6.0 / of);
        let off = limit(off, -SURPRISE * ahead, SURPRISE * ahead);
        let rate = limit((self.rate() + rate_gain * off) / RATE_UNIT, -32_000.0, 32_000.0);
        self.line = kept((ahead + gain * off) / LINE_UNIT);
        #[allow(clippy::cast_possible_truncation)] // held to what it takes
        let rate = rate as i16;
        self.rate = rate;
        if self.looks < MEMORY {
            self.looks += 1;
        }
        // Until the rate is told, what it gives is what it gave when clean.
        if self.looks <= 3 {
            self.clean = self.clean.max(kept(self.factor() / FACTOR_UNIT));
        }
    }

    /// True when it fouls, beyond what a season does, and by more than `counts`, a share of the clean lift's water: at least
    /// [`FOULING_COUNTS`], and beyond what the looks scatter.
    #[must_use]
    pub fn fouls(&self, counts: f32) -> bool {
        let least = LEAST_RATE * self.line();
        self.looks >= TOLD_AFTER && self.rate() > least && self.of_clean() < 1.0 - counts
    }

    /// Takes over in how many days nothing will make up for the fouling any more; `None` where it does not foul.
    pub fn foresee(&mut self, days: Option<u8>) {
        self.due_days = days.filter(|days| *days < FURTHEST).unwrap_or(NEVER);
    }

    /// Its factor in so many days, by the line; `None` before that is told.
    #[must_use]
    pub fn factor_in(&self, days: f32) -> Option<f32> {
        let more = positive(self.rate() * limit(days, 0.0, 255.0));
        (self.looks >= TOLD_AFTER).then(|| 1.0 / sqrt(larger(self.line(), LINE_UNIT) + more))
    }

    /// What the lift gives of what it gave when clean; 1 before that is known.
    #[must_use]
    pub fn of_clean(&self) -> f32 {
        if self.clean == 0 {
            1.0
        } else {
            self.factor() / self.clean()
        }
    }

    /// Factor of the clean lift; 0 before it is known.
    #[must_use]
    pub fn clean(&self) -> f32 {
        FACTOR_UNIT * f32::from(self.clean)
    }

    /// What it gave when it was last looked at, by the line; 0 before it was.
    #[must_use]
    #[inline(never)]
    pub fn last(&self) -> f32 {
        if self.clean > 0 { self.factor() } else { 0.0 }
    }

    /// What the lift gives of what it gave when clean, percent; `None` before it is known.
    #[must_use]
    pub fn percent_of_clean(&self) -> Option<u8> {
        #[allow(clippy::cast_possible_truncation)] // 250 at most
        let percent = whole(100.0 * self.of_clean() + 0.5, 250.0) as u8;
        (self.looks > 0).then_some(percent)
    }

    /// Days until cleaning is due, as foreseen at the last look.
    #[must_use]
    pub fn due_days(&self) -> Option<u8> {
        (self.due_days != NEVER).then_some(self.due_days)
    }

    fn line(&self) -> f32 {
        LINE_UNIT * f32::from(self.line)
    }

    fn rate(&self) -> f32 {
        RATE_UNIT * f32::from(self.rate)
    }

    /// The factor by the line.
    fn factor(&self) -> f32 {
        1.0 / sqrt(larger(self.line(), LINE_UNIT))
    }
}

/// A number of units as it is kept.
#[inline(never)]
fn kept(units: f32) -> u16 {
    whole(larger(units + 0.5, 1.0), 65_000.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Scatter of an estimate from day to day, uniform over 2 %.
    fn scatter(day: u16) -> f32 {
        let dice = u32::from(day).wrapping_mul(2_654_435_761).wrapping_add(1_013_904_223);
        (f32::from((dice >> 16) as u16) / 65_535.0 - 0.5) * 0.02
    }

    /// The factor of a lift whose dirt takes `share` of its clean entrance and friction losses more each day.
    fn fouled(clean: f32, share: f32, day: u16) -> f32 {
        clean / sqrt(1.0 + share * f32::from(day))
    }

    /// Such a lift, looked at with scatter.
    fn after(trend: &mut Trend, share: f32, days: u16, due: f32) {
        for day in 0..days {
            trend.look(Some(fouled(0.9, share, day) + scatter(day)), true, FOULING_COUNTS);
            foresee(trend, due);
        }
    }

    #[test]
    fn a_lift_whose_share_of_a_tank_swings_from_look_to_look_does_not_foul_until_it_gives_less_than_the_swing() {
        // Told 6 % more in one look of seven, after a stop of its neighbour.
        let swings = |day: u16, fouled: f32| fouled * if day % 7 == 3 { 0.93 } else { 0.875 };
        let mut trend = Trend::NEW;
        for day in 0..60 {
            trend.look(Some(swings(day, 1.0)), true, 0.08);
            assert!(!trend.fouls(0.08), "day {day}: {trend:?}");
        }
        let day = (0..60).find(|day| {
            trend.look(Some(swings(*day, 1.0 - 0.005 * f32::from(*day))), true, 0.08);
            trend.fouls(0.08)
        });
        assert!(day.is_some_and(|day| (10..40).contains(&day)), "{day:?}");
    }

    /// The first day on which it gives less than `due`.
    fn foresee(trend: &mut Trend, due: f32) {
        let gives = |day: u8| trend.factor_in(f32::from(day)).expect("it is told");
        let day = trend
            .fouls(FOULING_COUNTS)
            .then(|| (0..=254).find(|day| gives(*day) < due).unwrap_or(255));
        trend.foresee(day);
    }

    #[test]
    fn a_line_of_least_squares_comes_out_as_such() {
        // Against the closed form of the line through n points, to what a kept number resolves.
        let mut trend = Trend::NEW;
        let (mut sum, mut moment) = (0.0f64, 0.0f64);
        let n = u16::from(MEMORY);
        let middle = f64::from(n - 1) / 2.0;
        for day in 0..n {
            let factor = 0.9 - 0.002 * f32::from(day) + 0.3 * scatter(day);
            trend.look(Some(factor), true, FOULING_COUNTS);
            let seen = 1.0 / f64::from(factor).powi(2);
            sum += seen;
            moment += seen * (f64::from(day) - middle);
        }
        let slope = moment / (f64::from(n) * (f64::from(n).powi(2) - 1.0) / 12.0);
        let end = sum / f64::from(n) + slope * middle;
        assert!((f64::from(trend.rate()) - slope).abs() < 1.0e-4, "{slope} {trend:?}");
        assert!((f64::from(trend.line()) - end).abs() < 1.0e-3, "{end} {trend:?}");
    }

    #[test]
    fn a_fouling_lift_tells_its_share_and_when_it_is_due() {
        let mut trend = Trend::NEW;
        // After 40 days of 1 % it gives 1 / sqrt(1.4) = 85 %; due at 1 / sqrt(1.6), another 20 days on.
        after(&mut trend, 0.01, 41, 0.9 / sqrt(1.6));
        let percent = trend.percent_of_clean().expect("known");
        assert!((83..=86).contains(&percent), "{percent}");
        let days = trend.due_days().expect("foreseen");
        assert!((16..=24).contains(&days), "{days}");
    }

    #[test]
    fn a_lift_that_does_not_foul_is_foreseen_nothing() {
        let mut trend = Trend::NEW;
        for day in 0..365u16 {
            // A season of 2 % up and down.
            let season =
                0.02 * crate::math::sqrt(1.0 - (f32::from(day) / 182.5 - 1.0) * (f32::from(day) / 182.5 - 1.0));
            trend.look(Some(0.9 + season + scatter(day)), true, FOULING_COUNTS);
            foresee(&mut trend, 0.85);
            assert_eq!(trend.due_days(), None, "{day} {trend:?}");
        }
    }

    #[test]
    fn a_bad_day_moves_little_and_a_cleaning_begins_afresh() {
        let mut trend = Trend::NEW;
        after(&mut trend, 0.01, 30, 0.6);
        let before = trend.of_clean();
        trend.look(Some(0.3), true, FOULING_COUNTS);
        trend.look(None, true, FOULING_COUNTS);
        assert!(
            (trend.of_clean() / before - 1.0).abs() < 0.03,
            "{before} {}",
            trend.of_clean()
        );
        trend.look(Some(0.93), false, FOULING_COUNTS);
        assert!(
            (trend.of_clean() / before - 1.0).abs() < 0.04,
            "it may be the outlet that clogs"
        );
        trend.look(Some(0.93), true, FOULING_COUNTS);
        assert!((trend.of_clean() - 1.0).abs() < 1.0e-3);
        foresee(&mut trend, 0.6);
        assert_eq!((trend.looks, trend.due_days()), (1, None));
    }

    #[test]
    fn a_lift_that_was_served_but_not_cleaned_keeps_what_it_gave_when_clean() {
        let mut trend = Trend::NEW;
        after(&mut trend, 0.01, 30, 0.6);
        let before = trend.of_clean();
        trend.serve();
        trend.look(Some(fouled(0.9, 0.01, 30)), true, FOULING_COUNTS);
        assert!(
            (trend.of_clean() - before).abs() < 0.02,
            "{before} {}",
            trend.of_clean()
        );
        trend.serve();
        trend.look(Some(0.89), true, FOULING_COUNTS);
        assert!((trend.of_clean() - 1.0).abs() < 1.0e-3);
    }

    #[test]
    fn whatever_was_kept_and_whatever_is_seen_it_stays_within_bounds() {
        let worst = [0, 1, u16::MAX];
        for (clean, line) in worst.iter().flat_map(|a| worst.iter().map(move |b| (*a, *b))) {
            for (rate, looks) in [(i16::MIN, 0), (i16::MAX, 255), (0, 1)] {
                let mut trend = Trend {
                    clean,
                    line,
                    rate,
                    looks,
                    due_days: 3,
                };
                for factor in [Some(f32::NAN), None, Some(f32::INFINITY), Some(-1.0), Some(0.9)] {
                    trend.look(factor, true, FOULING_COUNTS);
                    assert!(trend.of_clean().is_finite());
                    assert!(
                        trend
                            .factor_in(f32::NAN)
                            .is_none_or(|factor| factor > 0.0 && factor < 100.0)
                    );
                }
            }
        }
    }
}
