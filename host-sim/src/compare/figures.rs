//! How far the water was from what was asked, and what it cost.

use super::knowing::air_for;
use super::yardstick::{Part, Yardstick};
use crate::plant::Plant;
use crate::scenario::Scenario;
use crate::simulate::{AFTER_STOP_S, L_MIN_PER_M3_S, Moment, Outcome};
use risertrim::step::LiftState;
use serde::Serialize;

/// A flow within this share of what is asked counts as in the band.
const BAND: f64 = 0.05;

/// Sums over one part of a run for one lift: shares of its target.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Spell {
    /// Time counted, s.
    pub counted_s: f64,
    /// Sum of error times time, s.
    error_s: f64,
    /// Sum of squared error times time, s.
    squared_s: f64,
}

impl Spell {
    fn note(&mut self, error: f64, period_s: f64) {
        self.counted_s += period_s;
        self.error_s += error * period_s;
        self.squared_s += error * error * period_s;
    }

    /// This and another together.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        Self {
            counted_s: self.counted_s + other.counted_s,
            error_s: self.error_s + other.error_s,
            squared_s: self.squared_s + other.squared_s,
        }
    }

    /// Mean error, % of the target.
    #[must_use]
    pub fn mean_percent(&self) -> Option<f64> {
        (self.counted_s > 0.0).then(|| 100.0 * self.error_s / self.counted_s)
    }

    /// Root mean square of the error, % of the target.
    #[must_use]
    pub fn rms_percent(&self) -> Option<f64> {
        self.rms_about_percent(0.0)
    }

    /// The same about an error of `mean_percent`: without what an outlet told wrongly adds all day.
    #[must_use]
    pub fn rms_about_percent(&self, mean_percent: f64) -> Option<f64> {
        let mean = mean_percent / 100.0;
        (self.counted_s > 0.0).then(|| {
            let square = self.squared_s / self.counted_s - 2.0 * mean * self.error_s / self.counted_s + mean * mean;
            100.0 * square.max(0.0).sqrt()
        })
    }
}

/// One lift.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct LiftFigures {
    /// Its name.
    pub name: String,
    /// The first half hour.
    pub start: Spell,
    /// The half hours after changes.
    pub after_change: Spell,
    /// The quiet rest.
    pub rest: Spell,
    /// The half hours after changes without stops to measure of any lift into its tank, and without [`AFTER_STOP_S`] after
    /// them.
    pub after_change_between: Spell,
    /// The same of the quiet rest.
    pub rest_between: Spell,
    /// Time within 5 % of what is asked, s.
    pub in_band_s: f64,
    /// Water truly delivered, L.
    pub delivered_l: f64,
    /// Way of its valve, strokes.
    pub travel_strokes: f64,
}

impl LiftFigures {
    /// The whole run.
    #[must_use]
    pub fn all(&self) -> Spell {
        self.start.with(&self.after_change).with(&self.rest)
    }

    /// All but the start, without stops to measure.
    #[must_use]
    pub fn between_stops(&self) -> Spell {
        self.after_change_between.with(&self.rest_between)
    }

    /// RMS after changes without the error that stands in the quiet rest too, % of the target.
    #[must_use]
    pub fn after_change_own_percent(&self) -> Option<f64> {
        self.after_change
            .rms_about_percent(self.rest.mean_percent().unwrap_or(0.0))
    }

    /// RMS of the quiet rest about its own mean, % of the target.
    #[must_use]
    pub fn rest_own_percent(&self) -> Option<f64> {
        self.rest.rms_about_percent(self.rest.mean_percent().unwrap_or(0.0))
    }
}

/// One run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figures {
    /// Each lift.
    pub lifts: Vec<LiftFigures>,
    /// Free air of the blower, m3.
    pub air_m3: f64,
    /// Free air of the lifts that were on target, over what their true risers need to deliver just what is asked.
    pub air_over_need: Option<f64>,
    /// Energy of the blower, kWh.
    pub energy_kwh: f64,
    /// Water over rims, L.
    pub spilled_l: f64,
    /// Time that tanks stood dry, s.
    pub dry_s: f64,
    /// Time that fish had no air, s.
    pub fish_without_air_s: f64,
    /// Time with so much air that more gives less water, s, all lifts.
    pub past_peak_s: f64,
    /// Alarms that came up.
    pub alarms: usize,
}

