//! How far the trim may follow what a lift is said to deliver.
//!
//! The filter learns from levels, and levels can be wrong in ways that a lift cannot: a clogged return or a sensor pushed up reads as
//! more water, and following it would cut the air; a lift shut by hand or a valve that runs the wrong way reads as less, and
//! following it would throw the valve wide open. So the trim gets the learned factor through this: downwards only as fast as
//! things foul, upwards only to what the lift has been seen to deliver, and not at all while the lift stands still or gives no
//! answer to its air. When the fault is over, the valve is where it was.

mod answer;
mod seen_by_others;
#[cfg(test)]
mod tests;

use super::Hint;
use crate::condition::Condition;
use crate::math::{larger, seldom, smaller};
use crate::time::Held;

/// Time a lift's factor must have been known well before anything is judged by it, s.
const LEARNS_FOR_S: u32 = 900;
/// Deviation of a factor that is known well.
const KNOWN: f32 = 0.05;
/// A lift that gives less than this share of its curve stands, and nothing is to be learned of it: it would be expected to stand for ever.
const LEAST_LEARNED: f32 = 0.1;
/// Time over which the usual factor follows, s.
const USUAL_S: f32 = 3600.0;
/// Time over which the best factor is forgotten, s: two months.
const BEST_S: f32 = 5.0e6;
/// How fast the trim follows a factor that falls, share a second: 3 % a minute, far quicker than things foul.
const FALLS_PER_S: f32 = 5.0e-4;
/// How fast it is followed down while its tank stands high, share a second: 4 % an hour, as fast as things foul.
const FOULS_PER_S: f32 = 1.0e-5;
/// Share of the usual down to which it is followed unjudged.
const FOLLOWED: f32 = 0.6;
/// Above this share of the best ever seen, it is not believed.
const MORE: f32 = 1.2;
/// The same, and where that is over, of a lift of which a stop has proven that it does not give what it seems to.
const HELD: (f32, f32) = (1.05, 1.02);
/// Seconds for which it must stay above.
const MORE_AFTER_S: u32 = 300;
/// Below this share of the usual, the lift stands still.
const STANDS: f32 = 0.3;
/// Above this share of the usual it runs again.
const RUNS: f32 = 0.6;
/// Below this share of the most, several lifts into a tank give clearly less.
const WEAKER: f32 = 0.8;
/// Below this share of the most, one of several lifts into a tank stands still: which of them, levels do not tell.
const ONE_STANDS: f32 = 0.6;
/// Above this all of them run again.
const ALL_RUN: f32 = 0.8;
/// Seconds for which it must stand.
const STANDS_AFTER_S: u32 = 30;
/// Seconds for which it must run.
const RUNS_AFTER_S: u32 = 60;
/// A lift that stood and delivers again this share of the usual is on its way back.
const WAKES: f32 = 0.1;
/// A lift that delivers less than this share of its best is fouling.
const FOULED: f32 = 0.85;
/// Seconds for which it must.
const FOULED_AFTER_S: u32 = 1200;
/// Time in which what has happened to a lift shows wholly, s.
const SHOWS_IN_S: u32 = 300;
/// What a lift that seems to give too much is taken to give more, while it is tried with less air.
const TRY_LESS: f32 = 1.25;

/// What is known of a lift in one step.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Delivery {
    /// Learned factor.
    pub factor: f32,
    /// What all lifts of its tank together deliver now, as a share of the most they ever did at such air. Of lifts that share a
    /// tank only the sum is known at any moment.
    pub together: f32,
    /// Other lifts fill the same tank.
    pub shares: bool,
    /// Its variance.
    pub variance: f32,
    /// Flow of the curve at the air it is believed to get, m3/s.
    pub curve_m3_s: f32,
    /// Target of the moment, m3/s.
    pub target_m3_s: f32,
    /// The trim is at the end of its reach.
    pub at_its_most: bool,
    /// Most water of the curve, m3/s.
    pub peak_m3_s: f32,
    /// Another lift of its tank gives no answer to its air: what this one gives cannot be told.
    pub beside_one_lost: bool,
}

/// What the filter is to doubt of a lift's factor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Doubt {
    /// Nothing.
    Nothing,
    /// That it gives nothing: it stood, and gives more.
    Woken,
    /// All it learned while the lift gave no answer to its air: it does again what it is told.
    Answers,
}

