//! What is kept of one run to be drawn.

use crate::report::Series;
use crate::scenario::Scenario;
use crate::simulate::{L_MIN_PER_M3_S, Moment};

/// Stretches that each line is thinned to.
const STRETCHES: f64 = 720.0;

/// Water and openings of each lift, air of the blower, and what was asked.
#[derive(Clone, Debug)]
pub(super) struct Trace {
    /// Delivered, L/min.
    pub delivered: Vec<Series>,
    /// Asked, L/min.
    pub asked: Vec<Series>,
    /// Openings, %.
    pub opening: Vec<Series>,
    /// Free air of the blower, L/min.
    pub air: Series,
    stretch: u32,
    place: u32,
    period_s: f64,
}

impl Trace {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn new(scenario: &Scenario, hours: f64) -> Self {
        let period_s = 1e-3 * f64::from(scenario.told.settings.period_ms);
        let each = |decimals| scenario.lift_names.iter().map(|_| Series::new(decimals)).collect();
        Self {
            delivered: each(1),
            asked: each(1),
            opening: each(1),
            air: Series::new(1),
            stretch: (3600.0 * hours / period_s / STRETCHES).ceil().max(1.0) as u32,
            place: 0,
            period_s,
        }
    }

    /// Time of the first value of a series and between two, s.
    pub fn times_s(&self) -> (f64, f64) {
        let stretch_s = f64::from(self.stretch) * self.period_s;
        if self.stretch == 1 {
            (self.period_s, self.period_s)
        } else {
            (0.25 * stretch_s, 0.5 * stretch_s)
        }
    }

    pub fn note(&mut self, moment: &Moment<'_>, asked_l_min: impl Fn(usize) -> f64) {
        let place = self.place;
        for (index, lift) in moment.truth.lifts.iter().enumerate() {
            if let (Some(delivered), Some(asked), Some(opening)) = (
                self.delivered.get_mut(index),
                self.asked.get_mut(index),
                self.opening.get_mut(index),
            ) {
                delivered.note(place, L_MIN_PER_M3_S * lift.water_m3_s);
                asked.note(place, asked_l_min(index));
                opening.note(place, 100.0 * lift.opening);
            }
        }
        self.air.note(place, L_MIN_PER_M3_S * moment.truth.air_m3_s);
        self.place += 1;
        if self.place >= self.stretch {
            self.finish();
        }
    }

    /// Ends the stretch that runs.
    pub fn finish(&mut self) {
        if self.place == 0 {
            return;
        }
        let single = self.stretch == 1;
        let lifts = self
            .delivered
            .iter_mut()
            .chain(&mut self.asked)
            .chain(&mut self.opening);
        lifts.chain([&mut self.air]).for_each(|series| series.close(single));
        self.place = 0;
    }
}
