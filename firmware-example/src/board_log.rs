//! What a board writes down of every step: the same records as the modelled installation's, into whatever the board has.

use crate::board::Board;
use risertrim::command::{Command, Refused};
use risertrim::commission::Outcome;
use risertrim::controller::{Controller, Learned};
use risertrim::installation::Installed;
use risertrim::record::{Began, Plan, Recorder, Sink};
use risertrim::step::{Readings, Step};

/// A piece of a log that was read back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Place of its first byte; beyond the one asked for when that was written over.
    pub at: u64,
    /// Bytes of it; none at the end of the log.
    pub bytes: usize,
    /// Place to read on from.
    pub next: u64,
}

/// Where the records of a board go, and how they come out again.
pub trait LogSink: Sink {
    /// Reads from a place on, 0 for the oldest; `None` where nothing can be read back.
    fn read_at(&mut self, from: u64, room: &mut [u8]) -> Option<Piece>;

    /// Hands on what waits to be sent: `send` takes as many bytes as go out now, and says how many.
    fn hand_on(&mut self, _send: impl FnMut(&[u8]) -> usize) {}
}

/// What the application tells of itself to be logged. [`NoLog`] takes no memory and no time; [`KeptLog`] records.
pub trait BoardLog<const LIFTS: usize, const TANKS: usize> {
    /// The controller starts on an installation, or goes on with another.
    fn begin(&mut self, began: Began, installation: &Installed<LIFTS, TANKS>, saved: &[Learned]);

    /// A step was made from these readings.
    fn step(&mut self, readings: &Readings<TANKS>, step: &Step<LIFTS, TANKS>, controller: &Controller<LIFTS, TANKS>);

    /// A command was given, and taken or refused.
    fn command(&mut self, command: Command, answer: Result<(), Refused>);

    /// A trial ended.
    fn commissioned(&mut self, outcome: &Outcome, installation: &Installed<LIFTS, TANKS>);

    /// A valve could not be driven (false), or can be again (true).
    fn valve(&mut self, lift: u8, driven: bool);

    /// Reads the log back: see [`LogSink::read_at`].
    fn read_at(&mut self, from: u64, room: &mut [u8]) -> Option<Piece>;

    /// Hands on to the board what waits to be sent ([`Board::send_log`]).
    fn hand_on<B: Board>(&mut self, board: &mut B);
}

/// No log.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NoLog;

impl<const LIFTS: usize, const TANKS: usize> BoardLog<LIFTS, TANKS> for NoLog {
    fn begin(&mut self, _: Began, _: &Installed<LIFTS, TANKS>, _: &[Learned]) {}

    fn step(&mut self, _: &Readings<TANKS>, _: &Step<LIFTS, TANKS>, _: &Controller<LIFTS, TANKS>) {}

    fn command(&mut self, _: Command, _: Result<(), Refused>) {}

    fn commissioned(&mut self, _: &Outcome, _: &Installed<LIFTS, TANKS>) {}

    fn valve(&mut self, _: u8, _: bool) {}

    fn read_at(&mut self, _: u64, _: &mut [u8]) -> Option<Piece> {
        None
    }

    fn hand_on<B: Board>(&mut self, _: &mut B) {}
}

/// A recorder and where its records go: [`crate::RamLog`], [`crate::FlashLogKeeper`], [`crate::SerialLog`], or a [`LogSink`] of your own.
///
/// `ROOM` is that of the [`Recorder`], and nearly all the memory it takes besides the sink: 2048 for eight lifts and nine tanks, half of
/// it for three lifts. The plan says how much is recorded; `RECORD.md` of the core says how many bytes an hour that is.
///
/// ```
/// use risertrim::record::Plan;
/// use risertrim_firmware::{App, KeptLog, RamLog};
///
/// let log = KeptLog::<2, 3, 1024, _>::new(Plan::SPARING, "my board 1.0", RamLog::<16384>::new());
/// let app = App::<2, 3, _>::with_log(log);
/// # let _ = app;
/// ```
#[derive(Clone, Debug)]
pub struct KeptLog<const LIFTS: usize, const TANKS: usize, const ROOM: usize, S> {
    recorder: Recorder<LIFTS, TANKS, ROOM>,
    sink: S,
}

impl<const LIFTS: usize, const TANKS: usize, const ROOM: usize, S> KeptLog<LIFTS, TANKS, ROOM, S> {
    /// Nothing recorded yet. Of the name of the firmware the first 24 bytes are kept.
    #[must_use]
    pub const fn new(plan: Plan, firmware: &'static str, sink: S) -> Self {
        Self {
            recorder: Recorder::new(plan, firmware),
            sink,
        }
    }

    /// Where the records go.
    pub fn sink_mut(&mut self) -> &mut S {
        &mut self.sink
    }
}

impl<const LIFTS: usize, const TANKS: usize, const ROOM: usize, S: LogSink> BoardLog<LIFTS, TANKS>
    for KeptLog<LIFTS, TANKS, ROOM, S>
{
    fn begin(&mut self, began: Began, installation: &Installed<LIFTS, TANKS>, saved: &[Learned]) {
        self.recorder.begin(began, installation, saved, &mut self.sink);
    }

    fn step(&mut self, readings: &Readings<TANKS>, step: &Step<LIFTS, TANKS>, controller: &Controller<LIFTS, TANKS>) {
        self.recorder.step(readings, step, controller, &mut self.sink);
    }

    fn command(&mut self, command: Command, answer: Result<(), Refused>) {
        self.recorder.command(command, answer, &mut self.sink);
    }

    fn commissioned(&mut self, outcome: &Outcome, installation: &Installed<LIFTS, TANKS>) {
        self.recorder.commissioned(outcome, installation, &mut self.sink);
    }

    fn valve(&mut self, lift: u8, driven: bool) {
        self.recorder.valve(lift, driven, &mut self.sink);
    }

    fn read_at(&mut self, from: u64, room: &mut [u8]) -> Option<Piece> {
        self.sink.read_at(from, room)
    }

    fn hand_on<B: Board>(&mut self, board: &mut B) {
        self.sink.hand_on(|bytes| board.send_log(bytes));
    }
}

/// One that lies elsewhere, so that making the application does not pass it through the stack.
impl<const LIFTS: usize, const TANKS: usize, L: BoardLog<LIFTS, TANKS>> BoardLog<LIFTS, TANKS> for &mut L {
    fn begin(&mut self, began: Began, installation: &Installed<LIFTS, TANKS>, saved: &[Learned]) {
        L::begin(self, began, installation, saved);
    }

    fn step(&mut self, readings: &Readings<TANKS>, step: &Step<LIFTS, TANKS>, controller: &Controller<LIFTS, TANKS>) {
        L::step(self, readings, step, controller);
    }

    fn command(&mut self, command: Command, answer: Result<(), Refused>) {
        L::command(self, command, answer);
    }

    fn commissioned(&mut self, outcome: &Outcome, installation: &Installed<LIFTS, TANKS>) {
        L::commissioned(self, outcome, installation);
    }

    fn valve(&mut self, lift: u8, driven: bool) {
        L::valve(self, lift, driven);
    }

    fn read_at(&mut self, from: u64, room: &mut [u8]) -> Option<Piece> {
        L::read_at(self, from, room)
    }

    fn hand_on<B: Board>(&mut self, board: &mut B) {
        L::hand_on(self, board);
    }
}
