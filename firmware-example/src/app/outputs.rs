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

    /// Drives every valve and the blower.
    pub(super) fn apply<B: Board>(&mut self, board: &mut B) {
        for (lift, valve) in self.valves.iter_mut().enumerate() {
            let Some(to) = self.stepped.step.lifts.get(lift) else {
                // Of a lift that an installation before this one had.
                *valve = Driven::WELL;
                continue;
            };
            valve.note(board.drive(lift, to.command).is_err());
        }
        self.blower.note(board.drive_blower(&self.stepped.step.blower).is_err());
    }

    /// Contact and horn, as things stand.
    pub(super) fn show<B: Board>(&mut self, board: &mut B) {
        board.hold_alarm_contact(self.all_well());
        board.sound_horn(self.calls());
    }

    /// All that is driven.
    pub(super) fn all_driven(&self) -> impl Iterator<Item = &Driven> {
        self.valves.iter().chain([&self.blower])
    }

    /// Does this with all that is driven.
    pub(super) fn each_driven(&mut self, act: impl FnMut(&mut Driven)) {
        self.valves.iter_mut().chain([&mut self.blower]).for_each(act);
    }

    /// Logs each fault of a valve or the blower when it begins and when it ends.
    pub(super) fn tell_driven<B: Board>(&mut self, board: &mut B, now: Millis) {
        for lift in 0..LIFTS {
            let Some(fails) = self.valves.get_mut(lift).and_then(Driven::tell) else {
                continue;
            };
            #[allow(clippy::cast_possible_truncation)] // an installation numbers its lifts in a byte
            let lift = lift as u8;
            self.board_log.valve(lift, !fails);
            let event = if fails {
                Event::ValveFault { lift }
            } else {
                Event::ValveDriven { lift }
            };
            self.log(board, now, event);
        }
        match self.blower.tell() {
            Some(true) => self.log(board, now, Event::BlowerFault),
            Some(false) => self.log(board, now, Event::BlowerDriven),
            None => {}
        }
    }
}
