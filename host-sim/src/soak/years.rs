//! Years with seasons, fouling and cleanings.

use super::calendar::DAY_S;
use super::running_year::Sums;
use super::seasons::{CLEANED_AT_H, CLEANING_S, FOULS, YEAR_DAYS, cycle_days, day_script, is_cleaned, temperature_c};
use super::year::Year;
use crate::plant::Change;
use crate::scenario::Scenario;
use crate::simulate::{SimulateError, Simulation};
use serde::Serialize;

/// What a lift may be said to give of what it gave when clean, before it is cleaned, %: the truth is 80 at the air it had when clean.
const FOULED_PERCENT: std::ops::RangeInclusive<u8> = 72..=84;
/// Time after a cleaning at which what was learned is noted, s.
const NOTED_AFTER_S: f64 = 2.0 * 3600.0;
/// An alarm that comes up more often than this within a day chatters.
const CHATTER: u32 = 4;
/// Steps between two looks at the flows.
const LOOK_EVERY: u64 = 60;

/// What a lift had learned two hours after a cleaning.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Cleaning {
    /// When, days.
    pub at_days: f64,
    /// Lift, by index.
    pub lift: usize,
    /// Its delivery factor.
    pub delivery_factor: f64,
    /// Water temperature, C.
    pub water_c: f64,
    /// What the controller said before the cleaning that the lift gave of what it gave when clean, %.
    pub percent_before: Option<u8>,
    /// In how many days it said then that cleaning would be due.
    pub due_days_before: Option<u8>,
}

/// What came of the years.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Years {
    /// Name of the place.
    pub place: String,
    /// Names of its lifts.
    pub lifts: Vec<String>,
    /// Days simulated.
    pub days: u32,
    /// Each year.
    pub years: Vec<Year>,
    /// Each cleaning.
    pub cleanings: Vec<Cleaning>,
    /// Water over the rims, L.
    pub spilled_l: f64,
    /// Time below the dry level, s.
    pub dry_s: f64,
    /// Clock alarms: a wrap must leave none.
    pub clock_alarms: u32,
    /// Largest number of times that one alarm came up within a day.
    pub most_alarms_a_day: u32,
    /// Time it took on this machine, s.
    pub wall_s: f64,
}

impl Years {
    /// What is promised of the years and was not kept.
    #[must_use]
    pub fn broken(&self) -> Vec<String> {
        let mut broken = Vec::new();
        if self.spilled_l > 0.001 {
            broken.push(format!("{:.1} L spilled", self.spilled_l));
        }
        if self.dry_s > 1.0 {
            broken.push(format!("a tank was dry for {:.0} s", self.dry_s));
        }
        if self.clock_alarms > 0 {
            broken.push(format!(
                "{} clock alarms, though the clock only wrapped",
                self.clock_alarms
            ));
        }
        if self.most_alarms_a_day > CHATTER {
            broken.push(format!(
                "an alarm came up {} times within a day",
                self.most_alarms_a_day
            ));
        }
        let whole = || {
            self.years
                .iter()
                .filter(|year| f64::from(year.year) * YEAR_DAYS <= f64::from(self.days))
        };
        if let (Some(first), Some(last)) = (whole().next(), whole().next_back()) {
            for (lift, name) in self.lifts.iter().enumerate() {
                let belief = |year: &Year| year.belief_error_percent.get(lift).copied().unwrap_or(0.0);
                let moved = belief(last) - belief(first);
                if moved.abs() > 1.0 {
                    broken.push(format!(
                        "lift {name}: belief moved by {moved:+.1} % from year {} to {}",
                        first.year, last.year
                    ));
                }
                let clean = |year: &Year| year.factor_when_clean.get(lift).copied().flatten();
                if let (Some(a), Some(b)) = (clean(first), clean(last))
                    && (b / a - 1.0).abs() > 0.03
                {
                    broken.push(format!("lift {name}: factor when clean moved from {a:.3} to {b:.3}"));
                }
            }
        }
        for cleaning in &self.cleanings {
            let name = self.lifts.get(cleaning.lift).map_or("", String::as_str);
            // At more air than when it began, dirt takes a little more than its share.
            if !cleaning
                .percent_before
                .is_some_and(|percent| FOULED_PERCENT.contains(&percent))
            {
                broken.push(format!(
                    "lift {name}: before the cleaning on day {:.0} it was said to give {:?} % of what it did when clean, of truly {:.0} %",
                    cleaning.at_days,
                    cleaning.percent_before,
                    100.0 * (1.0 - FOULS)
                ));
            }
        }
        broken
    }
}

