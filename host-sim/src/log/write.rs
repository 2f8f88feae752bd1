//! A controller whose doings are written to a log.

use crate::scenario::{LIFTS, TANKS};
use crate::simulate::{Control, ControlFailed, HostController, HostReadings, HostStep};
use risertrim::Command;
use risertrim::commission::Outcome as Commissioned;
use risertrim::record::{Began, Plan, Recorder, ResetCause, Sink, SinkFull};
use std::io::{self, Write};

/// Longest frame written here.
const ROOM: usize = 16 * 1024;
/// Who wrote the log.
const FIRMWARE: &str = concat!("risertrim ", env!("CARGO_PKG_VERSION"));

/// A recorder at the capacities of this crate.
pub type HostRecorder = Recorder<LIFTS, TANKS, ROOM>;

/// A log that is written to a file or any other writer. An error is kept and told at the next opportunity.
#[derive(Debug)]
pub struct FileSink<W> {
    out: W,
    bytes: u64,
    error: Option<io::Error>,
}

impl<W: Write> FileSink<W> {
    /// Writes to `out`; give it a buffer.
    pub fn new(out: W) -> Self {
        Self {
            out,
            bytes: 0,
            error: None,
        }
    }

    /// Bytes written so far.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Writes out what is buffered.
    ///
    /// # Errors
    /// It, or anything before it, could not be written.
    pub fn finish(mut self) -> io::Result<(W, u64)> {
        self.check()?;
        self.out.flush()?;
        Ok((self.out, self.bytes))
    }

    /// The error that writing met since it was last asked, if any.
    ///
    /// # Errors
    /// That one.
    pub fn check(&mut self) -> io::Result<()> {
        self.error.take().map_or(Ok(()), Err)
    }
}

impl<W: Write> Sink for FileSink<W> {
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
        match self.out.write_all(frame) {
            Ok(()) => {
                self.bytes += frame.len() as u64;
                Ok(())
            }
            Err(error) => {
                self.error.get_or_insert(error);
                Err(SinkFull)
            }
        }
    }
}

/// The core's controller with everything it does written to a log.
#[derive(Debug)]
pub struct LoggedController<W> {
    controller: HostController,
    recorder: HostRecorder,
    sink: FileSink<W>,
}

impl<W: Write> LoggedController<W> {
    /// Begins a log of a controller that has just been made, without anything saved.
    pub fn new(controller: HostController, plan: Plan, out: W) -> Self {
        let mut logged = Self {
            controller,
            recorder: HostRecorder::new(plan, FIRMWARE),
            sink: FileSink::new(out),
        };
        let began = Began::Started(ResetCause::Simulated);
        logged
            .recorder
            .begin(began, logged.controller.installation(), &[], &mut logged.sink);
        logged
    }

    /// The controller.
    #[must_use]
    pub fn controller(&self) -> &HostController {
        &self.controller
    }

    /// Ends the log; the writer and the bytes written.
    ///
    /// # Errors
    /// Something could not be written.
    pub fn finish(self) -> io::Result<(W, u64)> {
        self.sink.finish()
    }
}

impl<W: Write> Control for LoggedController<W> {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        let answer = self.controller.command(command);
        self.recorder.command(command, answer, &mut self.sink);
        Ok(answer?)
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let step = self.controller.step(readings);
        self.recorder.step(readings, &step, &self.controller, &mut self.sink);
        self.sink
            .check()
            .map_err(|error| format!("the log cannot be written: {error}"))?;
        Ok(step)
    }

    fn restart(&mut self, remembers: bool) -> Result<(), ControlFailed> {
        let saved = self.controller.learned();
        let saved = if remembers { saved.as_slice() } else { &[] };
        Control::restart(&mut self.controller, remembers)?;
        let began = Began::Started(ResetCause::Simulated);
        self.recorder
            .begin(began, self.controller.installation(), saved, &mut self.sink);
        Ok(())
    }

    fn commissioned(&mut self) -> Option<Commissioned> {
        let outcome = self.controller.take_outcome()?;
        self.recorder
            .commissioned(&outcome, self.controller.installation(), &mut self.sink);
        Some(outcome)
    }
}