impl Figures {
    /// Root mean square over the lifts of one figure a lift.
    #[must_use]
    pub fn over_lifts(&self, of: impl Fn(&LiftFigures) -> Option<f64>) -> Option<f64> {
        root_mean_square(self.lifts.iter().filter_map(of))
    }

    /// Largest mean error of a lift over the whole run, % of its target, without its sign.
    #[must_use]
    pub fn worst_mean_percent(&self) -> Option<f64> {
        let means = self.lifts.iter().filter_map(|lift| lift.all().mean_percent());
        means.map(f64::abs).reduce(f64::max)
    }

    /// Share of the lifts' time within 5 % of what is asked, %.
    #[must_use]
    pub fn in_band_percent(&self) -> f64 {
        let all_s: f64 = self.lifts.iter().map(|lift| lift.all().counted_s).sum();
        let in_s: f64 = self.lifts.iter().map(|lift| lift.in_band_s).sum();
        if all_s > 0.0 { 100.0 * in_s / all_s } else { 0.0 }
    }

    /// Way of all valves, strokes.
    #[must_use]
    pub fn travel_strokes(&self) -> f64 {
        self.lifts.iter().map(|lift| lift.travel_strokes).sum()
    }

    /// Free air for each litre of water delivered, L.
    #[must_use]
    pub fn air_per_water(&self) -> f64 {
        let water_l: f64 = self.lifts.iter().map(|lift| lift.delivered_l).sum();
        if water_l > 0.0 {
            1000.0 * self.air_m3 / water_l
        } else {
            0.0
        }
    }
}

/// Root of the mean of squares; `None` of nothing.
pub(super) fn root_mean_square(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (mut sum, mut count) = (0.0, 0.0);
    for value in values {
        sum += value * value;
        count += 1.0;
    }
    (count > 0.0).then(|| (sum / count).sqrt())
}

/// Keeps the figures while a run goes on.
#[derive(Clone, Debug)]
pub(super) struct Counter {
    yardstick: Yardstick,
    lifts: Vec<LiftFigures>,
    /// Tank that each lift feeds.
    feeds: Vec<usize>,
    /// Until when a stop shows in each tank, s.
    stopped_until_s: Vec<f64>,
    /// Free air that lifts on target had at the moments looked at, and what their risers need, m3/s.
    had_m3_s: f64,
    needed_m3_s: f64,
}

impl Counter {
    pub fn new(scenario: &Scenario, hours: f64) -> Self {
        let names = scenario.lift_names.iter();
        Self {
            yardstick: Yardstick::new(scenario, hours),
            lifts: names
                .map(|name| LiftFigures {
                    name: name.clone(),
                    ..LiftFigures::default()
                })
                .collect(),
            feeds: scenario.told.lifts.iter().map(|lift| usize::from(lift.to)).collect(),
            stopped_until_s: vec![f64::NEG_INFINITY; scenario.told.tanks.len()],
            had_m3_s: 0.0,
            needed_m3_s: 0.0,
        }
    }

    /// Looks at the air of every lift that is on target. A search each: not for every moment.
    pub fn weigh_air(&mut self, plant: &Plant) {
        for (index, state) in plant.state().lifts.iter().enumerate() {
            let (Some(asked), Some((riser, heads))) = (self.yardstick.asked_m3_s(index), plant.riser(index)) else {
                continue;
            };
            if let Some(needed) = air_for(riser, heads, asked) {
                self.had_m3_s += state.air_m3_s;
                self.needed_m3_s += needed;
            }
        }
    }

