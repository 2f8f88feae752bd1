//! The modelled installation and what drives its valves, one control period at a time.

use super::control::{Control, HostController, HostReadings, HostStep};
use super::error::SimulateError;
use super::jobs::Jobs;
use super::timeline::Timeline;
use crate::plant::{self, Change, Plant, PlantState};
use crate::scenario::{Happening, Scenario};
use risertrim::commission::Outcome as Commissioned;
use risertrim::step::BlowerStep;
use risertrim::{Command, Controller, Millis, Reading};

/// All there is to know at one moment: readings, belief and truth belong together.
#[derive(Clone, Copy, Debug)]
pub struct Moment<'a> {
    /// Time since the start, s.
    pub time_s: f64,
    /// The control period that ends at this moment, s.
    pub period_s: f64,
    /// What was read.
    pub readings: &'a HostReadings,
    /// What the controller made of it.
    pub step: &'a HostStep,
    /// The truth.
    pub truth: &'a PlantState,
    /// What is asked of each lift.
    pub jobs: &'a Jobs,
    /// What a trial that ended at this moment found.
    pub commissioned: Option<&'a Commissioned>,
}

/// A running scenario: the modelled installation, its sensors and whatever drives the valves.
///
/// Each [`step`](Self::step) lets one control period pass with the valves as commanded, then reads the sensors and asks the
/// controller once. Before the first, every valve stands at the preset opening. A step allocates nothing.
#[derive(Clone, Debug)]
pub struct Simulation<C = HostController> {
    scenario: Scenario,
    timeline: Timeline,
    plant: Plant,
    control: C,
    jobs: Jobs,
    readings: HostReadings,
    step: HostStep,
    commissioned: Option<Commissioned>,
    openings: Vec<f64>,
    period_ms: u32,
    now_ms: u64,
}

impl Simulation<HostController> {
    /// The core's own controller on the installation that `seed` draws.
    ///
    /// # Errors
    /// The installation cannot be, or the controller refuses it.
    pub fn new(scenario: &Scenario, seed: u64) -> Result<Self, SimulateError> {
        let control =
            Controller::new(&scenario.told, &[]).map_err(|faults| SimulateError::Installation(Box::new(faults)))?;
        Self::driven_by(scenario, seed, control)
    }
}

impl<C: Control> Simulation<C> {
    /// Any control on the installation that `seed` draws.
    ///
    /// # Errors
    /// The installation cannot be.
    pub fn driven_by(scenario: &Scenario, seed: u64, control: C) -> Result<Self, SimulateError> {
        let told = &scenario.told;
        let mut spec = scenario.plant(seed)?;
        let preset = f64::from(told.settings.preset_opening);
        for lift in &mut spec.lifts {
            lift.start_opening = preset;
        }
        Ok(Self {
            timeline: Timeline::new(scenario),
            plant: Plant::new(spec)?,
            control,
            jobs: Jobs::new(told),
            readings: HostReadings::default(),
            step: HostStep {
                now: Millis(0),
                step_ms: 0,
                lifts: heapless::Vec::new(),
                tanks: heapless::Vec::new(),
                manifold_pa: 0.0,
                blower: BlowerStep::default(),
                backup_min: None,
                alarms: heapless::Vec::new(),
            },
            commissioned: None,
            openings: vec![preset; told.lifts.len()],
            period_ms: told.settings.period_ms,
            now_ms: 0,
            scenario: scenario.clone(),
        })
    }

    /// Starts the board's counter at `millis` instead of 0, to try its wrap. For use before the first step.
    #[must_use]
    pub fn counting_from(mut self, millis: u32) -> Self {
        self.readings.now = Millis(millis);
        self
    }

