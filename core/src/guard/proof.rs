//! What a short stop of a lift tells of the outlet of its tank.
//!
//! A level that stands higher than it did is read as more water. Whether a lift really gives more, its outlet clogs or its level
//! sensor drifts, steady levels never show. With the lift below its onset nothing flows in, and the tank falls through its outlet:
//! the surface of the tank times the rate is the outlet's flow, at one level after another. Over what the outlet's law makes of
//! the same levels it is
//!
//! * one: the outlet and the sensor are as they were, and it is the lift;
//! * less, and the same share from the top to the bottom: the outlet passes only that share, it is clogged;
//! * less and less the lower the level stands, for a law of the power n by `(1 - d/h)^n` at the head h read: the sensor shows d too much.
//!
//! The bottom of the fall tells drift from clogging, so a tank that falls too slowly for one stop stays undecided.

use crate::time::Held;

/// Share of the flow at its beginning at which the upper part of the fall ends.
const UPPER_ENDS: f32 = 0.4;
/// The same for the lower part.
const LOWER_ENDS: f32 = 0.06;
/// A part of the fall tells nothing that is less than this by the law, m: readings scatter by a millimetre.
const TELLS_M: f32 = 0.005;
/// Nothing is judged by a stop in which the level hardly falls: the lift may run on.
const FALLS: f32 = 0.15;
/// An outlet is as it was within this share.
const AS_IT_WAS: f32 = 0.07;
/// The lower part shows so much less than the upper: drift ...
const DRIFTS: f32 = 0.13;
/// ... or at most so much less: clogged.
const CLOGS: f32 = 0.1;
/// Seconds after a stop in which its lift goes back to what it was.
const FRESH_FOR_S: u32 = 120;

/// What a stop has shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Proven {
    /// It was not asked.
    #[default]
    Nothing,
    /// It was asked, and could not be told.
    Undecided,
    /// Outlet and sensor are as they were.
    Lift,
    /// The outlet passes less than it did.
    Outlet,
    /// The sensor shows too much, or too little.
    Sensor,
}

/// One look at the tank while its lift stands still.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fall {
    /// Level as it is read, m.
    pub level_m: f32,
    /// How fast it falls by the law, m/s.
    pub by_law_m_s: f32,
}

/// Stops made to prove something, one at a time.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProofStop {
    lift: Option<u8>,
    /// How long the stop has lasted; without one, how long ago the last ended.
    since: Held,
    /// Level and fall by the law when the part of the fall that is looked at began, m and m/s; no number before it began.
    began: Option<(f32, f32)>,
    /// Fall by the law since, m.
    by_law_m: f32,
    /// What the upper part showed over the law, once it is over.
    upper: Option<f32>,
}

impl ProofStop {
    /// None was made.
    pub const NONE: Self = Self {
        lift: None,
        since: Held::LONG,
        began: None,
        by_law_m: 0.0,
        upper: None,
    };

    /// The lift that is stopped just now.
    #[must_use]
    pub fn running(&self) -> Option<usize> {
        self.lift.map(usize::from)
    }

    /// True once the fall is being looked at: what the valve does meanwhile, below the onset, changes nothing.
    #[must_use]
    pub fn has_begun(&self) -> bool {
        self.began.is_some()
    }

    /// True during a stop and for two minutes after it.
    #[must_use]
    pub fn is_fresh(&self) -> bool {
        self.lift.is_some() || !self.since.reached_s(FRESH_FOR_S)
    }

    /// A step without a stop. True when there was none yet, or the last is this long ago.
    pub fn wait(&mut self, every_s: u32, step_ms: u32) -> bool {
        self.since.add(step_ms);
        self.since.reached_s(every_s)
    }

    /// Begins to stop a lift.
    pub fn begin(&mut self, lift: u8) {
        *self = Self {
            lift: Some(lift),
            since: Held::NONE,
            ..Self::NONE
        };
    }

    /// The stop is over, whatever it has shown.
    pub fn end(&mut self) {
        self.lift = None;
        self.since.clear();
    }

