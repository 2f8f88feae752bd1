//! What drives the valves.

use crate::scenario::{LIFTS, TANKS};
use risertrim::command::Refused;
use risertrim::commission::Outcome as Commissioned;
use risertrim::link::Not;
use risertrim::{Command, Controller, Readings, Step};
use std::error::Error;

/// The core's controller at the capacities of this crate.
pub type HostController = Controller<LIFTS, TANKS>;
/// What was read, at the capacities of this crate.
pub type HostReadings = Readings<TANKS>;
/// The outcome of one control step, at the capacities of this crate.
pub type HostStep = Step<LIFTS, TANKS>;
/// Why a step or a command did not come about (a lost link to a board, a refused command).
pub type ControlFailed = Box<dyn Error + Send + Sync>;

/// Anything that turns readings into openings: the core on this machine, a board at the end of a cable, a simpler law to
/// compare with.
pub trait Control {
    /// Takes a command; it shows from the next step on.
    ///
    /// # Errors
    /// The command was refused or did not arrive.
    fn command(&mut self, command: Command) -> Result<(), ControlFailed>;

    /// One step from readings to openings.
    ///
    /// # Errors
    /// No answer came. The core on this machine always answers.
    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed>;

    /// The board restarts: with what the controller had saved, or with nothing. What has no memory to lose goes on.
    ///
    /// # Errors
    /// It did not start again.
    fn restart(&mut self, remembers: bool) -> Result<(), ControlFailed> {
        let _ = remembers;
        Ok(())
    }

    /// What a trial that ended in the last step found, once. Nothing where no trials are made.
    fn commissioned(&mut self) -> Option<Commissioned> {
        None
    }
}

/// Why the controller said no, where that is why a command did not come about; `None` where it did not arrive.
pub(super) fn refusal(why: &ControlFailed) -> Option<Refused> {
    let mut error: &(dyn Error + 'static) = why.as_ref();
    loop {
        if let Some(refused) = error.downcast_ref::<Refused>() {
            return Some(*refused);
        }
        if let Some(Not::Refused(refused)) = error.downcast_ref::<Not>() {
            return Some(*refused);
        }
        error = error.source()?;
    }
}

impl Control for HostController {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        Ok(Self::command(self, command)?)
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        Ok(Self::step(self, readings))
    }

    fn restart(&mut self, remembers: bool) -> Result<(), ControlFailed> {
        let saved = self.learned();
        let saved = if remembers { saved.as_slice() } else { &[] };
        let fresh = Self::new(&self.installation().to_installation(), saved);
        *self = fresh.map_err(|faults| {
            let all: Vec<String> = faults.named().iter().map(ToString::to_string).collect();
            ControlFailed::from(all.join("; "))
        })?;
        Ok(())
    }

    fn commissioned(&mut self) -> Option<Commissioned> {
        self.take_outcome()
    }
}
