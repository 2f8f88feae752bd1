//! All contenders over all seeds.

use super::believed::PiOnFilter;
use super::contender::Contender;
use super::figures::{Counter, Figures, root_mean_square};
use super::hand::HandTrim;
use super::inferred::told_openings;
use super::knowing::{learned, told_truly};
use super::pi::{FILTERS_S, PiPerLift};
use super::trace::Trace;
use super::yardstick::Yardstick;
use crate::plant::PlantState;
use crate::scenario::Scenario;
use crate::simulate::{Control, HostController, Run, Score, SimulateError, Simulation};
use rayon::prelude::*;
use risertrim::Controller;
use serde::Serialize;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Longest time that hand trimming before the first day may take, s.
const LONGEST_TRIMMING_S: f64 = 12.0 * 3600.0;
/// Steps between two looks at the air that lifts need.
const AIR_LOOK_STEPS: u64 = 300;
/// Time that the tanks get to settle before somebody comes with a bucket, s.
const BEFORE_THE_BUCKET_S: f64 = 1800.0;

/// One contender: its figures for every seed.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// Who.
    pub contender: Contender,
    /// Time constant that did best of those tried, s: of the filter on the level or, on risertrim's filter, of the loop.
    pub filter_s: Option<f64>,
    /// One for each seed.
    pub runs: Vec<Figures>,
}

impl Row {
    /// Root mean square over seeds of a figure.
    #[must_use]
    pub fn rms(&self, of: impl Fn(&Figures) -> Option<f64>) -> Option<f64> {
        root_mean_square(self.runs.iter().filter_map(of))
    }

    /// Mean over seeds of a figure.
    #[must_use]
    #[allow(clippy::cast_precision_loss)] // seeds
    pub fn mean(&self, of: impl Fn(&Figures) -> f64) -> f64 {
        self.runs.iter().map(of).sum::<f64>() / self.runs.len().max(1) as f64
    }

    /// Largest over seeds of a figure.
    #[must_use]
    pub fn worst(&self, of: impl Fn(&Figures) -> Option<f64>) -> Option<f64> {
        self.runs.iter().filter_map(of).reduce(f64::max)
    }
}

/// What was seen of one contender with the first seed, for charts.
#[derive(Clone, Debug)]
pub struct Seen {
    /// Who.
    pub contender: Contender,
    pub(super) trace: Trace,
}

/// The outcome of a comparison.
#[derive(Clone, Debug, Serialize)]
pub struct Comparison {
    /// Name of the place.
    pub scenario: String,
    /// Length of each run, h.
    pub hours: f64,
    /// Seeds of the true places and of all noise.
    pub seeds: Vec<u64>,
    /// Names of the lifts.
    pub lifts: Vec<String>,
    /// When something changes, s.
    pub changes_s: Vec<f64>,
    /// Everybody.
    pub rows: Vec<Row>,
    /// The first seed, to look at.
    #[serde(skip)]
    pub seen: Vec<Seen>,
}

impl Comparison {
    /// The row of one contender.
    #[must_use]
    pub fn row(&self, contender: Contender) -> Option<&Row> {
        self.rows.iter().find(|row| row.contender == contender)
    }
}

/// Who runs, and how it is tuned.
type Entry = (Contender, Option<f64>);

/// Runs the days of a scenario under everybody, once for each seed.
///
/// # Errors
/// The scenario cannot run.
pub fn compare(
    scenario: &Scenario,
    hours: f64,
    seeds: &[u64],
    progress: &(dyn Fn(f64) + Sync),
) -> Result<Comparison, SimulateError> {
    Run::new(scenario, Some(hours), None)?; // hours that make no sense
    let entries: Vec<Entry> = Contender::ALL.into_iter().flat_map(tunings).collect();
    let jobs: Vec<(Entry, u64)> = entries
        .iter()
        .flat_map(|entry| seeds.iter().map(|seed| (*entry, *seed)))
        .collect();
    let done = AtomicUsize::new(0);
    let runs: Result<Vec<(Figures, Trace)>, SimulateError> = jobs
        .par_iter()
        .map(|((contender, filter_s), seed)| {
            let run = run_one(scenario, hours, *seed, *contender, *filter_s);
            #[allow(clippy::cast_precision_loss)]
            progress((1 + done.fetch_add(1, Ordering::Relaxed)) as f64 / jobs.len() as f64);
            run
        })
        .collect();
    let runs = runs?;
    let mut rows = Vec::new();
    let mut seen = Vec::new();
    for contender in Contender::ALL {
        let of_entry = |filter_s: Option<f64>| {
            jobs.iter()
                .zip(&runs)
                .filter(move |((e, _), _)| *e == (contender, filter_s))
        };
        let tried = tunings(contender).into_iter().map(|(_, filter_s)| {
            let runs = of_entry(filter_s).map(|(_, (figures, _))| figures.clone()).collect();
            Row {
                contender,
                filter_s,
                runs,
            }
        });
        let Some(best) = tried.min_by(|a, b| badness(a).total_cmp(&badness(b))) else {
            continue;
        };
        if let Some((_, (_, trace))) = of_entry(best.filter_s).next() {
            seen.push(Seen {
                contender,
                trace: trace.clone(),
            });
        }
        rows.push(best);
    }
    Ok(Comparison {
        scenario: scenario.name.clone(),
        hours,
        seeds: seeds.to_vec(),
        lifts: scenario.lift_names.clone(),
        changes_s: Yardstick::new(scenario, hours).changes_s().to_vec(),
        rows,
        seen,
    })
}

