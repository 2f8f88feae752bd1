//! The application: outputs safe first, then one step a period.

mod allowance;
mod answers;
mod driven;
mod keeping;
mod outputs;
mod start;
mod telling;

use crate::board::Board;
use crate::board_log::{BoardLog, NoLog};
use crate::journal::Journal;
use crate::put::Incoming;
use crate::resets::Resets;
use crate::serve::Line;
use allowance::Allowance;
use driven::Driven;
use outputs::Fixed;
use risertrim::alarm::Name;
use risertrim::command::{Command, Refused};
use risertrim::link::{Event, Running, Stepped};
use risertrim::step::{ALARMS, BlowerStep};
use risertrim::time::{Elapsed, Held};
use risertrim::{Controller, FreeAir, Installation, Millis, Reading, Readings, ResetCause, Step};

/// Period while there is no installation to give one, ms.
const IDLE_PERIOD_MS: u32 = 1000;
/// Bench mode: periods without readings after which the host is taken for gone.
const SILENT_PERIODS: u32 = 10;

/// Runs the installation for ever.
///
/// `built_in` is run when nothing usable is kept in the board's store; `None` waits, with the outputs safe, for a host to
/// send one.
pub fn run<B: Board, L: BoardLog<LIFTS, TANKS>, const LIFTS: usize, const TANKS: usize>(
    app: &mut App<LIFTS, TANKS, L>,
    board: &mut B,
    built_in: Option<&'static Installation<LIFTS, TANKS>>,
) -> ! {
    app.start(board, built_in);
    loop {
        // What a busy host has sent is answered before anything sleeps.
        if !app.poll(board) && !app.line.holds_bytes() {
            board.idle();
        }
    }
}

/// The application, for a board that has a main loop of its own, and for twelve lifts at most. It is some 20 KiB for eight lifts: keep
/// it in a `static`.
///
/// `L` is its log: [`NoLog`] unless it is made by [`App::with_log`].
#[derive(Clone, Debug)]
pub struct App<const LIFTS: usize, const TANKS: usize, L = NoLog> {
    controller: Controller<LIFTS, TANKS>,
    /// An installation that is read from the store or the host, before the controller takes it.
    candidate: Installation<LIFTS, TANKS>,
    built_in: Option<&'static Installation<LIFTS, TANKS>>,
    running: Running,
    cause: ResetCause,
    resets: Resets,
    /// Nothing before an installation was seen.
    fixed: Option<Fixed>,
    fingerprint: u32,
    period_ms: u32,
    /// When the next step is due.
    due: Millis,
    /// When the last was made.
    last: Millis,
    /// Bench mode: when the host gave readings last.
    heard: Millis,
    standing: heapless::Vec<Name, ALARMS>,
    valves: [Driven; LIFTS],
    blower: Driven,
    store_fault: bool,
    /// What is kept could not be read at the start: it runs without.
    unread: bool,
    /// A trial has changed the installation since it was kept.
    measured: bool,
    /// The button that acknowledges a stop was seen up since the start: one whose wire is shorted never is.
    button_rests: bool,
    /// An installation was kept while the valves were held after several resets, and has not run yet.
    untried: bool,
    heart: bool,
    since_save: Held,
    /// What people ask for is not what was kept of it.
    asked: bool,
    allowance: Allowance,
    #[cfg(feature = "defmt")]
    since_summary: Held,
    /// The last step made; none when its number of lifts is zero.
    stepped: Stepped<LIFTS, TANKS>,
    journal: Journal,
    line: Line,
    /// The host speaks another version of the messages.
    stranger: bool,
    incoming: Incoming,
    board_log: L,
}

impl<const LIFTS: usize, const TANKS: usize> App<LIFTS, TANKS> {
    /// Before [`App::start`], without a log.
    #[must_use]
    pub const fn new() -> Self {
        Self::with_log(NoLog)
    }
}

