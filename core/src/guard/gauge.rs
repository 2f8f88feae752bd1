//! What a manifold gauge tells: the air is gone, weak, unsteady, or the gauge itself cannot be right.

use crate::condition::Condition;
use crate::math::seldom::{larger, smaller};

/// Time over which what the gauge usually shows above the blower's curve follows, s.
const USUAL_S: f32 = 3600.0;
/// Time after which it is known, s.
const KNOWN_AFTER_S: f32 = 900.0;
/// A pressure counts as low from this share of the blower's highest below the usual on, and as high from as much above it.
const LOW: f32 = 0.06;
/// A gauge is doubted that shows this share of the blower's highest too much.
const TOO_MUCH: f32 = 0.12;
/// Below this share of what should be there the blower does not blow.
const GONE: f32 = 0.3;
/// Time over which swings are averaged, s.
const SWINGS_S: f32 = 30.0;
/// Pressure swings when it is off its mean by this share of the blower's highest.
const SWINGS: f32 = 0.05;

/// What is made of the gauge.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Gauge {
    usual_pa: f32,
    known_s: f32,
    swing_pa: f32,
    silent: Condition,
    wrong: Condition,
    low: Condition,
    high: Condition,
    gone: Condition,
    unsteady: Condition,
}

/// One step of a gauge.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct GaugeView {
    /// What it shows, Pa; `None` when nothing that could be.
    pub shows_pa: Option<f32>,
    /// The same, averaged over some seconds.
    pub mean_pa: f32,
    /// What the blower's curve holds at the air that is believed to pass, Pa.
    pub curve_pa: f32,
    /// The highest pressure of the blower, Pa.
    pub most_pa: f32,
}

impl Gauge {
    /// Nothing known yet.
    pub const NEW: Self = Self {
        usual_pa: 0.0,
        known_s: 0.0,
        swing_pa: 0.0,
        silent: Condition::CLEAR,
        wrong: Condition::CLEAR,
        low: Condition::CLEAR,
        high: Condition::CLEAR,
        gone: Condition::CLEAR,
        unsteady: Condition::CLEAR,
    };

    /// One step.
    pub fn update(&mut self, view: &GaugeView, seconds: f32, step_ms: u32) {
        let most = larger(view.most_pa, 1.0);
        let silent = view.shows_pa.is_none();
        self.silent.follow(silent, 60, step_ms);
        let Some(shows) = view.shows_pa else { return };
        let known = self.known_s >= KNOWN_AFTER_S;
        let expected = view.curve_pa + self.usual_pa;
        let off = shows - expected;
        let mean_off = view.mean_pa - expected;
        self.swing_pa += seconds / (seconds + SWINGS_S) * ((shows - view.mean_pa).abs() - self.swing_pa);
        let swings = self.swing_pa / most;
        self.unsteady
            .update(swings > SWINGS, swings < 0.5 * SWINGS, 30, step_ms);
        let steady = !self.unsteady.stands();
        self.gone.update_slow(
            known && shows < GONE * expected,
            shows > 2.0 * GONE * expected,
            (10, 30),
            step_ms,
        );
        self.wrong.update_slow(
            known && steady && off > TOO_MUCH * most,
            off < 0.5 * TOO_MUCH * most,
            (5, 30),
            step_ms,
        );
        let low = known && steady && !self.gone.stands() && mean_off < -LOW * most;
        self.low
            .update_slow(low, mean_off > -0.5 * LOW * most, (120, 60), step_ms);
        let high = known && steady && !self.wrong.stands() && mean_off > LOW * most;
        self.high
            .update_slow(high, mean_off < 0.5 * LOW * most, (120, 60), step_ms);
        let odd = self.gone.stands()
            || self.low.stands()
            || self.high.stands()
            || self.wrong.stands()
            || off.abs() > 0.5 * LOW * most;
        if !known || !odd {
            // At first the mean of all there was.
            let pace = if known { USUAL_S } else { self.known_s + 5.0 };
            self.usual_pa += seconds / (seconds + pace) * (view.mean_pa - view.curve_pa - self.usual_pa);
            self.known_s = smaller(self.known_s + seconds, KNOWN_AFTER_S);
        }
    }

    /// What it usually shows above the blower's curve, Pa; `None` until it is known.
    #[must_use]
    pub fn usual_pa(&self) -> Option<f32> {
        (self.known_s >= KNOWN_AFTER_S).then_some(self.usual_pa)
    }

    /// The same, while nothing is amiss: what is low, high or gone of late says nothing of how the blower ages.
    #[must_use]
    pub fn undisturbed_pa(&self) -> Option<f32> {
        let amiss = self.is_doubtful() || self.is_low() || self.is_high() || self.is_gone() || self.is_unsteady();
        self.usual_pa().filter(|_| !amiss)
    }

    /// It gives nothing, or what cannot be: pressure is worked out.
    #[must_use]
    pub fn is_doubtful(&self) -> bool {
        self.silent.stands() || self.wrong.stands()
    }

    /// Its present reading is above what the blower can hold.
    #[must_use]
    pub fn is_wrong(&self) -> bool {
        self.wrong.stands()
    }

    /// The blower holds less than it did.
    #[must_use]
    pub fn is_low(&self) -> bool {
        self.low.stands()
    }

    /// It stands higher than it did at the same air.
    #[must_use]
    pub fn is_high(&self) -> bool {
        self.high.stands()
    }

    /// There is next to no pressure.
    #[must_use]
    pub fn is_gone(&self) -> bool {
        self.gone.stands()
    }

    /// The pressure swings.
    #[must_use]
    pub fn is_unsteady(&self) -> bool {
        self.unsteady.stands()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A blower of 24 kPa that holds 1.5 kPa less than its curve, with what the gauge shows beyond that.
    fn after(gauge: &mut Gauge, extra_pa: f32, swing_pa: f32, seconds: u32) {
        for second in 0..seconds {
            let swing = if second % 2 == 0 { swing_pa } else { -swing_pa };
            let view = GaugeView {
                shows_pa: Some(12_000.0 + extra_pa + swing),
                mean_pa: 12_000.0 + extra_pa,
                curve_pa: 13_500.0,
                most_pa: 24_000.0,
            };
            gauge.update(&view, 1.0, 1000);
        }
    }

    fn known() -> Gauge {
        let mut gauge = Gauge::NEW;
        after(&mut gauge, 0.0, 50.0, 2000);
        assert!((gauge.usual_pa().unwrap() + 1500.0).abs() < 20.0);
        assert!(!gauge.is_doubtful() && !gauge.is_low() && !gauge.is_gone() && !gauge.is_unsteady());
        gauge
    }

    #[test]
    fn a_weak_blower_one_that_stands_and_one_that_surges_are_told_apart() {
        let (mut weak, mut stands, mut surges) = (known(), known(), known());
        after(&mut weak, -3000.0, 50.0, 300);
        assert!(weak.is_low() && !weak.is_gone() && !weak.is_unsteady());
        after(&mut stands, -10_000.0, 50.0, 30);
        assert!(stands.is_gone() && !stands.is_low());
        after(&mut surges, 0.0, 2500.0, 300);
        assert!(surges.is_unsteady() && !surges.is_gone());
    }

    #[test]
    fn a_gauge_that_shows_more_than_the_blower_holds_is_doubted_until_it_comes_back() {
        let mut gauge = known();
        after(&mut gauge, 5000.0, 50.0, 7200);
        assert!(gauge.is_wrong() && (gauge.usual_pa().unwrap() + 1500.0).abs() < 50.0);
        after(&mut gauge, 0.0, 50.0, 60);
        assert!(!gauge.is_doubtful());
    }
}