/// How a lift's factor is taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Phase {
    /// As it is: too little is known.
    #[default]
    Learning,
    /// Within bounds.
    Sound,
    /// Not at all: more air gave no more water.
    NoAnswer,
    /// The same, and it is being found out whether its valve does not follow or it is past its peak.
    Asked,
}

/// What may be believed of one lift.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trust {
    phase: Phase,
    best: f32,
    usual: f32,
    used: f32,
    /// The share of the most that all lifts of its tank together are taken to deliver.
    together: f32,
    /// Flow of the curve when it was last on target, m3/s.
    curve_m3_s: f32,
    /// Least flow seen since, m3/s.
    flow_m3_s: f32,
    /// Flow of the curve when more air gave no more water, m3/s.
    past_m3_s: f32,
    /// Flow when it was last on target, m3/s.
    kept_m3_s: f32,
    /// Share of the curve's most water beyond which more air gave less: it is not given more.
    most: f32,
    /// Factor above which, by a tenth of the usual, a lift that stands is on its way: nothing at first, so that one which still gives a
    /// tenth is doubted at once; then the least it gave since.
    least: f32,
    timer: Held,
    stands: Condition,
    more: Condition,
    fouled: Condition,
    /// How long nothing has kept it from serving.
    serves_for: Held,
    /// It is being tried with less air, or has been.
    trying: bool,
    tried: bool,
    /// What a stop has proven that it seems to give and does not.
    held: Option<Hint>,
    /// All lifts of its tank together give clearly less than the most they ever did.
    weaker: bool,
}

impl Trust {
    /// Nothing known yet.
    pub const NEW: Self = Self {
        phase: Phase::Learning,
        best: 0.0,
        usual: 1.0,
        used: 1.0,
        together: 1.0,
        curve_m3_s: 0.0,
        flow_m3_s: 0.0,
        past_m3_s: 0.0,
        kept_m3_s: 0.0,
        most: 1.0,
        least: 0.0,
        timer: Held::NONE,
        stands: Condition::CLEAR,
        more: Condition::CLEAR,
        fouled: Condition::CLEAR,
        serves_for: Held::NONE,
        trying: false,
        tried: false,
        held: None,
        weaker: false,
    };

    /// Learns afresh, as after a service: what it has delivered at best is still expected of it.
    pub fn relearn(&mut self) {
        let (best, used) = (self.best, self.used);
        self.forget(self.usual);
        (self.best, self.used) = (best, used);
    }

    /// It was mended: until more is known it is taken to give the best that it ever gave.
    pub fn take_best(&mut self) {
        (self.usual, self.used) = (self.best, self.best);
    }

    /// A step in which the lift does not serve, or its tank is so full or empty that nothing can be told: all stays as it is.
    pub fn wait(&mut self) {
        self.serves_for.clear();
    }

    /// The same, and what was being tried with less air is over: what it gave before and gives after tells nothing.
    pub fn break_off(&mut self) {
        self.wait();
        self.trying = false;
    }

    /// Its outlet or its curve is another one now: what was read through the old one does not count.
    #[inline(never)]
    pub fn forget(&mut self, factor: f32) {
        *self = Self {
            usual: factor,
            used: factor,
            ..Self::NEW
        };
    }

    /// The sensor of its tank was put right: what was learned by it does not count. The lift gives this, and at best what it gave when it
    /// was last looked at (0: not known).
    pub fn put_right(&mut self, factor: f32, last: f32) {
        let best = if last > 0.0 {
            seldom::smaller(self.best, last)
        } else {
            0.0
        };
        self.forget(factor);
        self.best = best;
    }

    /// The airs it is believed to get are others now: its factors are `times` what they were for the same flow.
    pub fn rescale(&mut self, times: f32) {
        for factor in [&mut self.best, &mut self.usual, &mut self.used, &mut self.least] {
            *factor *= times;
        }
        self.curve_m3_s /= seldom::larger(times, 1.0e-3);
    }