fn tunings(contender: Contender) -> Vec<Entry> {
    match contender {
        Contender::Pi | Contender::PiOnFilter => FILTERS_S
            .into_iter()
            .map(|filter_s| (contender, Some(filter_s)))
            .collect(),
        _ => vec![(contender, None)],
    }
}

/// By which the best tuning is chosen: the error over the whole run.
fn badness(row: &Row) -> f64 {
    row.rms(|figures| figures.over_lifts(|lift| lift.after_change.with(&lift.rest).rms_percent()))
        .unwrap_or(f64::INFINITY)
}

fn run_one(
    scenario: &Scenario,
    hours: f64,
    seed: u64,
    contender: Contender,
    filter_s: Option<f64>,
) -> Result<(Figures, Trace), SimulateError> {
    let filter_s = filter_s.unwrap_or(0.0);
    let told = &scenario.told;
    match contender {
        Contender::HandOnce => run_by_hand(scenario, hours, seed, false),
        Contender::HandWeekly => run_by_hand(scenario, hours, seed, true),
        Contender::Pi => run_control(scenario, hours, seed, PiPerLift::new(told, filter_s), |_, _| {}),
        Contender::PiOnFilter => {
            let control = PiOnFilter::new(told, Simulation::controller(scenario)?, filter_s);
            run_control(scenario, hours, seed, control, |_, _| {})
        }
        Contender::Risertrim => {
            let control = Simulation::controller(scenario)?;
            run_control(scenario, hours, seed, control, |_, _| {})
        }
        Contender::Knowing => {
            let truly = told_truly(scenario, seed)?;
            let learned = learned(&truly, &told_openings(&truly));
            let control: Result<HostController, _> = Controller::new(&truly, &learned);
            let control = control.map_err(|faults| SimulateError::Installation(Box::new(faults)))?;
            run_control(scenario, hours, seed, control, |_, _| {})
        }
    }
}

/// Trims by hand on a place where nothing else happens, then runs the days from the valves as they stand.
fn run_by_hand(scenario: &Scenario, hours: f64, seed: u64, weekly: bool) -> Result<(Figures, Trace), SimulateError> {
    let mut quiet = scenario.clone();
    quiet.timeline.clear();
    let mut person = HandTrim::new(&scenario.told, seed, weekly);
    person.trim_all(BEFORE_THE_BUCKET_S);
    let mut before = Simulation::driven_by(&quiet, seed, person)?;
    while before.control().is_busy() && before.time_s() < LONGEST_TRIMMING_S {
        before.step()?;
        look(&mut before, HandTrim::see_all);
    }
    let mut person = before.into_control();
    person.begin_day();
    run_control(scenario, hours, seed, person, HandTrim::see_all)
}

fn look<C: Control>(simulation: &mut Simulation<C>, see: impl Fn(&mut C, &[f64])) {
    let mut flows = [0.0; crate::scenario::LIFTS];
    let lifts = flows_of(simulation.plant().state(), &mut flows);
    see(simulation.control_mut(), &flows[..lifts]);
}

fn flows_of(state: &PlantState, flows: &mut [f64]) -> usize {
    for (flow, lift) in flows.iter_mut().zip(&state.lifts) {
        *flow = lift.water_m3_s;
    }
    state.lifts.len().min(flows.len())
}

fn run_control<C: Control>(
    scenario: &Scenario,
    hours: f64,
    seed: u64,
    control: C,
    see: impl Fn(&mut C, &[f64]),
) -> Result<(Figures, Trace), SimulateError> {
    let mut simulation = Simulation::driven_by(scenario, seed, control)?;
    let mut score = Score::new(scenario);
    let mut counter = Counter::new(scenario, hours);
    let mut trace = Trace::new(scenario, hours);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let steps = (3600.0 * hours / simulation.period_s()).round().max(1.0) as u64;
    for step in 0..steps {
        let moment = simulation.step()?;
        score.note(&moment);
        counter.note(&moment);
        trace.note(&moment, |lift| counter.asked_l_min(lift));
        look(&mut simulation, &see);
        if step % AIR_LOOK_STEPS == 0 {
            counter.weigh_air(simulation.plant());
        }
    }
    trace.finish();
    let outcome = score.outcome(scenario, seed, 0.0);
    Ok((counter.finish(&outcome), trace))
}
