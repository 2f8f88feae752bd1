//! Steps to outputs: valves and blower, driven by the controller or standing where they do no harm.

use super::App;
use super::driven::Driven;
use crate::board::Board;
use crate::board_log::BoardLog;
use risertrim::link::Event;
use risertrim::step::BlowerStep;
use risertrim::{Millis, Opening};

/// Where the outputs stand while nothing is computed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fixed {
    pub lifts: usize,
    pub opening: Opening,
}

impl<const LIFTS: usize, const TANKS: usize, L: BoardLog<LIFTS, TANKS>> App<LIFTS, TANKS, L> {
    /// Fixed openings with all of the blower: those of the installation, or what the board takes for safe.
    pub(super) fn fix<B: Board>(&mut self, board: &mut B) {
        let Some(fixed) = self.fixed else {
            board.make_safe();
            return;
        };
        // What cannot be driven is told of while the controller runs; here there is nothing else to try.
        let _ = board.drive_blower(&BlowerStep::FULL);
        for lift in 0..fixed.lifts {
            let _ = board.drive(lift, fixed.opening);
        }
    }

    /// Drives every valve and the blower; a fault is logged when it begins and when it ends.
    pub(super) fn apply<B: Board>(&mut self, board: &mut B) {
        let now = self.stepped.step.now;
        for lift in 0..LIFTS {
            let Some(opening) = self.stepped.step.lifts.get(lift).map(|lift| lift.command) else {
                // Of a lift that an installation before this one had.
                if let Some(valve) = self.valves.get_mut(lift) {
                    *valve = Driven::WELL;
                }
                continue;
            };
            let failed = board.drive(lift, opening).is_err();
            self.note_valve(board, now, lift, failed);
        }
        let blower = self.stepped.step.blower;
        let failed = board.drive_blower(&blower).is_err();
        if self.blower.note(failed) {
            let event = if failed {
                Event::BlowerFault
            } else {
                Event::BlowerDriven
            };
            self.log(board, now, event);
        }
    }

    /// All that is driven.
    pub(super) fn all_driven(&self) -> impl Iterator<Item = &Driven> {
        self.valves.iter().chain([&self.blower])
    }

    /// Does this with all that is driven.
    pub(super) fn each_driven(&mut self, act: impl FnMut(&mut Driven)) {
        self.valves.iter_mut().chain([&mut self.blower]).for_each(act);
    }

    pub(super) fn note_valve<B: Board>(&mut self, board: &mut B, now: Millis, lift: usize, failed: bool) {
        if self.valves.get_mut(lift).is_some_and(|valve| valve.note(failed)) {
            #[allow(clippy::cast_possible_truncation)] // an installation numbers its lifts in a byte
            let lift = lift as u8;
            self.board_log.valve(lift, !failed);
            let event = if failed {
                Event::ValveFault { lift }
            } else {
                Event::ValveDriven { lift }
            };
            self.log(board, now, event);
        }
    }
}
