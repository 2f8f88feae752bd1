//! The application: preset first, then one step a period.

use crate::board::{Board, Event};
use risertrim::alarm::Alarm;
use risertrim::controller::Learned;
use risertrim::fault::Faults;
use risertrim::step::ALARMS;
use risertrim::time::Elapsed;
use risertrim::{Controller, Installation, Millis, Opening, Reading, Readings, Step};

/// Runs the installation for ever. It comes back only when the installation cannot be run, with every fault found in it;
/// the valves then stand at the preset opening, and what follows (tell somebody, wait for a better one) is the board's.
///
/// `saved` holds what each lift had learned before the restart, or nothing.
pub fn run<const LIFTS: usize, const TANKS: usize>(
    board: &mut impl Board,
    installation: &Installation<LIFTS, TANKS>,
    saved: &[Learned],
) -> Faults {
    let mut app = match App::start(board, installation, saved) {
        Ok(app) => app,
        Err(faults) => return faults,
    };
    loop {
        if !app.poll(board) {
            board.idle();
        }
    }
}

/// The application, for a board that has a main loop of its own.
#[derive(Clone, Debug)]
pub struct App<const LIFTS: usize, const TANKS: usize> {
    controller: Controller<LIFTS, TANKS>,
    period_ms: u32,
    due: Millis,
    standing: heapless::Vec<Alarm, ALARMS>,
    valve_faults: [bool; LIFTS],
}

impl<const LIFTS: usize, const TANKS: usize> App<LIFTS, TANKS> {
    /// Sends every valve to the preset opening, then sets up the controller. The first [`App::poll`] makes the first step.
    ///
    /// # Errors
    /// Every fault found in the installation, when one of them stops it from being run. The valves stand at the preset
    /// opening then too (wide open if that is no number).
    #[allow(clippy::result_large_err)] // returned once, at the start; there is no heap to put it on
    pub fn start(
        board: &mut impl Board,
        installation: &Installation<LIFTS, TANKS>,
        saved: &[Learned],
    ) -> Result<Self, Faults> {
        let preset = Opening::new(installation.settings.preset_opening);
        let mut valve_faults = [false; LIFTS];
        for (lift, fault) in valve_faults.iter_mut().enumerate().take(installation.lifts.len()) {
            *fault = board.drive(lift, preset).is_err();
        }
        let now = board.now();
        for (lift, _) in valve_faults.iter().enumerate().filter(|(_, fault)| **fault) {
            board.log(now, Event::ValveFault { lift });
        }
        Ok(Self {
            controller: Controller::new(installation, saved)?,
            period_ms: installation.settings.period_ms,
            due: now,
            standing: heapless::Vec::new(),
            valve_faults,
        })
    }

    /// Makes one step if it is due; true when it did. To be called again and again, at least a few times a period.
    pub fn poll(&mut self, board: &mut impl Board) -> bool {
        let now = board.now();
        if self.must_wait(now) {
            return false;
        }
        self.take_command(board, now);
        let readings = read(board, now, self.controller.installation().tanks.len());
        let step = self.controller.step(&readings);
        self.apply(board, &step);
        self.log_alarms(board, &step);
        self.due = self.next_after(now);
        board.feed_watchdog();
        true
    }

    /// The controller: what each lift has learned (to be saved now and then) and the installation it runs.
    #[must_use]
    pub fn controller(&self) -> &Controller<LIFTS, TANKS> {
        &self.controller
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

    fn take_command(&mut self, board: &mut impl Board, now: Millis) {
        if let Some(command) = board.command()
            && let Err(refused) = self.controller.command(command)
        {
            board.log(now, Event::Refused(refused));
        }
    }

    /// Drives every valve; a fault is logged when it begins and when it ends.
    fn apply(&mut self, board: &mut impl Board, step: &Step<LIFTS, TANKS>) {
        for ((lift, to), faulty) in step.lifts.iter().enumerate().zip(&mut self.valve_faults) {
            let failed = board.drive(lift, to.command).is_err();
            if failed != *faulty {
                let event = if failed {
                    Event::ValveFault { lift }
                } else {
                    Event::ValveDriven { lift }
                };
                board.log(step.now, event);
            }
            *faulty = failed;
        }
    }

    /// Logs the alarms that ended and those that began. The list holds the [`ALARMS`] most urgent: one that more urgent
    /// ones crowd out of it reads as ended, and as begun again when it returns.
    fn log_alarms(&mut self, board: &mut impl Board, step: &Step<LIFTS, TANKS>) {
        let is_in = |list: &[Alarm], alarm: &Alarm| list.iter().any(|other| other.same_as(alarm) && other.stands());
        for ended in self.standing.iter().filter(|alarm| !is_in(&step.alarms, alarm)) {
            board.log(step.now, Event::Cleared(ended.name()));
        }
        let standing = step.alarms.iter().filter(|alarm| alarm.stands());
        for begun in standing.filter(|alarm| !is_in(&self.standing, alarm)) {
            board.log(step.now, Event::Raised(begun.name()));
        }
        self.standing.clear();
        for alarm in step.alarms.iter().filter(|alarm| alarm.stands()) {
            // As many places as in the step.
            let _ = self.standing.push(*alarm);
        }
    }
}

/// Reads every sensor; one that fails is missing.
fn read<const TANKS: usize>(board: &mut impl Board, now: Millis, tanks: usize) -> Readings<TANKS> {
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
