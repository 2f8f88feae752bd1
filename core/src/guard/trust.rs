//! How far the trim may follow what a lift is said to deliver.
//!
//! The filter learns from levels, and levels can be wrong in ways that a lift cannot: a clogged return or a sensor pushed up reads as
//! more water, and following it would cut the air; a lift shut by hand or a valve that runs the wrong way reads as less, and
//! following it would throw the valve wide open. So the trim gets the learned factor through this: downwards only as fast as
//! things foul, upwards only to what the lift has been seen to deliver, and not at all while the lift stands still or gives no
//! answer to its air. When the fault is over, the valve is where it was.

use super::Condition;
use crate::math::{larger, limit, smaller};
use crate::time::Held;

/// Time a lift's factor must have been known well before anything is judged by it, s.
const LEARNS_FOR_S: u32 = 900;
/// Deviation of a factor that is known well.
const KNOWN: f32 = 0.05;
/// Time over which the usual factor follows, s.
const USUAL_S: f32 = 3600.0;
/// Time over which the best factor is forgotten, s: two months.
const BEST_S: f32 = 5.0e6;
/// How fast the trim follows a factor that falls, share a second: 3 % a minute, far quicker than things foul.
const FALLS_PER_S: f32 = 5.0e-4;
/// Above this share of the best ever seen, it is not believed.
const MORE: f32 = 1.2;
/// Seconds for which it must stay above.
const MORE_AFTER_S: u32 = 300;
/// Below this share of the usual, the lift stands still.
const STANDS: f32 = 0.3;
/// Above this share of the usual it runs again.
const RUNS: f32 = 0.6;
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
/// Below this share of its target a lift is off it.
const OFF: f32 = 0.95;
/// Time in which what has happened to a lift shows wholly, s.
const SHOWS_IN_S: u32 = 300;
/// With so much more air by the curve ...
const MORE_CURVE: f32 = 1.25;
/// ... or this, where it cannot get more ...
const SOME_CURVE: f32 = 1.05;
/// ... its flow must have grown by at least this share of it.
const ANSWER: f32 = 0.25;
/// What a lift that seems to give too much is taken to give more, while it is tried with less air.
const TRY_LESS: f32 = 1.25;
/// Time after which a lift that gave no answer is tried again, s.
const TRY_AGAIN_S: u32 = 3 * 3600;

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
    /// Its standard deviation.
    pub sigma: f32,
    /// Flow of the curve at the air it is believed to get, m3/s.
    pub curve_m3_s: f32,
    /// Target of the moment, m3/s.
    pub target_m3_s: f32,
    /// The trim is at the end of its reach.
    pub at_its_most: bool,
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
}

