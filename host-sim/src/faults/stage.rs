//! A place that runs well, from which every fault of it starts.

use super::fault::Scene;
use super::site::Site;
use super::watch::{Feeders, ON_TARGET};
use crate::scenario::Scenario;
use crate::simulate::{SimulateError, Simulation};

/// Time that a place runs before a fault strikes, h.
const SETTLES_H: f64 = 8.0;
/// The counter of the board wraps this long after the onset of every fault, ms.
const WRAPS_AFTER_MS: u32 = 60_000;
/// Time over which lifts must have kept their targets before the onset, s.
const LOOKED_AT_S: f64 = 1800.0;

/// A settled place.
#[derive(Clone, Debug)]
pub struct Stage {
    /// Its name as it was asked for.
    pub name: String,
    /// The scenario without its day: nothing happens by itself.
    pub scenario: Scenario,
    /// Where faults strike.
    pub site: Site,
    /// The settled simulation.
    pub settled: Simulation,
    /// Lifts that kept their targets before the onset, tank by tank; only these are asked to be back on them.
    pub(super) on_target: Vec<Feeders>,
}

impl Stage {
    /// Lets a place run until it is settled.
    ///
    /// # Errors
    /// The installation cannot be.
    pub fn settle(name: &str, scenario: &Scenario, seed: u64) -> Result<Option<Self>, SimulateError> {
        let mut scenario = scenario.clone();
        scenario.timeline.clear();
        let Some(site) = Site::of(&scenario) else {
            return Ok(None);
        };
        let simulation = Simulation::new(&scenario, seed)?;
        let steps = (SETTLES_H * 3600.0 / simulation.period_s()) as u32;
        let ran_ms = (SETTLES_H * 3_600_000.0) as u32;
        let mut settled = simulation.counting_from(u32::MAX - ran_ms - WRAPS_AFTER_MS);
        let looked_at = (LOOKED_AT_S / settled.period_s()) as u32;
        let all = Feeders::of(&scenario);
        let mut sums = vec![(0.0, 0.0); all.len()];
        for step in 0..steps {
            let moment = settled.step()?;
            if step + looked_at < steps {
                continue;
            }
            for (feeders, sum) in all.iter().zip(&mut sums) {
                if let (Some(off), false) = (feeders.off(&moment), feeders.is_tested(&moment)) {
                    *sum = (sum.0 + off, sum.1 + 1.0);
                }
            }
        }
        let kept = |(sum, count): &(f64, f64)| *count > 0.0 && (sum / count).abs() < ON_TARGET;
        let on_target = all
            .into_iter()
            .zip(&sums)
            .filter(|(_, sums)| kept(sums))
            .map(|(feeders, _)| feeders);
        let on_target = on_target.collect();
        Ok(Some(Self {
            name: name.to_owned(),
            scenario,
            site,
            settled,
            on_target,
        }))
    }

    /// What faults are made from.
    #[must_use]
    pub fn scene(&self) -> Scene<'_> {
        Scene {
            scenario: &self.scenario,
            site: self.site,
        }
    }
}
