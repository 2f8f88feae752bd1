//! A run on a board, written to a log.

use super::beside::BesideCore;
use crate::log::{FileSink, HostRecorder};
use crate::simulate::{Control, ControlFailed, HostReadings, HostStep};
use risertrim::commission::Outcome;
use risertrim::record::{Began, Plan};
use risertrim::{Command, ResetCause};
use std::io::{self, Write};

/// Who wrote the log.
const FIRMWARE: &str = concat!("risertrim board ", env!("CARGO_PKG_VERSION"));

/// A control with the core beside it; once [`LoggedBoard::log`] was called, everything it decides is written to a log. Steps are
/// those of the board. What a log tells besides (the installation, what was learned) comes from the core on this machine,
/// which is the same for as long as the steps are.
#[derive(Debug)]
pub struct LoggedBoard<C, W> {
    beside: BesideCore<C>,
    log: Option<(Box<HostRecorder>, FileSink<W>)>,
}

impl<C, W: Write> LoggedBoard<C, W> {
    /// Not logged yet.
    pub fn new(beside: BesideCore<C>) -> Self {
        Self { beside, log: None }
    }

    /// Begins a log of a controller that has just begun afresh, on a board that was started for this reason.
    pub fn log(&mut self, plan: Plan, cause: ResetCause, out: W) {
        let mut recorder = Box::new(HostRecorder::new(plan, FIRMWARE));
        let mut sink = FileSink::new(out);
        recorder.begin(Began::Started(cause), self.beside.core().installation(), &[], &mut sink);
        self.log = Some((recorder, sink));
    }

    /// Ends the log; the writer, if there was a log.
    ///
    /// # Errors
    /// Something could not be written.
    pub fn end_log(&mut self) -> io::Result<Option<W>> {
        let ended = self.log.take().map(|(_, sink)| sink.finish());
        Ok(ended.transpose()?.map(|(out, _)| out))
    }

    /// Board and core.
    pub fn beside_mut(&mut self) -> &mut BesideCore<C> {
        &mut self.beside
    }
}

impl<C: Control, W: Write> Control for LoggedBoard<C, W> {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        let (taken, by_core) = self.beside.command_both(command);
        if let Some((recorder, sink)) = &mut self.log {
            recorder.command(command, by_core, sink);
        }
        taken
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let step = self.beside.step(readings)?;
        if let Some((recorder, sink)) = &mut self.log {
            recorder.step(readings, &step, self.beside.core(), sink);
            sink.check()
                .map_err(|error| format!("the log cannot be written: {error}"))?;
        }
        Ok(step)
    }

    fn commissioned(&mut self) -> Option<Outcome> {
        let outcome = self.beside.commissioned()?;
        if let Some((recorder, sink)) = &mut self.log {
            recorder.commissioned(&outcome, self.beside.core().installation(), sink);
        }
        Some(outcome)
    }
}