impl<const LIFTS: usize, const TANKS: usize, L> App<LIFTS, TANKS, L> {
    /// Before [`App::start`], with a log of every step.
    #[must_use]
    // Written out where it is made, or it is made on the stack first and then moved to its place.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub const fn with_log(board_log: L) -> Self {
        const {
            assert!(LIFTS <= keeping::MOST_LIFTS, "an application has room for twelve lifts");
        }
        Self {
            controller: Controller::idle(),
            candidate: Installation::none(),
            built_in: None,
            running: Running::NoInstallation,
            cause: ResetCause::Unknown,
            resets: Resets::NONE,
            fixed: None,
            fingerprint: 0,
            period_ms: IDLE_PERIOD_MS,
            due: Millis(0),
            last: Millis(0),
            heard: Millis(0),
            standing: heapless::Vec::new(),
            valves: [Driven::WELL; LIFTS],
            blower: Driven::WELL,
            store_fault: false,
            unread: false,
            measured: false,
            button_rests: false,
            untried: false,
            heart: false,
            since_save: Held::NONE,
            asked: false,
            allowance: Allowance::WHOLE,
            #[cfg(feature = "defmt")]
            since_summary: Held::NONE,
            stepped: Stepped {
                step: Step {
                    now: Millis(0),
                    step_ms: 0,
                    lifts: heapless::Vec::new(),
                    tanks: heapless::Vec::new(),
                    manifold_pa: 0.0,
                    blower: BlowerStep {
                        units: 0,
                        speed: 0.0,
                        air: FreeAir::ZERO,
                        power_w: 0.0,
                    },
                    backup_min: None,
                    alarms: heapless::Vec::new(),
                },
                commissioned: None,
            },
            journal: Journal::new(),
            line: Line::new(),
            stranger: false,
            incoming: Incoming::new(),
            board_log,
        }
    }

    /// The log.
    pub fn log_mut(&mut self) -> &mut L {
        &mut self.board_log
    }
}

impl<const LIFTS: usize, const TANKS: usize, L: BoardLog<LIFTS, TANKS>> App<LIFTS, TANKS, L> {
    /// Answers the host, and makes one step if it is due; true when it made one. To be called again and again, at least a few
    /// times a period.
    pub fn poll<B: Board>(&mut self, board: &mut B) -> bool {
        let now = board.now();
        board.between_steps(now);
        let stepped = self.serve(board, now);
        self.board_log.hand_on(board);
        // Replies may have taken their time.
        let now = if self.line.sent() > 0 { board.now() } else { now };
        if B::BENCH && self.waits_for_host(board, now) {
            if !stepped && !self.must_wait(now) {
                // A period without the host: within its patience that is a round like any other, and no reason for the watchdog to bite.
                self.due = self.next_after(now);
                self.show(board);
                self.end_round(board, now, Some(0));
            }
            return stepped;
        }
        if self.must_wait(now) {
            return stepped;
        }
        self.due = self.next_after(now);
        self.take_acknowledgement(board, now);
        if self.running == Running::Trimming {
            self.take_command(board, now);
            let readings = read(board, now, self.controller.installation().tank_count());
            self.step(board, &readings);
        } else {
            self.fix(board);
            self.show(board);
        }
        self.end_round(board, now, None);
        true
    }

    /// The controller: what each lift has learned and the installation it runs.
    #[must_use]
    pub fn controller(&self) -> &Controller<LIFTS, TANKS> {
        &self.controller
    }

    /// What it is doing.
    #[must_use]
    pub fn running(&self) -> Running {
        self.running
    }

    /// Bench mode: true while a step is up to the host. A host that falls silent leaves the valves at fixed openings.
    fn waits_for_host<B: Board>(&mut self, board: &mut B, now: Millis) -> bool {
        if self.running != Running::Trimming {
            return false;
        }
        let patience_ms = self.period_ms.saturating_mul(SILENT_PERIODS);
        if matches!(now.since(self.heard), Elapsed::Forward(ms) if ms <= patience_ms) {
            return true;
        }
        self.running = Running::LinkLost;
        self.log(board, now, Event::LinkLost);
        false
    }