    /// A step in which its tank stands above the upper warning level. What is seen may be too much, for overflows run that nobody
    /// knows well; so the trim follows a lift that gives less, as fast as things foul, and none that seems to give more. A lift of which nothing is known
    /// yet is learned all the same: its tank may always stand so.
    pub fn stand_high(&mut self, seen: &Delivery, seconds: f32, step_ms: u32) {
        self.wait();
        if self.phase == Phase::Learning {
            self.learn(seen, step_ms);
        } else if !seen.shares {
            // Its valve may stand open whatever it is told: with less air that shows, and a full tank needs no more.
            let more = self.note_more(seen, step_ms) && self.phase == Phase::Sound;
            let before = self.taken_more();
            if more {
                let _ = self.try_less(seen, step_ms);
            } else {
                (self.tried, self.trying) = (false, false);
            }
            self.used *= self.taken_more() / before;
            if self.gives_no_answer() {
                // Back to where it was, so that nothing is left to be made up for when it is over.
                let less = self.used * (1.0 - FALLS_PER_S * seconds);
                self.used = seldom::smaller(self.used, seldom::larger(less, self.usual));
                self.together = 1.0;
            } else if !self.holds_back() {
                let least = seldom::larger(self.used * (1.0 - FOULS_PER_S * seconds), FOLLOWED * self.usual);
                self.used = seldom::smaller(self.used, seldom::larger(seen.factor, least));
            }
        }
    }

    /// Does it seem to give more than it ever did? With less air on trial, a valve that does not follow seems to.
    #[inline(never)]
    fn note_more(&mut self, seen: &Delivery, step_ms: u32) -> bool {
        let (mut beyond, mut back) = (MORE, 0.93 * MORE);
        if let Some(seemed) = self.held {
            let still = match seemed {
                Hint::More => {
                    (beyond, back) = HELD;
                    seen.together > back
                }
                Hint::Less => seen.together < 1.0 / HELD.1,
            };
            if !still {
                self.held = None;
            }
        }
        self.more.update(
            seen.together > beyond && self.phase != Phase::Asked,
            seen.together < back,
            MORE_AFTER_S,
            step_ms,
        )
    }

    /// A step in which another lift is commissioned: the pressure of the manifold goes where it never was, and the valve that
    /// moves it may pass anything. The trim follows within bounds; nothing is judged by it.
    pub fn follow(&mut self, factor: f32) {
        self.wait();
        self.timer.clear();
        if self.phase == Phase::Learning {
            (self.used, self.usual) = (factor, factor);
        } else if !self.holds_back() {
            self.used = seldom::limit(factor, FOLLOWED * self.usual, MORE * self.usual);
        }
    }

