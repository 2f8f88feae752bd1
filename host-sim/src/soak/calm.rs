//! Days on which nothing is wrong.

use super::calendar::fault_free;
use crate::scenario::Scenario;
use crate::simulate::{SimulateError, Simulation, subject_name};
use rayon::prelude::*;
use serde::Serialize;

/// An alarm on a day on which nothing was wrong.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FalseAlarm {
    /// Name of the scenario.
    pub scenario: String,
    /// Seed of the true place.
    pub seed: u64,
    /// When it came up first, days.
    pub at_days: f64,
    /// Short name of its kind.
    pub kind: &'static str,
    /// What it is about.
    pub subject: String,
    /// How often it came up.
    pub times: u32,
}

/// What came of the days.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Calm {
    /// Days of each run.
    pub days: f64,
    /// Runs: scenarios times seeds.
    pub runs: usize,
    /// Alarms that came up, one line for each kind and subject of a run.
    pub false_alarms: Vec<FalseAlarm>,
    /// Time it took on this machine, s.
    pub wall_s: f64,
}

/// Runs each place for `days` with seeds 1 to `seeds`; `progress` is told the share done.
///
/// # Errors
/// A place that cannot be.
pub fn calm(
    places: &[(String, Scenario)],
    days: f64,
    seeds: u64,
    progress: &(impl Fn(f64) + Sync),
) -> Result<Calm, SimulateError> {
    let start = std::time::Instant::now();
    let runs: Vec<(&String, &Scenario, u64)> = places
        .iter()
        .flat_map(|(name, scenario)| (1..=seeds).map(move |seed| (name, scenario, seed)))
        .collect();
    let done = std::sync::atomic::AtomicUsize::new(0);
    let alarms: Vec<Vec<FalseAlarm>> = runs
        .par_iter()
        .map(|(name, scenario, seed)| {
            let found = one(name, scenario, days, *seed);
            let so_far = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            #[allow(clippy::cast_precision_loss)]
            progress(so_far as f64 / runs.len() as f64);
            found
        })
        .collect::<Result<_, _>>()?;
    Ok(Calm {
        days,
        runs: runs.len(),
        false_alarms: alarms.into_iter().flatten().collect(),
        wall_s: start.elapsed().as_secs_f64(),
    })
}

fn one(name: &str, scenario: &Scenario, days: f64, seed: u64) -> Result<Vec<FalseAlarm>, SimulateError> {
    let calm = fault_free(scenario, days);
    let mut simulation = Simulation::new(&calm, seed)?;
    let mut found: Vec<(FalseAlarm, risertrim::alarm::Subject, bool)> = Vec::new();
    while simulation.time_s() < days * super::calendar::DAY_S {
        let moment = simulation.step()?;
        let at_days = moment.time_s / super::calendar::DAY_S;
        let standing = || moment.step.alarms.iter().filter(|alarm| alarm.stands());
        for (alarm, subject, stood) in &mut found {
            let stands = standing().any(|now| now.kind.name() == alarm.kind && now.subject == *subject);
            alarm.times += u32::from(stands && !*stood);
            *stood = stands;
        }
        for now in standing() {
            let kind = now.kind.name();
            if found
                .iter()
                .any(|(alarm, subject, _)| alarm.kind == kind && *subject == now.subject)
            {
                continue;
            }
            let alarm = FalseAlarm {
                scenario: name.to_owned(),
                seed,
                at_days,
                kind,
                subject: subject_name(now.subject, &calm),
                times: 1,
            };
            found.push((alarm, now.subject, true));
        }
    }
    Ok(found.into_iter().map(|(alarm, ..)| alarm).collect())
}
