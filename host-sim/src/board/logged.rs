//! A run on a board, written to a log.

use super::beside::BesideCore;
use super::control::BoardControl;
use super::error::BoardError;
use super::records::RecordsFetch;
use super::wire::Wire;
use crate::log::{FileSink, HostRecorder};
use crate::simulate::{Control, ControlFailed, HostReadings, HostStep};
use risertrim::commission::Outcome;
use risertrim::record::{Began, Plan};
use risertrim::{Command, ResetCause};
use std::io::Write;

/// Who wrote the log.
const FIRMWARE: &str = concat!("risertrim board ", env!("CARGO_PKG_VERSION"));
/// Steps between two looks for what the board has recorded: few enough that a ring of 16 KiB loses nothing of the fullest plan.
const FETCH_EVERY: u32 = 30;

/// A board with the core beside it, its run written to a log by one of the two.
///
/// [`LoggedBoard::log`] writes here: steps are those of the board, and what a log tells besides (the installation, what was learned)
/// comes from the core on this machine, which is the same for as long as the steps are. [`LoggedBoard::fetch_log`] takes what the board
/// itself records, as it goes.
#[derive(Debug)]
pub struct LoggedBoard<L, W> {
    beside: BesideCore<BoardControl<L>>,
    log: Log<W>,
}

#[derive(Debug)]
enum Log<W> {
    None,
    Here(Box<HostRecorder>, FileSink<W>),
    There { fetch: RecordsFetch, out: W, since: u32 },
}

impl<L: Wire, W: Write> LoggedBoard<L, W> {
    /// Not logged yet.
    pub fn new(beside: BesideCore<BoardControl<L>>) -> Self {
        Self { beside, log: Log::None }
    }

    /// Begins a log of a controller that has just begun afresh, on a board that was started for this reason.
    pub fn log(&mut self, plan: Plan, cause: ResetCause, out: W) {
        let mut recorder = Box::new(HostRecorder::new(plan, FIRMWARE));
        let mut sink = FileSink::new(out);
        recorder.begin(Began::Started(cause), self.beside.core().installation(), &[], &mut sink);
        self.log = Log::Here(recorder, sink);
    }

    /// Begins to fetch what the board records, from what it has by now.
    ///
    /// # Errors
    /// The board keeps no log, or the line or the writer fails.
    pub fn fetch_log(&mut self, mut out: W) -> Result<(), BoardError> {
        let mut fetch = RecordsFetch::default();
        fetch.fetch(self.beside.control_mut().client_mut(), &mut out)?;
        self.log = Log::There { fetch, out, since: 0 };
        Ok(())
    }

    /// Ends the log; what was fetched, if it was the board's.
    ///
    /// # Errors
    /// Something could not be fetched or written.
    pub fn end_log(&mut self) -> Result<Option<RecordsFetch>, BoardError> {
        match std::mem::replace(&mut self.log, Log::None) {
            Log::None => Ok(None),
            Log::Here(_, sink) => {
                sink.finish().map_err(BoardError::LogFile)?;
                Ok(None)
            }
            Log::There { mut fetch, mut out, .. } => {
                fetch.fetch(self.beside.control_mut().client_mut(), &mut out)?;
                out.flush().map_err(BoardError::LogFile)?;
                Ok(Some(fetch))
            }
        }
    }

    /// Board and core.
    pub fn beside_mut(&mut self) -> &mut BesideCore<BoardControl<L>> {
        &mut self.beside
    }
}

impl<L: Wire, W: Write> Control for LoggedBoard<L, W> {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        let (taken, by_core) = self.beside.command_both(command);
        if let Log::Here(recorder, sink) = &mut self.log {
            recorder.command(command, by_core, sink);
        }
        taken
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let step = self.beside.step(readings)?;
        match &mut self.log {
            Log::None => {}
            Log::Here(recorder, sink) => {
                recorder.step(readings, &step, self.beside.core(), sink);
                sink.check().map_err(BoardError::LogFile)?;
            }
            Log::There { fetch, out, since } => {
                *since += 1;
                if *since >= FETCH_EVERY {
                    *since = 0;
                    fetch.fetch(self.beside.control_mut().client_mut(), out)?;
                }
            }
        }
        Ok(step)
    }

    fn commissioned(&mut self) -> Option<Outcome> {
        let outcome = self.beside.commissioned()?;
        if let Log::Here(recorder, sink) = &mut self.log {
            recorder.commissioned(&outcome, self.beside.core().installation(), sink);
        }
        Some(outcome)
    }
}
