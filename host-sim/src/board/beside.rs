//! The same steps by the core on this machine, compared bit by bit.

use crate::simulate::{Control, ControlFailed, HostController, HostReadings, HostStep};
use risertrim::Command;
use risertrim::command::Refused;
use risertrim::commission::Outcome;
use std::fmt;

/// Any control, with the core on this machine beside it on the same readings and commands. Every step is compared, all of it
/// and not only the openings, in the encoding of the log: two numbers are the same when their bits are.
#[derive(Debug)]
pub struct BesideCore<C> {
    control: C,
    core: HostController,
    compared: u64,
    difference: Option<Difference>,
}

/// The first step that was not the same.
#[derive(Clone, Debug)]
pub struct Difference {
    /// Steps that were the same before.
    pub after_steps: u64,
    /// What the control gave.
    pub control: HostStep,
    /// What the core on this machine gave.
    pub core: HostStep,
}

impl<C> BesideCore<C> {
    /// Both must begin afresh, on the same installation.
    pub fn new(control: C, core: HostController) -> Self {
        Self {
            control,
            core,
            compared: 0,
            difference: None,
        }
    }

    /// Steps that were the same, up to the first that was not.
    pub fn compared(&self) -> u64 {
        self.compared
    }

    /// The first step that was not the same.
    pub fn difference(&self) -> Option<&Difference> {
        self.difference.as_ref()
    }

    /// The core on this machine. It stands still from the first difference on.
    pub fn core(&self) -> &HostController {
        &self.core
    }

    /// The control.
    pub fn control_mut(&mut self) -> &mut C {
        &mut self.control
    }
}

impl<C: Control> BesideCore<C> {
    /// Gives a command to both: the answer of the control, and that of the core. What the one refuses the other refuses too; if not,
    /// the next step differs.
    pub(super) fn command_both(&mut self, command: Command) -> (Result<(), ControlFailed>, Result<(), Refused>) {
        let taken = self.control.command(command);
        (taken, HostController::command(&mut self.core, command))
    }
}

impl<C: Control> Control for BesideCore<C> {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        self.command_both(command).0
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let step = self.control.step(readings)?;
        if self.difference.is_none() {
            let core = HostController::step(&mut self.core, readings);
            if postcard::to_stdvec(&step)? == postcard::to_stdvec(&core)? {
                self.compared += 1;
            } else {
                self.difference = Some(Difference {
                    after_steps: self.compared,
                    control: step.clone(),
                    core,
                });
            }
        }
        Ok(step)
    }

    fn commissioned(&mut self) -> Option<Outcome> {
        let _ = self.core.take_outcome(); // told by the control
        self.control.commissioned()
    }
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "after {} equal steps the board and this machine differ",
            self.after_steps
        )?;
        for (number, (board, core)) in self.control.lifts.iter().zip(&self.core.lifts).enumerate() {
            if board != core {
                write!(f, "\n  lift {}: board {board:?}\n  this machine: {core:?}", number + 1)?;
            }
        }
        Ok(())
    }
}
