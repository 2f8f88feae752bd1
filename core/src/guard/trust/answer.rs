//! Does a lift answer to its air? Asked in both directions: of a lift below its target, whether more air gives more water; of one that
//! gives more than it ever did, whether less gives less.
//!
//! A lift to which more air gave no more water goes back to the air at which it last did as it should, and from there gets a fifth
//! less, three times if need be. When that takes water away its valve follows, and it was past its peak: it gets no more than the air
//! before that. When it never does, its valve does not follow, or runs the wrong way.

use super::{Delivery, Phase, SHOWS_IN_S, TRY_LESS, Trust};
use crate::math::seldom::{larger, positive, smaller};

/// Below this share of its target a lift is off it.
const OFF: f32 = 0.95;
/// Lifts of a tank that together give this share of the most they ever gave do what they are told.
const AS_EVER: (f32, f32) = (0.93, 1.07);
/// With so much more air by the curve ...
const MORE_CURVE: f32 = 1.25;
/// ... or this, where it cannot get more ...
const SOME_CURVE: f32 = 1.05;
/// ... its flow must have grown by at least this share of it.
const ANSWER: f32 = 0.25;
/// Time after which a lift that gave no answer is tried again, s.
const TRY_AGAIN_S: u32 = 3 * 3600;
/// A lift at its peak that gets less air is found to follow when its flow has fallen by this share of what its curve says.
const FALLS: f32 = 0.15;
/// Time after which a lift held at its peak is given a little more, s: a week.
const PEAK_TRIED_S: u32 = 7 * 86_400;
/// Steps of a fifth less air in which a lift that gave no answer is asked: the last leaves half of the curve's water.
const LESS_AIR_STEPS: u32 = 3;
/// So much more.
const PEAK_TRIED: f32 = 1.05;