    /// What is asked of each lift at the moment noted last, L/min; NaN where nothing is.
    pub fn asked_l_min(&self, lift: usize) -> f64 {
        self.yardstick
            .asked_m3_s(lift)
            .map_or(f64::NAN, |asked| L_MIN_PER_M3_S * asked)
    }

    pub fn note(&mut self, moment: &Moment<'_>) {
        self.yardstick.advance(moment);
        let part = self.yardstick.part(moment.time_s);
        for (step, tank) in moment.step.lifts.iter().zip(&self.feeds) {
            if step.state == LiftState::StoppedToMeasure
                && let Some(until_s) = self.stopped_until_s.get_mut(*tank)
            {
                *until_s = moment.time_s + AFTER_STOP_S;
            }
        }
        for (index, lift) in self.lifts.iter_mut().enumerate() {
            let (Some(truth), Some(job)) = (moment.truth.lifts.get(index), moment.jobs.lifts.get(index)) else {
                continue;
            };
            lift.delivered_l += 1000.0 * moment.period_s * truth.water_m3_s;
            let Some(asked) = self.yardstick.asked_m3_s(index).filter(|_| job.target_m3_s > 0.0) else {
                continue;
            };
            let error = (truth.water_m3_s - asked) / job.target_m3_s;
            let spell = match part {
                Part::Start => &mut lift.start,
                Part::AfterChange => &mut lift.after_change,
                Part::Rest => &mut lift.rest,
            };
            spell.note(error, moment.period_s);
            let until_s = self.feeds.get(index).and_then(|tank| self.stopped_until_s.get(*tank));
            if until_s.is_none_or(|until_s| moment.time_s > *until_s) {
                match part {
                    Part::Start => {}
                    Part::AfterChange => lift.after_change_between.note(error, moment.period_s),
                    Part::Rest => lift.rest_between.note(error, moment.period_s),
                }
            }
            if error.abs() <= BAND {
                lift.in_band_s += moment.period_s;
            }
        }
    }

    /// The figures at the end, with those that the usual bookkeeping holds.
    pub fn finish(mut self, outcome: &Outcome) -> Figures {
        for (lift, told) in self.lifts.iter_mut().zip(&outcome.lifts) {
            lift.travel_strokes = told.valve_travel_strokes;
        }
        let tanks = &outcome.tanks;
        Figures {
            lifts: self.lifts,
            air_m3: outcome.air.free_air_m3,
            air_over_need: (self.needed_m3_s > 0.0).then(|| self.had_m3_s / self.needed_m3_s),
            energy_kwh: outcome.air.blower_energy_kwh,
            spilled_l: tanks.iter().map(|tank| tank.spilled_l).sum(),
            dry_s: tanks.iter().map(|tank| tank.dry_s).sum(),
            fish_without_air_s: tanks.iter().map(|tank| tank.fish_without_air_s).sum(),
            past_peak_s: outcome.lifts.iter().map(|lift| lift.past_peak_s).sum(),
            alarms: outcome.alarms.len(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_standing_error_is_all_mean_and_no_scatter() {
        let mut spell = Spell::default();
        for _ in 0..10 {
            spell.note(0.02, 1.0);
        }
        let near = |got: Option<f64>, wanted: f64| got.is_some_and(|got| (got - wanted).abs() < 1e-9);
        assert!(near(spell.mean_percent(), 2.0) && near(spell.rms_percent(), 2.0));
        assert!(spell.rms_about_percent(2.0).is_some_and(|own| own < 1e-5)); // the root of what rounding leaves
        assert_eq!(Spell::default().rms_percent(), None);
    }

    #[test]
    fn two_spells_together_weigh_by_their_time() {
        let (mut short, mut long) = (Spell::default(), Spell::default());
        short.note(0.04, 10.0);
        long.note(0.0, 30.0);
        // Mean of squares: 0.0016 over a quarter of the time.
        let both = short.with(&long);
        assert!(both.rms_percent().is_some_and(|rms| (rms - 2.0).abs() < 1e-9));
        assert!(both.mean_percent().is_some_and(|mean| (mean - 1.0).abs() < 1e-9));
    }
}
