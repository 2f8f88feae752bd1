//! A scenario from start to end.

use super::control::{Control, HostController};
use super::error::{MOST_HOURS, SimulateError};
use super::moment::Moment;
use super::outcome::Outcome;
use super::score::Score;
use super::simulation::Simulation;
use crate::scenario::Scenario;
use std::io;
use std::time::Instant;

/// Steps between two reports of progress.
const PROGRESS_EVERY: u64 = 2_000;

/// Keeps what it wants of a run while it goes on.
pub trait Recorder {
    /// Called once for each control period.
    ///
    /// # Errors
    /// It could not be kept; the run ends.
    fn record(&mut self, moment: &Moment<'_>) -> io::Result<()>;
}

/// What looks on during a run; [`Watch::default`] is nobody.
#[derive(Default)]
pub struct Watch<'a> {
    /// Told now and then which share of the run is done, 0 to 1.
    pub progress: Option<&'a mut dyn FnMut(f64)>,
    /// Keeps what it wants of each moment.
    pub recorder: Option<&'a mut dyn Recorder>,
}

/// A run that can start: everything that input can get wrong has been found by now.
#[derive(Clone, Debug)]
pub struct Run<'s, C = HostController> {
    scenario: &'s Scenario,
    seed: u64,
    steps: u64,
    simulation: Simulation<C>,
}

impl<'s> Run<'s, HostController> {
    /// Makes a scenario ready, for other hours or another seed than its own if wished.
    ///
    /// # Errors
    /// Bad input: the installation cannot be, the controller refuses it, or the hours make no sense.
    pub fn new(scenario: &'s Scenario, hours: Option<f64>, seed: Option<u64>) -> Result<Self, SimulateError> {
        let controller = Simulation::controller(scenario)?;
        Self::driven_by(scenario, hours, seed, controller)
    }
}

impl<'s, C: Control> Run<'s, C> {
    /// The same with anything else in control.
    ///
    /// # Errors
    /// Bad input: the installation cannot be, or the hours make no sense.
    pub fn driven_by(
        scenario: &'s Scenario,
        hours: Option<f64>,
        seed: Option<u64>,
        control: C,
    ) -> Result<Self, SimulateError> {
        let hours = hours.unwrap_or(scenario.hours);
        if !(hours > 0.0 && hours <= MOST_HOURS) {
            return Err(SimulateError::Hours(hours));
        }
        let seed = seed.unwrap_or(scenario.seed);
        let simulation = Simulation::driven_by(scenario, seed, control)?;
        let steps = (hours * 3600.0 / simulation.period_s()).round().max(1.0);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most ten years of 0.1 s
        let steps = steps as u64;
        Ok(Self {
            scenario,
            seed,
            steps,
            simulation,
        })
    }

    /// Runs it to its end.
    ///
    /// # Errors
    /// Something on the timeline cannot happen, or what `watch` wants kept cannot be written.
    pub fn finish(self, watch: &mut Watch<'_>) -> Result<Outcome, SimulateError> {
        Ok(self.finish_with_control(watch)?.0)
    }

    /// Runs it to its end, and gives back what was in control.
    ///
    /// # Errors
    /// As [`Run::finish`].
    pub fn finish_with_control(self, watch: &mut Watch<'_>) -> Result<(Outcome, C), SimulateError> {
        let Self {
            scenario,
            seed,
            steps,
            mut simulation,
        } = self;
        let mut score = Score::new(scenario);
        let start = Instant::now();
        for done in 0..steps {
            let moment = simulation.step()?;
            score.note(&moment);
            if let Some(recorder) = watch.recorder.as_deref_mut() {
                recorder.record(&moment)?;
            }
            if done % PROGRESS_EVERY == 0
                && let Some(progress) = watch.progress.as_deref_mut()
            {
                #[allow(clippy::cast_precision_loss)]
                progress(done as f64 / steps as f64);
            }
        }
        let outcome = score.outcome(scenario, seed, start.elapsed().as_secs_f64());
        Ok((outcome, simulation.into_control()))
    }
}

/// Runs a scenario from start to end with the core's controller, as written but for `hours` and `seed`.
///
/// # Errors
/// Bad input ([`SimulateError::is_bad_input`]), or the run failed.
pub fn run(scenario: &Scenario, hours: Option<f64>, seed: Option<u64>) -> Result<Outcome, SimulateError> {
    Run::new(scenario, hours, seed)?.finish(&mut Watch::default())
}