    /// One step of a stop; `fall` is `None` as long as the lift still moves water. What it has shown once it is over: after `for_s`, or
    /// when the level has fallen far enough.
    pub fn advance(&mut self, fall: Option<Fall>, for_s: u32, seconds: f32, step_ms: u32) -> Option<Proven> {
        self.since.add(step_ms);
        let over = self.since.reached_s(for_s);
        let Some(fall) = fall else {
            return over.then_some(Proven::Undecided);
        };
        let (from_m, first_m_s) = *self.began.get_or_insert((fall.level_m, fall.by_law_m_s));
        self.by_law_m += fall.by_law_m_s * seconds;
        let share = (from_m - fall.level_m) / self.by_law_m;
        if self.upper.is_none() && fall.by_law_m_s < UPPER_ENDS * first_m_s && self.by_law_m > TELLS_M {
            self.upper = Some(share);
            (self.began, self.by_law_m) = (Some((fall.level_m, first_m_s)), 0.0);
            return None;
        }
        if !over && fall.by_law_m_s > LOWER_ENDS * first_m_s {
            return None;
        }
        Some(match self.upper {
            Some(upper) if self.by_law_m > TELLS_M => judge(upper, share),
            _ => Proven::Undecided,
        })
    }
}

/// What the upper and the lower part of a fall show, as shares of the law.
fn judge(upper: f32, lower: f32) -> Proven {
    let less = upper - lower;
    let as_it_was = (upper - 1.0).abs() < AS_IT_WAS;
    if !(upper > FALLS) {
        Proven::Undecided
    } else if as_it_was && less.abs() < DRIFTS {
        Proven::Lift
    } else if upper < 1.0 && less > DRIFTS || upper > 1.0 && less < -DRIFTS {
        Proven::Sensor
    } else if upper < 1.0 && less.abs() < CLOGS {
        Proven::Outlet
    } else {
        Proven::Undecided
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tank of 1 m2 over a V-notch of 90 degrees (ISO 1438, 1.38 h^2.5 near enough), 55 mm over its crest, that passes `passes` of
    /// that and whose sensor shows `drift_m` too much.
    fn stop(passes: f32, drift_m: f32) -> Proven {
        let mut proof = ProofStop::NONE;
        proof.begin(0);
        let law = |head: f32| {
            1.38 * if head > 0.0 {
                head * head * crate::math::sqrt(head)
            } else {
                0.0
            }
        };
        let mut head = 0.055;
        for second in 0..400u32 {
            let scatter = if second % 2 == 0 { 3.0e-4 } else { -3.0e-4 };
            let read = head + drift_m + scatter;
            let fall = Fall {
                level_m: read,
                by_law_m_s: law(read),
            };
            if let Some(proven) = proof.advance((second > 15).then_some(fall), 300, 1.0, 1000) {
                return proven;
            }
            head -= passes * law(head);
        }
        panic!("a stop ends");
    }

    #[test]
    fn a_clogged_outlet_a_drifted_sensor_and_a_lift_that_gives_more_are_told_apart() {
        assert_eq!(stop(1.0, 0.0), Proven::Lift);
        assert_eq!(stop(0.8, 0.0), Proven::Outlet);
        assert_eq!(stop(0.5, 0.0), Proven::Outlet);
        assert_eq!(stop(1.0, 0.008), Proven::Sensor);
        assert_eq!(stop(1.0, 0.015), Proven::Sensor);
        assert_eq!(stop(1.0, -0.008), Proven::Sensor);
    }

    #[test]
    fn a_level_that_does_not_fall_proves_nothing_and_the_stop_ends() {
        assert_eq!(stop(0.0, 0.0), Proven::Undecided);
        let mut proof = ProofStop::NONE;
        proof.begin(3);
        assert_eq!(proof.running(), Some(3));
        let ended = (0..301).find_map(|_| proof.advance(None, 300, 1.0, 1000));
        assert_eq!(ended, Some(Proven::Undecided));
        proof.end();
        assert!(proof.is_fresh() && proof.running().is_none());
        assert!(!proof.wait(3600, 1000));
        for _ in 0..3600 {
            proof.wait(3600, 1000);
        }
        assert!(proof.wait(3600, 1000) && !proof.is_fresh());
    }

    #[test]
    fn readings_that_are_no_numbers_prove_nothing() {
        for level_m in [f32::NAN, f32::INFINITY] {
            let mut proof = ProofStop::NONE;
            proof.begin(0);
            let fall = Fall {
                level_m,
                by_law_m_s: f32::NAN,
            };
            let ended = (0..400).find_map(|_| proof.advance(Some(fall), 300, 1.0, 1000));
            assert_eq!(ended, Some(Proven::Undecided));
        }
    }
}
