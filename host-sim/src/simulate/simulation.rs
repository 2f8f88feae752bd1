//! The modelled installation and what drives its valves, one control period at a time.

use super::control::{Control, HostController, HostReadings, HostStep, refusal};
use super::error::SimulateError;
use super::jobs::Jobs;
use super::moment::{Moment, RefusedCommand};
use super::timeline::Timeline;
use crate::plant::{self, Change, Plant};
use crate::scenario::{BoardEvent, Happening, Scenario};
use risertrim::air::Drive;
use risertrim::commission::Outcome as Commissioned;
use risertrim::step::BlowerStep;
use risertrim::{Command, Controller, Millis, Opening, Reading, WaterFlow};

/// A running scenario: the modelled installation, its sensors and whatever drives the valves.
///
/// While the board is without power nothing is read or answered, no alarm stands and every valve is where it goes without
/// power: open.
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
    board_runs: bool,
    refused: Vec<RefusedCommand>,
    /// What is left of the battery that drives the blower, J; `None` on the mains, infinite where its energy is not told.
    battery_j: Option<f64>,
}

impl Simulation<HostController> {
    /// The core's own controller on the installation that `seed` draws.
    ///
    /// # Errors
    /// The installation cannot be, or the controller refuses it.
    pub fn new(scenario: &Scenario, seed: u64) -> Result<Self, SimulateError> {
        Self::driven_by(scenario, seed, Self::controller(scenario)?)
    }

    /// The core's own controller, as a scenario tells it.
    ///
    /// # Errors
    /// It refuses the installation.
    pub fn controller(scenario: &Scenario) -> Result<HostController, SimulateError> {
        Controller::new(&scenario.told, &[]).map_err(|faults| SimulateError::Installation(Box::new(faults)))
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
            board_runs: true,
            refused: Vec::new(),
            battery_j: None,
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
    /// Something on the timeline cannot happen, or the controller gave no answer. The simulation stands still then. A command of the
    /// timeline that the controller refuses is kept in [`Moment::refused`], and the run goes on.
    pub fn step(&mut self) -> Result<Moment<'_>, SimulateError> {
        self.happen()?;
        self.plant.advance(self.period_s(), &self.openings);
        self.drain_battery()?;
        self.now_ms += u64::from(self.period_ms);
        self.readings.now = self.readings.now.plus(self.period_ms);
        if !self.board_runs {
            self.openings.fill(1.0);
            self.plant.drive_blower(1.0, 1.0);
            self.commissioned = None;
            return Ok(self.moment());
        }
        take_readings(self.plant.read(), &self.scenario, &mut self.readings);
        let at_s = self.time_s();
        let answer = self.control.step(&self.readings);
        self.step = answer.map_err(|why| SimulateError::Control { at_s, why })?;
        self.commissioned = self.control.commissioned();
        self.drive_blower();
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
            refused: &self.refused,
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
        if let Command::OnBackup(on) = command {
            let told = self.scenario.told.air.backup;
            let full_j = told.map_or(f64::INFINITY, |backup| 3600.0 * f64::from(backup.energy_wh));
            let was_empty = self.battery_j == Some(0.0);
            self.battery_j = on.then_some(self.battery_j.unwrap_or(full_j));
            if was_empty && !on {
                self.begin(Change::RunBlower { on: true }, 0.0)?;
            }
        }
        Ok(())
    }

    /// Energy left in the battery that drives the blower, Wh; `None` on the mains.
    #[must_use]
    pub fn battery_wh(&self) -> Option<f64> {
        self.battery_j.map(|joules| joules / 3600.0)
    }