impl Trust {
    /// A lift that seems to give more than it ever did gets a fifth less for some minutes, once: where that shows nothing, its valve
    /// stands open whatever it is told; where it does, it is the outlet or the sensor. What it is to be taken to give more meanwhile.
    pub(super) fn try_less(&mut self, seen: &Delivery, step_ms: u32) -> f32 {
        if self.tried {
            return 1.0;
        }
        let flow = seen.factor * seen.curve_m3_s;
        if !self.trying {
            self.trying = true;
            self.timer.clear();
        }
        self.timer.add(step_ms);
        if !self.timer.reached_s(SHOWS_IN_S) {
            (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
            return 1.0;
        }
        if !self.timer.reached_s(2 * SHOWS_IN_S) {
            return TRY_LESS;
        }
        let less = 1.0 - seen.curve_m3_s / larger(self.curve_m3_s, 1.0e-9);
        if less > 0.1 && flow > self.flow_m3_s * (1.0 - ANSWER * less) {
            self.phase = Phase::NoAnswer;
        }
        (self.tried, self.trying) = (true, false);
        self.timer.set_s(SHOWS_IN_S);
        1.0
    }

    /// What it is taken to give more while it is tried with less air.
    pub(super) fn taken_more(&self) -> f32 {
        if self.trying && self.timer.reached_s(SHOWS_IN_S) {
            TRY_LESS
        } else {
            1.0
        }
    }

    /// It gave no answer and is on its target again.
    pub(super) fn is_on_target(&self, seen: &Delivery) -> bool {
        self.phase == Phase::Sound && (seen.shares || seen.factor * seen.curve_m3_s >= OFF * seen.target_m3_s)
    }

    /// Does more air give more water? Asked while the lift is below its target: from when what befell it shows wholly, the flow
    /// must grow with the air. What it is to be taken to give more, while it gets less air to find out.
    pub(super) fn judge_answer(&mut self, seen: &Delivery, stands: bool, step_ms: u32) -> f32 {
        let flow = seen.factor * seen.curve_m3_s;
        if stands {
            self.timer.clear();
            return 1.0;
        }
        if self.phase == Phase::Asked {
            return self.find_peak(seen, flow, step_ms);
        }
        // What the filter learned with less air takes a while to be forgotten.
        if self.phase == Phase::NoAnswer && !self.timer.reached_s(SHOWS_IN_S) {
            self.timer.add(step_ms);
            return 1.0;
        }
        if seen.shares && self.phase == Phase::NoAnswer && !is_as_ever(seen.together) {
            self.timer.add(step_ms);
            if self.timer.reached_s(TRY_AGAIN_S) {
                self.phase = Phase::Sound;
            }
            return 1.0;
        }
        let at_its_peak = self.most < 1.0 && seen.at_its_most;
        if seen.shares || at_its_peak || flow >= OFF * seen.target_m3_s {
            self.phase = Phase::Sound;
            (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
            if !seen.shares {
                self.kept_m3_s = flow;
            } else if is_as_ever(seen.together) {
                self.kept_m3_s = seen.target_m3_s;
            }
            if !at_its_peak {
                self.timer.clear();
                return 1.0;
            }
            self.timer.add(step_ms);
            if self.timer.reached_s(PEAK_TRIED_S) {
                self.set_most_share(self.most * PEAK_TRIED);
                self.timer.clear();
            }
            return 1.0;
        }
        self.timer.add(step_ms);
        if self.phase == Phase::NoAnswer {
            if self.timer.reached_s(TRY_AGAIN_S) {
                self.phase = Phase::Sound;
                (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
                self.timer.clear();
            }
            return 1.0;
        }
        if !self.timer.reached_s(SHOWS_IN_S) {
            self.flow_m3_s = smaller(self.flow_m3_s, flow);
            return 1.0;
        }
        let more = seen.curve_m3_s / larger(self.curve_m3_s, 1.0e-9);
        if more > MORE_CURVE || (seen.at_its_most && more > SOME_CURVE) {
            if flow < self.flow_m3_s * (1.0 + ANSWER * (more - 1.0)) {
                self.phase = Phase::Asked;
                (self.past_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
                self.timer.clear();
            } else {
                (self.curve_m3_s, self.flow_m3_s) = (seen.curve_m3_s, flow);
            }
        }
        1.0
    }

    /// Back at the air at which it last did as it should, it gets a fifth less and a fifth less again: when does its water follow? What
    /// it is to be taken to give more meanwhile.
    fn find_peak(&mut self, seen: &Delivery, flow: f32, step_ms: u32) -> f32 {
        let before = self.timer;
        self.timer.add(step_ms);
        let mut times = 1.0;
        for step in 0..=LESS_AIR_STEPS {
            let ends_s = (step + 1) * SHOWS_IN_S;
            if !self.timer.reached_s(ends_s) {
                return times;
            }
            times *= TRY_LESS;
            if before.reached_s(ends_s) {
                continue;
            }
            if step == 0 {
                // What went wrong may be over, as when a sensor was put right: then less air gave as much less water.
                let back = 1.0 - seen.curve_m3_s / larger(self.past_m3_s, 1.0e-9);
                if flow < self.flow_m3_s * (1.0 - 0.5 * positive(back)) {
                    self.phase = Phase::Sound;
                    self.timer.clear();
                    return 1.0;
                }
                self.flow_m3_s = flow;
                continue;
            }
            let less = 1.0 - seen.curve_m3_s / larger(self.curve_m3_s, 1.0e-9);
            if less > 0.1 && flow < self.flow_m3_s * (1.0 - FALLS * less) {
                // Its valve follows. The air before this step gave as much water as more of it.
                self.set_most_share(TRY_LESS * seen.curve_m3_s / larger(seen.peak_m3_s, 1.0e-9));
                self.phase = Phase::Sound;
                self.timer.clear();
                return 1.0;
            }
        }
        self.phase = Phase::NoAnswer;
        self.timer.clear();
        1.0
    }
}

/// True when the lifts of a tank together give what they ever gave.
#[inline(never)]
fn is_as_ever(together: f32) -> bool {
    together >= AS_EVER.0 && together <= AS_EVER.1
}
