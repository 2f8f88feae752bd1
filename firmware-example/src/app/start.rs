//! From reset to the first step.

use super::outputs::Fixed;
use super::{App, IDLE_PERIOD_MS};
use crate::board::Board;
use crate::board_log::BoardLog;
use crate::resets::Resets;
use risertrim::frame::fingerprint;
use risertrim::installation::Settings;
use risertrim::link::{Event, Running};
use risertrim::record::Began;
use risertrim::step::BlowerStep;
use risertrim::time::Held;
use risertrim::{Installation, Millis, Opening};

impl<const LIFTS: usize, const TANKS: usize, L: BoardLog<LIFTS, TANKS>> App<LIFTS, TANKS, L> {
    /// Makes the outputs safe, then finds out why the processor started, then sets up the controller with what is kept. The
    /// first [`App::poll`] makes the first step.
    ///
    /// After three resets by the program's own fault within ten minutes the controller is not set up: the valves go to the
    /// fixed openings and stay there until somebody acknowledges.
    pub fn start<B: Board>(&mut self, board: &mut B, built_in: Option<&'static Installation<LIFTS, TANKS>>) {
        board.make_safe();
        self.built_in = built_in;
        self.button_rests = false;
        self.untried = false;
        let now = board.now();
        self.due = now;
        self.last = now;
        self.heard = now;
        self.cause = board.reset_cause();
        self.resets = Resets::from_words(board.retained());
        let take_back = self.resets.started(self.cause);
        board.retain(self.resets.words());
        self.log(board, now, Event::Started(self.cause));
        if take_back && self.take_back(board, now) {
            self.log(board, now, Event::InstallationTakenBack);
        }
        self.set_up(board, now, !self.resets.stopped());
        if self.resets.stopped() {
            self.running = Running::Stopped;
            self.log(board, now, Event::Stopped);
        }
    }

    /// Somebody has seen that there were several resets: it may run again.
    pub(super) fn acknowledge<B: Board>(&mut self, board: &mut B, now: Millis) {
        self.resets.acknowledge();
        if core::mem::take(&mut self.untried) {
            self.resets.new_installation();
        }
        board.retain(self.resets.words());
        self.log(board, now, Event::Acknowledged);
        self.set_up(board, now, true);
    }

    /// Finds an installation, sends the valves to its preset and, when `begin` says so, sets up the controller.
    fn set_up<B: Board>(&mut self, board: &mut B, now: Millis, begin: bool) {
        self.running = Running::NoInstallation;
        self.unread = false;
        self.period_ms = IDLE_PERIOD_MS;
        if self.load_installation(board, now) && self.try_out(board, now, begin) {
            return;
        }
        if let Some(built_in) = self.built_in {
            self.candidate.copy_from(built_in);
            self.try_out(board, now, begin);
        }
    }

    /// True when the candidate can be run (or would be, when `begin` says not to).
    #[inline(never)]
    fn try_out<B: Board>(&mut self, board: &mut B, now: Millis, begin: bool) -> bool {
        // Before the rest of it is checked. What is no sound preset is not driven: the outputs then stay as the board finds them safe.
        self.fixed = preset(&self.candidate.settings).map(|opening| Fixed {
            lifts: self.candidate.lifts.len(),
            opening,
        });
        if let Some(fixed) = self.fixed {
            let _ = board.drive_blower(&BlowerStep::FULL);
            for (lift, valve) in self.valves.iter_mut().enumerate().take(fixed.lifts) {
                valve.note(board.drive(lift, fixed.opening).is_err());
            }
        } else {
            board.make_safe();
        }
        self.fingerprint = fingerprint(&self.candidate).unwrap_or(0);
        if !begin {
            self.tell_driven(board, now);
            return true;
        }
        if self.candidate.settings.period_ms > B::LONGEST_PERIOD_MS {
            self.log(board, now, Event::InstallationRefused { faults: 1 });
            return false;
        }
        let kept = self.load_learned(board, now);
        match self.controller.begin(&self.candidate, &kept.learned) {
            Ok(()) => {
                self.running = Running::Trimming;
                self.period_ms = self.controller.installation().settings().period_ms;
                self.since_save = Held::NONE;
                let began = Began::Started(self.cause);
                self.board_log
                    .begin(began, self.controller.installation(), &kept.learned);
                self.tell_driven(board, now);
                for command in &kept.asked {
                    // What was taken before is taken again, or no longer fits: then nobody asks for it.
                    let _ = self.command(*command);
                }
                self.asked = false;
                true
            }
            Err(faults) => {
                self.tell_faults(board, now, &faults);
                false
            }
        }
    }

    pub(super) fn tell_faults<B: Board>(
        &mut self,
        board: &mut B,
        now: Millis,
        faults: &risertrim::fault::Faults,
    ) -> u8 {
        #[cfg(feature = "defmt")]
        for fault in faults.named() {
            defmt::error!("{}", fault);
        }
        let count = u8::try_from(faults.named().len()).unwrap_or(u8::MAX);
        self.log(board, now, Event::InstallationRefused { faults: count });
        count
    }
}

/// The preset of these settings, if it lies within their own limits and these within a stroke.
fn preset(settings: &Settings) -> Option<Opening> {
    let preset = settings.preset_opening;
    let sound = settings.least_opening >= 0.0
        && settings.least_opening <= preset
        && preset <= settings.most_opening
        && settings.most_opening <= 1.0;
    sound.then_some(Opening::new(preset))
}