    /// One step of a lift that the trim serves.
    ///
    /// Tells what the filter is to doubt.
    pub fn update(&mut self, seen: &Delivery, seconds: f32, step_ms: u32) -> Doubt {
        if self.phase == Phase::Learning {
            self.learn(seen, step_ms);
            return Doubt::Nothing;
        }
        self.serves_for.add(step_ms);
        if !self.serves_for.reached_s(SHOWS_IN_S) {
            return Doubt::Nothing;
        }
        let factor = seen.factor;
        let (stands, runs) = if seen.shares {
            (seen.together < ONE_STANDS, seen.together > ALL_RUN)
        } else {
            (factor < STANDS * self.usual, factor > RUNS * self.usual)
        };
        let runs_after_s = if seen.shares { SHOWS_IN_S } else { RUNS_AFTER_S };
        let stands = self
            .stands
            .update_slow(stands, runs, (STANDS_AFTER_S, runs_after_s), step_ms);
        let seemed_more = self.seems_more();
        let more = self.note_more(seen, step_ms);
        self.weaker = !stands && seen.together < WEAKER;
        self.fouled.update(
            factor < FOULED * self.best,
            factor > 1.05 * FOULED * self.best,
            FOULED_AFTER_S,
            step_ms,
        );
        if !stands {
            self.least = 0.0;
        }
        let gave_no_answer = self.phase == Phase::NoAnswer;
        let tries = if more && !stands && !seen.shares {
            self.try_less(seen, step_ms)
        } else {
            (self.tried, self.trying) = (false, false);
            self.judge_answer(seen, stands, step_ms)
        };
        // Of several whose outlet is free again, what each seemed to give beside the others was not its own.
        let is_free = seen.shares && seemed_more && !more && !stands;
        if is_free || gave_no_answer && self.is_on_target(seen) {
            // What was learned meanwhile was learned of air that it did not get.
            (self.used, self.together) = (self.usual, 1.0);
            self.wait();
            return Doubt::Answers;
        }
        if stands {
            self.used = self.usual;
            self.together = 1.0;
            // Doubted, it is known so badly that it flutters: only where it falls to half of that does it stand again.
            if factor < 0.5 * self.least {
                self.least = factor;
            }
            if factor > self.least + WAKES * self.usual {
                self.least = factor;
                return Doubt::Woken;
            }
        } else if seen.shares && self.phase == Phase::NoAnswer {
            (self.used, self.together) = (self.as_kept(seen), 1.0);
        } else if seen.beside_one_lost || self.held == Some(Hint::Less) {
            (self.used, self.together) = (self.usual, 1.0);
        } else if matches!(self.phase, Phase::NoAnswer | Phase::Asked) && !more {
            // The air at which it last did as it should ...
            self.used = seldom::limit(seen.target_m3_s / seldom::larger(self.curve_m3_s, 1.0e-9), 0.3, 3.0);
            if self.phase == Phase::NoAnswer {
                // ... or what it takes by what it usually gives to deliver what it last did: it may do as it is told at any moment.
                self.used = seldom::larger(self.used, self.as_kept(seen));
            }
            self.used *= tries;
        } else {
            let together = larger(seen.together, 0.01);
            let most = if more { 1.0 } else { MORE };
            self.together = larger(smaller(together, most), self.together * (1.0 - FALLS_PER_S * seconds));
            self.used = factor * self.together / together;
            self.used *= tries;
            if !more {
                let near = seldom::limit(factor, 0.8 * self.usual, MORE * self.best);
                self.usual += smaller(seconds / USUAL_S, 1.0) * (near - self.usual);
                self.best = larger(self.best * (1.0 - smaller(seconds / BEST_S, 1.0)), self.usual);
            }
        }
        Doubt::Nothing
    }

    fn learn(&mut self, seen: &Delivery, step_ms: u32) {
        (self.used, self.usual) = (seen.factor, seen.factor);
        if seen.variance < KNOWN * KNOWN && seen.factor > LEAST_LEARNED {
            self.timer.add(step_ms);
        } else {
            self.timer.clear();
        }
        if self.timer.reached_s(LEARNS_FOR_S) {
            self.phase = Phase::Sound;
            self.best = seldom::larger(self.best, seen.factor);
            self.together = seen.together;
            self.timer.clear();
            self.curve_m3_s = seen.curve_m3_s;
            self.flow_m3_s = seen.factor * seen.curve_m3_s;
        }
    }

    /// A stop took no water from its tank: its valve does not follow.
    pub fn lose(&mut self) {
        self.phase = Phase::NoAnswer;
        (self.used, self.together) = (self.usual, 1.0);
        self.timer.clear();
    }

    /// The factor with which it is asked for what it last delivered on target, or for its target where that is less.
    fn as_kept(&self, seen: &Delivery) -> f32 {
        let more = seen.target_m3_s / seldom::larger(self.kept_m3_s, 1.0e-9);
        self.usual * seldom::limit(more, 1.0, MORE)
    }

    /// A stop has proven that outlet or sensor are not what they were: it gives what it gave before, by this factor (0: not known, then what
    /// it usually gave), and neither more nor less as it seems to.
    pub fn hold(&mut self, seemed: Hint, before: f32) {
        let best = self.best;
        self.go_back_to(before);
        if seemed == Hint::Less {
            self.best = best;
        }
        self.held = Some(seemed);
    }

    /// It is taken to give this as ever, or the best it gave where that is less (0: not known).
    #[inline(never)]
    pub fn go_back_to(&mut self, factor: f32) {
        if factor > 0.0 {
            self.best = seldom::smaller(self.best, factor);
            self.usual = self.best;
        }
    }

    /// Sets what [`Trust::most_share`] gives, as it was kept over a restart; anything but a share from 0.05 to 1 counts as 1.
    pub fn set_most_share(&mut self, most: f32) {
        self.most = if (0.05..=1.0).contains(&most) { most } else { 1.0 };
    }

    /// Somebody has looked: what is seen is believed.
    pub fn believe(&mut self) {
        if self.seems_more() {
            self.best = 0.0;
            self.relearn();
        }
    }
}