/// What may be believed of one lift.
#[derive(Clone, Copy, Debug, Default)]
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
    timer: Held,
    stands: Condition,
    more: Condition,
    fouled: Condition,
    /// How long nothing has kept it from serving.
    serves_for: Held,
    /// It is being tried with less air, or has been.
    trying: bool,
    tried: bool,
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
        timer: Held::NONE,
        stands: Condition::CLEAR,
        more: Condition::CLEAR,
        fouled: Condition::CLEAR,
        serves_for: Held::NONE,
        trying: false,
        tried: false,
    };

    /// Learns afresh, as after a service: what it has delivered at best is still expected of it.
    pub fn relearn(&mut self) {
        *self = Self {
            best: self.best,
            usual: self.usual,
            used: self.used,
            ..Self::NEW
        };
    }

    /// A step in which the lift does not serve, or its tank is so full or empty that nothing can be told: all stays as it is.
    pub fn wait(&mut self) {
        self.serves_for.clear();
    }

    /// One step of a lift that the trim serves.
    ///
    /// True when a lift that stood gives more: the filter, sure by now that it gives nothing, is to doubt that.
    pub fn update(&mut self, seen: &Delivery, seconds: f32, step_ms: u32) -> bool {
        if self.phase == Phase::Learning {
            self.learn(seen, step_ms);
            return false;
        }
        self.serves_for.add(step_ms);
        if !self.serves_for.reached_s(SHOWS_IN_S) {
            return false;
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
        let more = self
            .more
            .update(seen.together > MORE, seen.together < 0.93 * MORE, MORE_AFTER_S, step_ms);
        self.fouled.update(
            factor < FOULED * self.best,
            factor > 1.05 * FOULED * self.best,
            FOULED_AFTER_S,
            step_ms,
        );
        let tries = if more && !stands && !seen.shares {
            self.try_less(seen, step_ms)
        } else {
            (self.tried, self.trying) = (false, false);
            self.judge_answer(seen, stands, step_ms);
            false
        };
        if stands {
            self.used = self.usual;
            self.together = 1.0;
            // While it stands, the least it gave is kept where else the flow on target is.
            self.flow_m3_s = smaller(self.flow_m3_s, factor);
            if factor > self.flow_m3_s + WAKES * self.usual {
                self.flow_m3_s = factor;
                return true;
            }
        } else if self.phase == Phase::NoAnswer && !more {
            // The air at which it last did as it should.
            self.used = limit(seen.target_m3_s / larger(self.curve_m3_s, 1.0e-9), 0.3, 3.0);
        } else {
            let together = larger(seen.together, 0.01);
            let most = if more { 1.0 } else { MORE };
            self.together = larger(smaller(together, most), self.together * (1.0 - FALLS_PER_S * seconds));
            self.used = factor * self.together / together;
            if tries {
                self.used *= TRY_LESS;
            }
            if !more {
                let near = limit(factor, 0.8 * self.usual, MORE * self.best);
                self.usual += smaller(seconds / USUAL_S, 1.0) * (near - self.usual);
                self.best = larger(self.best * (1.0 - smaller(seconds / BEST_S, 1.0)), self.usual);
            }
        }
        false
    }

    fn learn(&mut self, seen: &Delivery, step_ms: u32) {
        (self.used, self.usual) = (seen.factor, seen.factor);
        if seen.sigma < KNOWN {
            self.timer.add(step_ms);
        } else {
            self.timer.clear();
        }
        if self.timer.reached_s(LEARNS_FOR_S) {
            self.phase = Phase::Sound;
            self.best = larger(self.best, seen.factor);
            self.together = seen.together;
            self.timer.clear();
            self.curve_m3_s = seen.curve_m3_s;
            self.flow_m3_s = seen.factor * seen.curve_m3_s;
        }
    }

    /// A lift that seems to give more than it ever did gets a fifth less for some minutes, once: where that shows nothing, its valve
    /// stands open whatever it is told; where it does, it is the outlet or the sensor. True while it gets less.
    fn try_less(&mut self, seen: &Delivery, step_ms: u32) -> bool {
        if self.tried {
            return false;
        }
        let flow = seen.factor * seen.curve_m3_s;
        if !self.trying {
            self.trying = true;
            self.timer.clear();
        }
        self.timer.add(step_ms);
        if !self.timer.reached_s(SHOWS_IN_S) {
            (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
            return false;
        }
        if !self.timer.reached_s(2 * SHOWS_IN_S) {
            return true;
        }
        let less = 1.0 - seen.curve_m3_s / larger(self.curve_m3_s, 1.0e-9);
        if less > 0.1 && flow > self.flow_m3_s * (1.0 - ANSWER * less) {
            self.phase = Phase::NoAnswer;
        }
        (self.tried, self.trying) = (true, false);
        self.timer.clear();
        false
    }

    /// Does more air give more water? Asked while the lift is below its target: from when what befell it shows wholly, the flow
    /// must grow with the air.
    fn judge_answer(&mut self, seen: &Delivery, stands: bool, step_ms: u32) {
        let flow = seen.factor * seen.curve_m3_s;
        if stands {
            self.timer.clear();
            return;
        }
        if seen.shares || flow >= OFF * seen.target_m3_s {
            self.phase = Phase::Sound;
            (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
            self.timer.clear();
            return;
        }
        self.timer.add(step_ms);
        if self.phase == Phase::NoAnswer {
            if self.timer.reached_s(TRY_AGAIN_S) {
                self.phase = Phase::Sound;
                (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
                self.timer.clear();
            }
            return;
        }
        if !self.timer.reached_s(SHOWS_IN_S) {
            self.flow_m3_s = smaller(self.flow_m3_s, flow);
            return;
        }
        let more = seen.curve_m3_s / larger(self.curve_m3_s, 1.0e-9);
        if more > MORE_CURVE || (seen.at_its_most && more > SOME_CURVE) {
            if flow < self.flow_m3_s * (1.0 + ANSWER * (more - 1.0)) {
                self.phase = Phase::NoAnswer;
                self.timer.clear();
            } else {
                (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
            }
        }
    }

    /// The factor the trim is to use.
    #[must_use]
    pub fn used(&self) -> f32 {
        self.used
    }

    /// The most it has delivered, as a share of its curve; 0 before it is known.
    #[must_use]
    pub fn best(&self) -> f32 {
        self.best
    }

    /// True once something can be judged by what was learned.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.phase != Phase::Learning
    }

    /// The lift moves next to nothing all of a sudden.
    #[must_use]
    pub fn stands(&self) -> bool {
        self.stands.stands()
    }

    /// The lift seems to deliver more than it ever did.
    #[must_use]
    pub fn seems_more(&self) -> bool {
        self.more.stands()
    }

    /// More air gave no more water.
    #[must_use]
    pub fn gives_no_answer(&self) -> bool {
        self.phase == Phase::NoAnswer
    }

    /// The lift delivers clearly less than it did at best.
    #[must_use]
    pub fn is_fouled(&self) -> bool {
        self.fouled.stands()
    }

    /// What it delivers of the best it did, percent.
    #[must_use]
    pub fn percent_of_best(&self, factor: f32) -> u16 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held to 0..1000
        let percent = limit(100.0 * factor / larger(self.best, 0.01), 0.0, 1000.0) as u16;
        percent
    }

    /// True when the trim goes by what was learned before, not by what is seen now.
    #[must_use]
    pub fn holds_back(&self) -> bool {
        self.stands() || self.seems_more() || self.gives_no_answer()
    }

    /// Somebody has looked: what is seen is believed.
    pub fn believe(&mut self) {
        if self.seems_more() {
            self.best = 0.0;
            self.relearn();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One litre a second asked for; the curve gives what the trim would ask of it.
    fn step(trust: &mut Trust, factor: f32) -> f32 {
        let curve_m3_s = 0.001 / trust.used();
        let seen = Delivery {
            factor,
            together: if trust.best() > 0.0 { factor / trust.best() } else { 1.0 },
            shares: false,
            sigma: 0.01,
            curve_m3_s,
            target_m3_s: 0.001,
            at_its_most: false,
        };
        let _ = trust.update(&seen, 1.0, 1000);
        trust.used()
    }

    fn known(factor: f32) -> Trust {
        let mut trust = Trust::NEW;
        for _ in 0..2000 {
            step(&mut trust, factor);
        }
        assert!(trust.is_known());
        trust
    }

    #[test]
    fn a_fouling_lift_is_followed_and_its_cleaning_too() {
        // 25 % in 20 hours, then brushed within five minutes.
        let mut trust = known(1.0);
        for second in 0..72_000u32 {
            let factor = 1.0 - 0.25 * second as f32 / 72_000.0;
            let used = step(&mut trust, factor);
            assert!((used / factor - 1.0).abs() < 0.01, "{second}: {used}");
        }
        for second in 0..600u32 {
            step(&mut trust, 0.75 + 0.25 * smaller(second as f32 / 300.0, 1.0));
        }
        assert!((trust.used() - 1.0).abs() < 0.01 && !trust.holds_back());
    }

    #[test]
    fn a_lift_that_stands_still_keeps_its_valve_where_it_was() {
        let mut trust = known(0.9);
        for _ in 0..3600 {
            step(&mut trust, 0.02);
        }
        assert!(trust.stands() && (trust.used() - 0.9).abs() < 0.02, "{}", trust.used());
        for _ in 0..180 {
            step(&mut trust, 0.9);
        }
        trust.wait();
        step(&mut trust, 0.02);
        assert!(!trust.holds_back());
    }

    #[test]
    fn more_than_it_ever_gave_does_not_cut_its_air() {
        let mut trust = known(0.9);
        for second in 0..1500 {
            let used = step(&mut trust, 1.5);
            // What is seen moves what is usual a little, over an hour; from the tenth to the fifteenth minute it is tried with less.
            let tried = if (590..910).contains(&second) { 1.25 } else { 1.2 };
            assert!(used <= tried * 0.95, "{second}: {used}");
        }
        assert!(
            trust.seems_more() && (trust.used() / 0.9 - 1.0).abs() < 0.06,
            "{}",
            trust.used()
        );
        trust.believe();
        step(&mut trust, 1.5);
        assert!((trust.used() - 1.5).abs() < 0.01);
    }

    #[test]
    fn a_valve_that_runs_the_wrong_way_is_found_before_it_shuts_off_the_air() {
        // Half the flow at once; then every percent more by the curve takes three percent off it.
        let mut trust = known(1.0);
        let mut least = 1.0f32;
        for _ in 0..3600 {
            let more = 1.0 / trust.used();
            let flow = 0.5 / (more * more * more);
            least = smaller(least, flow);
            let factor = flow * trust.used();
            step(&mut trust, factor);
        }
        assert!(
            trust.holds_back() && (trust.used() - 1.0).abs() < 0.05,
            "{}",
            trust.used()
        );
        assert!(least > 0.2, "{least}");
    }

    #[test]
    fn a_valve_jammed_open_is_told_from_a_clogged_return_by_a_fifth_less_air() {
        // Jammed: half as much again whatever is asked. Clogged: half as much again of whatever is asked.
        let (mut jammed, mut clogged) = (known(1.0), known(1.0));
        for _ in 0..1500 {
            let factor = 1.5 * jammed.used();
            step(&mut jammed, factor);
            step(&mut clogged, 1.5);
        }
        assert!(jammed.gives_no_answer() && jammed.seems_more());
        assert!(!clogged.gives_no_answer() && clogged.seems_more());
    }

    #[test]
    fn a_line_half_kinked_is_made_up_for() {
        // 30 % less at the same air; more air gives more.
        let mut trust = known(1.0);
        for _ in 0..7200 {
            step(&mut trust, 0.7);
        }
        assert!(
            !trust.holds_back() && (trust.used() - 0.7).abs() < 0.01,
            "{}",
            trust.used()
        );
    }
}
