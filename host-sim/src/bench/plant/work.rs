//! What everybody integrates.

use crate::plant::{ActuatorSpec, Plant, PlantSpec};
use crate::scenario::Scenario;
use crate::simulate::{SimulateError, Simulation};

/// Time between two levels that are looked at where the valves stand still, s.
pub(super) const STILL_SAMPLE_S: u32 = 60;

/// An installation, its valves, and from which volumes it starts.
#[derive(Clone, Debug)]
pub(super) struct Work {
    /// Sensors taken off; actuators that follow at once.
    pub spec: PlantSpec,
    /// Openings of all valves: one set a second, or one for all the time.
    pub openings: Vec<Vec<f64>>,
    /// Time between two levels that are looked at, s.
    pub sample_s: u32,
    /// Levels that are looked at.
    pub samples: usize,
}

/// What an integrator makes of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Answer {
    /// Wall time, s.
    pub took_s: f64,
    /// How often the whole set of equations was solved.
    pub solves: u64,
    /// Volume of each tank at each sample, m3.
    pub volumes_m3: Vec<Vec<f64>>,
    /// Step or tolerance, in words.
    pub setting: String,
}

impl Work {
    /// The first `seconds` of a run under the controller, valves as they truly stood at each second.
    pub fn moved(scenario: &Scenario, seconds: u32) -> Result<Self, SimulateError> {
        let mut scenario = scenario.clone();
        scenario.timeline.clear();
        let mut simulation = Simulation::new(&scenario, scenario.seed)?;
        let mut openings = Vec::new();
        for _ in 0..seconds {
            let truth = simulation.step()?.truth;
            openings.push(truth.lifts.iter().map(|lift| lift.opening).collect());
        }
        let mut spec = scenario.plant(scenario.seed)?;
        for tank in &mut spec.tanks {
            tank.sensor = None;
        }
        for lift in &mut spec.lifts {
            lift.actuator = ActuatorSpec {
                stroke_s: 0.0,
                backlash: 0.0,
                stiction: 0.0,
                leak: lift.actuator.leak,
            };
        }
        Ok(Self {
            spec,
            samples: openings.len(),
            openings,
            sample_s: 1,
        })
    }

    /// The same place left alone with its valves as they stood last, for sixty times as long.
    pub fn still(&self) -> Self {
        Self {
            spec: self.spec.clone(),
            openings: self.openings.last().cloned().into_iter().collect(),
            sample_s: STILL_SAMPLE_S,
            samples: self.samples,
        }
    }

    /// The openings during the sample's time.
    pub fn openings(&self, sample: usize) -> &[f64] {
        let at = sample.min(self.openings.len().saturating_sub(1));
        self.openings.get(at).map_or(&[], Vec::as_slice)
    }

    /// True when nothing moves.
    pub fn is_still(&self) -> bool {
        self.openings.len() < self.samples
    }

    /// Simulated time, s.
    #[allow(clippy::cast_precision_loss)]
    pub fn seconds(&self) -> f64 {
        f64::from(self.sample_s) * self.samples as f64
    }

    /// The plant at its start.
    pub fn plant(&self) -> Result<Plant, SimulateError> {
        Ok(Plant::new(self.spec.clone())?)
    }
}

/// Furthest that a level is from the reference's, mm.
pub(super) fn error_mm(work: &Work, answer: &[Vec<f64>], reference: &[Vec<f64>]) -> f64 {
    if answer.len() != reference.len() {
        return f64::INFINITY;
    }
    let areas = work
        .spec
        .tanks
        .iter()
        .map(|tank| crate::plant::Basin::new(tank.area.clone()));
    let basins: Vec<_> = areas.collect();
    let mut worst = 0.0_f64;
    for (ours, truth) in answer.iter().zip(reference) {
        for ((basin, ours), truth) in basins.iter().zip(ours).zip(truth) {
            let off = (basin.level_m(*ours) - basin.level_m(*truth)).abs();
            worst = if off.is_nan() { f64::INFINITY } else { worst.max(off) };
        }
    }
    1000.0 * worst
}