    /// A battery that drives the blower is drained by what it takes; empty, the blower stops.
    fn drain_battery(&mut self) -> Result<(), SimulateError> {
        let taken_j = self.plant.state().power_w * self.period_s();
        let Some(left_j) = self.battery_j.as_mut().filter(|left_j| **left_j > 0.0) else {
            return Ok(());
        };
        *left_j = (*left_j - taken_j).max(0.0);
        if *left_j > 0.0 {
            return Ok(());
        }
        self.begin(Change::RunBlower { on: false }, 0.0)
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

    /// Lets what a timeline can hold happen now.
    ///
    /// # Errors
    /// It cannot happen to this installation, or the controller refused it.
    pub fn let_happen(&mut self, what: Happening) -> Result<(), SimulateError> {
        match what {
            Happening::Command(command) => self.command(command),
            Happening::Plant { change, over_s } => self.begin(change, over_s),
            Happening::Both { command, change } => {
                self.command(command)?;
                self.begin(change, 0.0)
            }
            Happening::Board(event) => self.board(event),
        }
    }

    /// The openings that the next period will run with; whoever changes them overrules the controller for that period.
    pub fn openings_mut(&mut self) -> &mut [f64] {
        &mut self.openings
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

    /// Ends it, and gives back what drove the valves.
    #[must_use]
    pub fn into_control(self) -> C {
        self.control
    }

    fn happen(&mut self) -> Result<(), SimulateError> {
        let now_s = self.time_s();
        while let Some(entry) = self.timeline.take(now_s, &self.scenario.timeline) {
            let Some(timed) = self.scenario.timeline.get(entry) else {
                continue;
            };
            let (what, line) = (timed.what, timed.line);
            match self.let_happen(what) {
                Err(SimulateError::Control { at_s, why }) => {
                    let (Some(why), Some(command)) = (refusal(&why), what.command()) else {
                        return Err(SimulateError::Control { at_s, why });
                    };
                    self.refused.push(RefusedCommand {
                        at_s,
                        line,
                        command,
                        why,
                    });
                    // What hands do is done, whatever the controller thinks of it.
                    if let Happening::Both { change, .. } = what {
                        self.begin(change, 0.0)?;
                    }
                }
                other => other?,
            }
        }
        Ok(())
    }

    /// The blower obeys where it can be set at all.
    fn drive_blower(&mut self) {
        let wanted = &self.step.blower;
        match self.scenario.told.air.drive {
            Drive::Fixed => {}
            Drive::Relays { units, .. } => {
                let share = f64::from(wanted.units) / f64::from(units.max(1));
                self.plant.drive_blower(1.0, share);
            }
            Drive::Speed { .. } => self.plant.drive_blower(f64::from(wanted.speed), 1.0),
        }
    }

    fn board(&mut self, event: BoardEvent) -> Result<(), SimulateError> {
        match event {
            BoardEvent::PowerFails => {
                self.begin(Change::RunBlower { on: false }, 0.0)?;
                self.stop_board();
            }
            BoardEvent::PowerBack => {
                self.begin(Change::RunBlower { on: true }, 0.0)?;
                self.start_board(true)?;
            }
            BoardEvent::Stops => self.stop_board(),
            BoardEvent::Starts { remembers } => self.start_board(remembers)?,
            BoardEvent::ClockLeaps(by_s) => {
                #[allow(clippy::cast_possible_truncation)] // saturates beyond what a counter can leap
                let by_ms = (by_s * 1000.0) as i64;
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // modulo 2^32 on purpose
                let wrapped = by_ms as u32;
                self.readings.now = self.readings.now.plus(wrapped);
            }
            BoardEvent::ClockWraps => self.readings.now = Millis(u32::MAX - 60_000),
        }
        Ok(())
    }

    fn stop_board(&mut self) {
        self.board_runs = false;
        self.step.alarms.clear();
        self.openings.fill(1.0);
    }

    /// The board runs again. What people asked for is among its settings and is kept; its counter begins anew.
    fn start_board(&mut self, remembers: bool) -> Result<(), SimulateError> {
        let at_s = self.time_s();
        let failed = |why| SimulateError::Control { at_s, why };
        self.control.restart(remembers).map_err(failed)?;
        let preset = self.scenario.told.settings.preset_opening;
        self.openings.fill(f64::from(preset));
        for (lift, job) in (0u8..).zip(&self.jobs.lifts) {
            #[allow(clippy::cast_possible_truncation)]
            let flow = WaterFlow::from_m3_s(job.target_m3_s as f32);
            self.control.command(Command::Target { lift, flow }).map_err(failed)?;
            if !job.in_service {
                self.control.command(Command::OutOfService { lift }).map_err(failed)?;
            } else if !job.automatic {
                let opening = Opening::new(preset);
                self.control
                    .command(Command::Manual { lift, opening })
                    .map_err(failed)?;
            }
        }
        self.readings.now = Millis(0);
        self.board_runs = true;
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