    /// What is due happens, one control period passes, the sensors are read and the controller answers.
    ///
    /// # Errors
    /// Something on the timeline cannot happen, or the controller gave no answer. The simulation stands still then.
    pub fn step(&mut self) -> Result<Moment<'_>, SimulateError> {
        self.happen()?;
        self.plant.advance(self.period_s(), &self.openings);
        self.now_ms += u64::from(self.period_ms);
        self.readings.now = self.readings.now.plus(self.period_ms);
        take_readings(self.plant.read(), &self.scenario, &mut self.readings);
        let at_s = self.time_s();
        let answer = self.control.step(&self.readings);
        self.step = answer.map_err(|why| SimulateError::Control { at_s, why })?;
        self.commissioned = self.control.commissioned();
        for (opening, lift) in self.openings.iter_mut().zip(&self.step.lifts) {
            *opening = f64::from(lift.command.share());
        }
        Ok(self.moment())
    }

    /// The moment after the last step.
    #[must_use]
    pub fn moment(&self) -> Moment<'_> {
        Moment {
            time_s: self.time_s(),
            period_s: self.period_s(),
            readings: &self.readings,
            step: &self.step,
            truth: self.plant.state(),
            jobs: &self.jobs,
            commissioned: self.commissioned.as_ref(),
        }
    }

    /// Gives a command now, besides those of the timeline.
    ///
    /// # Errors
    /// The controller refused it; nothing changes then.
    pub fn command(&mut self, command: Command) -> Result<(), SimulateError> {
        let at_s = self.time_s();
        self.control
            .command(command)
            .map_err(|why| SimulateError::Control { at_s, why })?;
        self.jobs.note_command(&command, at_s);
        Ok(())
    }

    /// Lets something happen to the installation now, moving over `over_s`, besides what the timeline holds.
    ///
    /// # Errors
    /// It cannot happen to this installation; nothing changes then.
    pub fn begin(&mut self, change: Change, over_s: f64) -> Result<(), SimulateError> {
        self.plant.begin(change, over_s)?;
        self.jobs.note_change(&change, self.time_s());
        Ok(())
    }

    /// Time since the start, s.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        #[allow(clippy::cast_precision_loss)] // exact below 2^53 ms, 285 000 years
        let now_ms = self.now_ms as f64;
        now_ms * 1e-3
    }

    /// Time between two steps, s.
    #[must_use]
    pub fn period_s(&self) -> f64 {
        f64::from(self.period_ms) * 1e-3
    }

    /// The scenario it runs.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// The modelled installation.
    #[must_use]
    pub fn plant(&self) -> &Plant {
        &self.plant
    }

    /// What drives the valves.
    #[must_use]
    pub fn control(&self) -> &C {
        &self.control
    }

    /// What drives the valves. Commands belong to [`command`](Self::command), which keeps the yardstick in step.
    pub fn control_mut(&mut self) -> &mut C {
        &mut self.control
    }

    fn happen(&mut self) -> Result<(), SimulateError> {
        let now_s = self.time_s();
        while let Some(entry) = self.timeline.take(now_s, &self.scenario.timeline) {
            let Some(timed) = self.scenario.timeline.get(entry) else {
                continue;
            };
            match timed.what {
                Happening::Command(command) => self.command(command)?,
                Happening::Plant { change, over_s } => self.begin(change, over_s)?,
                Happening::Both { command, change } => {
                    self.command(command)?;
                    self.begin(change, 0.0)?;
                }
            }
        }
        Ok(())
    }
}

/// From metres to the number each sensor gives.
#[allow(clippy::cast_possible_truncation)] // a board reads in f32
fn take_readings(read: &plant::Readings, scenario: &Scenario, out: &mut HostReadings) {
    out.levels.clear();
    for (tank, level) in read.level_m.iter().enumerate() {
        let raw = |level_m: f64| Reading::Value(scenario.raw_reading(tank, level_m));
        let _ = out.levels.push(level.map_or(Reading::Missing, raw));
    }
    out.manifold = read
        .manifold_pa
        .map_or(Reading::Missing, |pa| Reading::Value(pa as f32));
}