/// Runs a place for `days`; `progress` is told the share done after each day.
///
/// # Errors
/// The place cannot be.
pub fn years(
    scenario: &Scenario,
    days: u32,
    seed: Option<u64>,
    progress: &mut impl FnMut(f64),
) -> Result<Years, SimulateError> {
    let start = std::time::Instant::now();
    let mut scenario = scenario.clone();
    scenario.timeline.clear();
    let lifts = scenario.told.lifts.len();
    let told_c = f64::from(scenario.told.site.water_c);
    let mut simulation = Simulation::new(&scenario, seed.unwrap_or(scenario.seed))?;
    let mut sums = Sums::new(lifts);
    let mut out = Years {
        place: scenario.name.clone(),
        lifts: scenario.lift_names.clone(),
        days,
        years: Vec::new(),
        cleanings: Vec::new(),
        spilled_l: 0.0,
        dry_s: 0.0,
        clock_alarms: 0,
        most_alarms_a_day: 0,
        wall_s: 0.0,
    };
    let (mut wraps, mut counter, mut step) = (0, 0, 0_u64);
    for lift in 0..lifts {
        simulation.begin(
            Change::FoulLift { lift, lost: FOULS },
            f64::from(cycle_days(lift)) * DAY_S,
        )?;
    }
    for day in 0..days {
        let mut script = day_script(day, lifts, told_c);
        let said: Vec<_> = {
            let moment = simulation.moment();
            let lifts = moment.step.lifts.iter();
            lifts.map(|lift| (lift.percent_of_clean, lift.cleaning_days)).collect()
        };
        let mut noted: Vec<usize> = (0..lifts).filter(|lift| is_cleaned(day, *lift)).collect();
        let begin_s = f64::from(day) * DAY_S;
        while simulation.time_s() < begin_s + DAY_S - 1e-6 {
            let today_s = simulation.time_s() - begin_s;
            while script.last().is_some_and(|(at_s, _)| *at_s <= today_s) {
                if let Some((_, what)) = script.pop() {
                    simulation.let_happen(what)?;
                }
            }
            let moment = simulation.step()?;
            wraps += u32::from(moment.readings.now.0 < counter);
            counter = moment.readings.now.0;
            sums.note_alarms(&moment);
            step += 1;
            if step.is_multiple_of(LOOK_EVERY) {
                sums.look(&moment);
            }
            if !noted.is_empty() && today_s >= CLEANED_AT_H * 3600.0 + CLEANING_S + NOTED_AFTER_S {
                for lift in noted.drain(..) {
                    let factor = moment.step.lifts.get(lift).map_or(0.0, |lift| f64::from(lift.delivery));
                    sums.note_clean(lift, factor);
                    out.cleanings.push(Cleaning {
                        at_days: moment.time_s / DAY_S,
                        lift,
                        delivery_factor: factor,
                        water_c: temperature_c(day, told_c),
                        percent_before: said.get(lift).and_then(|(percent, _)| *percent),
                        due_days_before: said.get(lift).and_then(|(_, days)| *days),
                    });
                }
            }
        }
        sums.next_day();
        let last = day + 1 == days;
        if last || f64::from(day + 1) % YEAR_DAYS == 0.0 {
            #[allow(clippy::cast_possible_truncation)] // a small number
            let number = out.years.len() as u32 + 1;
            let year = sums.year(number, wraps, &scenario);
            let clock = year.alarms.iter().filter(|alarm| alarm.kind == "clock_jumped");
            out.clock_alarms += clock.map(|alarm| alarm.times).sum::<u32>();
            let most = year.alarms.iter().map(|alarm| alarm.most_a_day).max().unwrap_or(0);
            out.most_alarms_a_day = out.most_alarms_a_day.max(most);
            out.years.push(year);
            sums.next_year();
        }
        progress(f64::from(day + 1) / f64::from(days));
    }
    let tanks = &simulation.moment().truth.tanks;
    out.spilled_l = tanks.iter().map(|tank| 1000.0 * tank.spilled_m3).sum();
    out.dry_s = tanks.iter().map(|tank| tank.dry_s).sum();
    out.wall_s = start.elapsed().as_secs_f64();
    Ok(out)
}