    /// Asks the controller, does what it says and shows how it is; then logs it.
    fn step<B: Board>(&mut self, board: &mut B, readings: &Readings<TANKS>) {
        self.stepped.step = self.controller.step(readings);
        self.stepped.commissioned = self.controller.take_outcome();
        // Whatever may take as long as an erasure comes behind this.
        self.apply(board);
        self.show(board);
        self.board_log.step(readings, &self.stepped.step, &self.controller);
        if let Some(outcome) = &self.stepped.commissioned {
            self.board_log.commissioned(outcome, self.controller.installation());
            self.measured |= outcome.outlet_law.is_ok() || outcome.curve.is_ok();
        }
        self.tell_driven(board, self.stepped.step.now);
        self.log_alarms(board);
    }

    /// What ends a round of any kind: what changed is kept, the feeding of the watchdog last of all. `run_ms` is the time that passed for the controller
    /// where that is not the board's own: a host may run a day in a minute.
    fn end_round<B: Board>(&mut self, board: &mut B, now: Millis, run_ms: Option<u32>) {
        let passed_ms = match now.since(self.last) {
            Elapsed::Forward(ms) => ms,
            Elapsed::Backward => self.period_ms,
        };
        self.last = now;
        self.resets.passed(passed_ms);
        board.retain(self.resets.words());
        let run_ms = run_ms.unwrap_or(passed_ms);
        self.since_save.add(run_ms);
        self.allowance.passed(run_ms);
        self.each_driven(|driven| driven.passed(run_ms));
        if self.running == Running::Trimming {
            self.keep(board, now);
        }
        #[cfg(feature = "defmt")]
        self.summarise(run_ms);
        self.heart = !self.heart;
        board.heartbeat(self.heart);
        board.feed_watchdog();
    }

    /// True when the next step lies ahead, by no more than a period: further ahead means that the clock was set back, and
    /// waiting for it could take weeks.
    fn must_wait(&self, now: Millis) -> bool {
        matches!(self.due.since(now), Elapsed::Forward(wait) if wait > 0 && wait <= self.period_ms)
    }

    /// One period after this step was due; after a delay or a leap of the clock, one period after now. Steps that were
    /// missed are not made up for.
    fn next_after(&self, now: Millis) -> Millis {
        let next = self.due.plus(self.period_ms);
        match next.since(now) {
            Elapsed::Forward(wait) if wait > 0 && wait <= self.period_ms => next,
            _ => now.plus(self.period_ms),
        }
    }

    fn take_command<B: Board>(&mut self, board: &mut B, now: Millis) {
        if let Some(command) = board.command()
            && let Err(refused) = self.command(command)
        {
            self.log(board, now, Event::Refused(refused));
        }
    }

    /// Gives the controller a command, and logs it with its answer.
    #[inline(never)]
    fn command(&mut self, command: Command) -> Result<(), Refused> {
        let before = self.standing_commands();
        let answer = self.controller.command(command);
        self.asked |= !self.controller.standing_commands().eq(before);
        match (answer, command) {
            (Ok(()), Command::Acknowledge) => self.each_driven(Driven::acknowledge),
            (Ok(()), Command::Silence { minutes }) => self.each_driven(|driven| driven.silence(minutes)),
            _ => {}
        }
        self.board_log.command(command, answer);
        answer
    }

    fn take_acknowledgement<B: Board>(&mut self, board: &mut B, now: Millis) {
        if self.running != Running::Stopped {
            return;
        }
        if !board.acknowledged() {
            self.button_rests = true;
        } else if self.button_rests {
            self.acknowledge(board, now);
        }
    }
}

impl<const LIFTS: usize, const TANKS: usize> Default for App<LIFTS, TANKS> {
    fn default() -> Self {
        Self::new()
    }
}

/// Reads every sensor; one that fails is missing.
fn read<B: Board, const TANKS: usize>(board: &mut B, now: Millis, tanks: usize) -> Readings<TANKS> {
    let mut levels = heapless::Vec::new();
    for tank in 0..tanks {
        let level = board.level(tank).map_or(Reading::Missing, Reading::Value);
        // There is room for every tank of the installation.
        let _ = levels.push(level);
    }
    let manifold = match board.manifold_pa() {
        Ok(Some(pa)) => Reading::Value(pa),
        Ok(None) | Err(_) => Reading::Missing,
    };
    Readings { now, levels, manifold }
}
