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
//! The bottom of the fall tells drift from clogging, so a tank that falls too slowly for one stop stays undecided. Two harmless things
//! look a little like a sensor that drifts, and nothing is blamed on it where they explain the fall: a valve near its seat lets a
//! trickle through, which takes the same flow from both parts of the fall and so most of its share from the lower one; and a zero
//! was never nearer to the crest than a few millimetres.

use crate::math::seldom::{larger, positive, smaller};
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
/// A zero was always off by so much, m.
pub const ZERO_DOUBT_M: f32 = 0.003;
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

/// What steady levels hint at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Hint {
    /// The lift seems to give more than it did: it does, or its outlet clogs, or its sensor shows too much.
    #[default]
    More,
    /// It seems to give less: it does, or its sensor shows too little. No clogged outlet looks so.
    Less,
}

/// One look at the tank while its lift stands still.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fall {
    /// Level as it is read, m.
    pub level_m: f32,
    /// How fast it falls by the law, m/s: at this level, and [`ZERO_DOUBT_M`] below and above it.
    pub by_law_m_s: [f32; 3],
}

/// One part of the fall, as it goes.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Part {
    /// Level at its beginning, m.
    from_m: f32,
    sums: Sums,
}

/// What is summed over a part of the fall.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Sums {
    /// Fall by the law, m, for the three levels of [`Fall`].
    by_law_m: [f32; 3],
    /// How long it took, s.
    took_s: f32,
}

impl Part {
    fn from(from_m: f32) -> Self {
        Self {
            from_m,
            sums: Sums::default(),
        }
    }

    fn add(&mut self, fall: &Fall, seconds: f32) {
        for (sum_m, by_law_m_s) in self.sums.by_law_m.iter_mut().zip(fall.by_law_m_s) {
            *sum_m += by_law_m_s * seconds;
        }
        self.sums.took_s += seconds;
    }

    fn tells(&self) -> bool {
        self.sums.by_law_m[0] > TELLS_M
    }

    fn ends(&self, level_m: f32) -> Fallen {
        Fallen {
            fallen_m: self.from_m - level_m,
            sums: self.sums,
        }
    }
}

/// A part of the fall that is over.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Fallen {
    /// By how much the level has fallen in it, m.
    fallen_m: f32,
    sums: Sums,
}

impl Fallen {
    /// What it fell over what it should have by the law.
    fn share(&self) -> f32 {
        self.fallen_m / self.sums.by_law_m[0]
    }
}

/// Stops made to prove something, one at a time.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProofStop {
    lift: Option<u8>,
    hint: Hint,
    /// How long the stop has lasted; without one, how long ago the last ended.
    since: Held,
    /// How fast the level fell by the law at the beginning, m/s.
    first_m_s: f32,
    /// The part of the fall that is looked at, from when its lift stands still.
    part: Option<Part>,
    /// The upper part, once it is over.
    upper: Option<Fallen>,
}

impl ProofStop {
    /// None was made.
    pub const NONE: Self = Self {
        lift: None,
        hint: Hint::More,
        since: Held::LONG,
        first_m_s: 0.0,
        part: None,
        upper: None,
    };

    /// The lift that is stopped just now.
    #[must_use]
    pub fn running(&self) -> Option<usize> {
        self.lift.map(usize::from)
    }

    /// What steady levels hinted at before the last.
    #[must_use]
    pub fn hint(&self) -> Hint {
        self.hint
    }

