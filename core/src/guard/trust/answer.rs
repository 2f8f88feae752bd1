//! Does a lift answer to its air? Asked in both directions: of a lift below its target, whether more air gives more water; of one that
//! gives more than it ever did, whether less gives less.

use super::{Delivery, Phase, SHOWS_IN_S, Trust};
use crate::math::{larger, smaller};

/// Below this share of its target a lift is off it.
const OFF: f32 = 0.95;
/// With so much more air by the curve ...
const MORE_CURVE: f32 = 1.25;
/// ... or this, where it cannot get more ...
const SOME_CURVE: f32 = 1.05;
/// ... its flow must have grown by at least this share of it.
const ANSWER: f32 = 0.25;
/// Time after which a lift that gave no answer is tried again, s.
const TRY_AGAIN_S: u32 = 3 * 3600;

impl Trust {
    /// A lift that seems to give more than it ever did gets a fifth less for some minutes, once: where that shows nothing, its valve
    /// stands open whatever it is told; where it does, it is the outlet or the sensor. True while it gets less.
    pub(super) fn try_less(&mut self, seen: &Delivery, step_ms: u32) -> bool {
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
    pub(super) fn judge_answer(&mut self, seen: &Delivery, stands: bool, step_ms: u32) {
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
}
