//! The same PI controllers on the flow that risertrim's filter believes: what is the filter's, and what is the trim's?

use super::pi::Loops;
use crate::scenario::HostInstallation;
use crate::simulate::{Control, ControlFailed, HostController, HostReadings, HostStep};
use risertrim::{Command, Opening};

/// PI controllers that ask risertrim for the flow and set its valves by hand.
#[derive(Clone, Debug)]
pub(super) struct PiOnFilter {
    filter: HostController,
    loops: Loops,
    sent: Vec<Option<Opening>>,
    out: Vec<bool>,
}

impl PiOnFilter {
    pub fn new(told: &HostInstallation, filter: HostController, loop_s: f64) -> Self {
        Self {
            filter,
            loops: Loops::on_filter(told, loop_s),
            sent: vec![None; told.lifts.len()],
            out: vec![false; told.lifts.len()],
        }
    }
}

impl Control for PiOnFilter {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        self.loops.command(command);
        let out = match command {
            Command::OutOfService { lift } => Some((lift, true)),
            Command::Automatic { lift } | Command::Manual { lift, .. } => Some((lift, false)),
            _ => None,
        };
        if let Some((lift, out)) = out {
            let index = usize::from(lift);
            if let (Some(slot), Some(sent)) = (self.out.get_mut(index), self.sent.get_mut(index)) {
                (*slot, *sent) = (out, None);
            }
            if out {
                self.filter.command(Command::OutOfService { lift })?;
            }
        }
        Ok(())
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        for (lift, ((own, sent), out)) in (0u8..).zip(self.loops.lifts.iter().zip(&mut self.sent).zip(&self.out)) {
            let opening = own.held();
            if *sent != Some(opening) && !out {
                self.filter.command(Command::Manual { lift, opening })?;
                *sent = Some(opening);
            }
        }
        let step = HostController::step(&mut self.filter, readings);
        let flows: Vec<f64> = step.lifts.iter().map(|lift| f64::from(lift.flow.m3_s)).collect();
        let period_s = 1e-3 * f64::from(self.loops.told.settings.period_ms);
        self.loops.step(&flows, period_s);
        Ok(step)
    }

    fn restart(&mut self, remembers: bool) -> Result<(), ControlFailed> {
        self.sent.fill(None);
        Control::restart(&mut self.filter, remembers)
    }
}