    /// True once the fall is being looked at: what the valve does meanwhile, below the onset, changes nothing.
    #[must_use]
    pub fn has_begun(&self) -> bool {
        self.part.is_some()
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

    /// Begins to stop a lift, for what its tank's level hints at.
    pub fn begin(&mut self, lift: u8, hint: Hint) {
        *self = Self {
            lift: Some(lift),
            hint,
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
        let by_law_m_s = fall.by_law_m_s[0];
        if self.part.is_none() {
            self.first_m_s = by_law_m_s;
        }
        let part = self.part.get_or_insert(Part::from(fall.level_m));
        part.add(&fall, seconds);
        let part = *part;
        if self.upper.is_none() && by_law_m_s < UPPER_ENDS * self.first_m_s && part.tells() {
            self.upper = Some(part.ends(fall.level_m));
            self.part = Some(Part::from(fall.level_m));
            return None;
        }
        if !over && by_law_m_s > LOWER_ENDS * self.first_m_s {
            return None;
        }
        Some(match &self.upper {
            Some(upper) if part.tells() => judge(self.hint, upper, &part.ends(fall.level_m)),
            _ => Proven::Undecided,
        })
    }
}

/// What the upper and the lower part of a fall show.
fn judge(hint: Hint, upper: &Fallen, lower: &Fallen) -> Proven {
    let (above, below) = (upper.share(), lower.share());
    let less = above - below;
    let as_it_was = (above - 1.0).abs() < AS_IT_WAS;
    if !(above > FALLS) {
        Proven::Undecided
    } else if as_it_was && less.abs() < DRIFTS || hint == Hint::Less && above < 1.0 {
        Proven::Lift
    } else if above < 1.0 && less > DRIFTS || above > 1.0 && less < -DRIFTS {
        match is_harmless(upper, lower) {
            true if as_it_was => Proven::Lift,
            true => Proven::Undecided,
            false => Proven::Sensor,
        }
    } else if above < 1.0 && less.abs() < CLOGS {
        Proven::Outlet
    } else {
        Proven::Undecided
    }
}

/// True when the upper part fell as an outlet that is as it was lets it, the zero being off by no more than it always was, and the
/// lift trickling by up to what the lower part tells: the higher the tank stands, the less a lift trickles into it.
fn is_harmless(upper: &Fallen, lower: &Fallen) -> bool {
    let trickled_m = |shifted: usize| {
        let by_law_m = lower.sums.by_law_m.get(shifted).copied().unwrap_or(f32::NAN);
        positive(by_law_m - lower.fallen_m) / lower.sums.took_s * upper.sums.took_s
    };
    let [at_m, below_m, above_m] = upper.sums.by_law_m;
    let least_m = smaller(
        at_m - trickled_m(0),
        smaller(below_m - trickled_m(1), above_m - trickled_m(2)),
    );
    let most_m = larger(at_m, larger(below_m, above_m));
    let doubt_m = AS_IT_WAS * at_m;
    upper.fallen_m > least_m - doubt_m && upper.fallen_m < most_m + doubt_m
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tank of 1 m2 over a V-notch of 90 degrees (ISO 1438, 1.38 h^2.5 near enough), 55 mm over its crest, that passes `passes` of
    /// that, whose sensor shows `drift_m` too much, and into which the lift trickles this share of the flow at the beginning.
    fn stop_with(hint: Hint, passes: f32, drift_m: f32, trickle: f32) -> Proven {
        let mut proof = ProofStop::NONE;
        proof.begin(0, hint);
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
                by_law_m_s: [0.0, -ZERO_DOUBT_M, ZERO_DOUBT_M].map(|off| law(read + off)),
            };
            if let Some(proven) = proof.advance((second > 15).then_some(fall), 300, 1.0, 1000) {
                return proven;
            }
            head -= passes * law(head) - trickle * law(0.055);
        }
        panic!("a stop ends");
    }

    fn stop(passes: f32, drift_m: f32) -> Proven {
        stop_with(Hint::More, passes, drift_m, 0.0)
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
    fn a_zero_that_was_always_a_little_off_is_no_drift() {
        for off_m in [-0.003, -0.002, -0.001, 0.001, 0.002, 0.003] {
            let shown = stop(1.0, off_m);
            assert!(
                matches!(shown, Proven::Lift | Proven::Undecided),
                "{off_m} m off: {shown:?}"
            );
        }
    }

    #[test]
    fn a_lift_that_trickles_is_no_drift_and_a_drift_beside_a_trickle_is_one() {
        for trickle in [0.02, 0.04, 0.06, 0.08, 0.1, 0.15] {
            for off_m in [-0.002, 0.0, 0.002] {
                let shown = stop_with(Hint::More, 1.0, off_m, trickle);
                let blamed = matches!(shown, Proven::Sensor | Proven::Outlet);
                assert!(!blamed, "a trickle of {trickle}, {off_m} m off: {shown:?}");
            }
        }
        assert_eq!(stop_with(Hint::More, 1.0, 0.015, 0.03), Proven::Sensor);
    }

    #[test]
    fn a_lift_that_seems_to_give_less_has_no_clogged_outlet_and_no_sensor_that_shows_too_much() {
        let shown = |passes, drift_m, trickle| stop_with(Hint::Less, passes, drift_m, trickle);
        for (passes, drift_m, trickle) in [(0.9, 0.0, 0.0), (0.85, 0.002, 0.05), (1.0, 0.008, 0.1)] {
            assert_eq!(
                shown(passes, drift_m, trickle),
                Proven::Lift,
                "{passes} {drift_m} {trickle}"
            );
        }
        assert_eq!(shown(1.0, -0.008, 0.0), Proven::Sensor);
    }

    #[test]
    fn a_level_that_does_not_fall_proves_nothing_and_the_stop_ends() {
        assert_eq!(stop(0.0, 0.0), Proven::Undecided);
        let mut proof = ProofStop::NONE;
        proof.begin(3, Hint::More);
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
            proof.begin(0, Hint::More);
            let fall = Fall {
                level_m,
                by_law_m_s: [f32::NAN; 3],
            };
            let ended = (0..400).find_map(|_| proof.advance(Some(fall), 300, 1.0, 1000));
            assert_eq!(ended, Some(Proven::Undecided));
        }
    }
}
