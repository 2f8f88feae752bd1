//! What is kept over a restart: the installation, what was learned on it, what people asked for.

use super::App;
use crate::board::{Board, Item, Unkept};
use crate::board_log::BoardLog;
use crate::put::read_into;
use heapless::Vec;
use risertrim::controller::Learned;
use risertrim::frame::{Crc32, decode, to_bytes};
use risertrim::link::Event;
use risertrim::{Command, Millis};
use serde::{Deserialize, Serialize};

/// Time between two saves of what was learned, s: little is lost, and a flash of two sectors lasts for decades.
const SAVE_EVERY_S: u32 = 600;
/// Most lifts of an application: what is kept of them and what is answered about them has this room.
pub(super) const MOST_LIFTS: usize = 12;
/// Bytes for what was learned and what was asked for, of so many lifts: see the test below.
const ROOM: usize = 1024;
/// Time until a change that could not be kept is tried again, s.
const TRY_AGAIN_S: u32 = 60;
/// Looks into a store that fails before it is gone on without: what disturbs a flash may be over in a moment.
const LOOKS: usize = 3;
/// Two commands for each lift and two for the place.
const COMMANDS: usize = 2 * MOST_LIFTS + 2;

/// What was learned and asked for, as it is kept over a restart.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Kept<const LIFTS: usize> {
    /// Of the installation it was learned on.
    fingerprint: u32,
    pub learned: Vec<Learned, LIFTS>,
    /// The commands that stood.
    pub asked: Vec<Command, COMMANDS>,
}

impl<const LIFTS: usize> Kept<LIFTS> {
    pub const NOTHING: Self = Self {
        fingerprint: 0,
        learned: Vec::new(),
        asked: Vec::new(),
    };
}

impl<const LIFTS: usize, const TANKS: usize, L: BoardLog<LIFTS, TANKS>> App<LIFTS, TANKS, L> {
    /// Saves what was learned when it is time, and at once (see [`super::Allowance`]) what somebody has asked for or a trial has measured.
    pub(super) fn keep<B: Board>(&mut self, board: &mut B, now: Millis) {
        if core::mem::take(&mut self.measured) {
            self.keep_measured(board, now);
        } else if self.since_save.reached_s(SAVE_EVERY_S) || (self.asked && self.may_keep_change()) {
            self.save_learned(board, now);
        }
    }

    /// True when what people asked for may be written now.
    fn may_keep_change(&mut self) -> bool {
        let patient = !self.store_fault || self.since_save.reached_s(TRY_AGAIN_S);
        patient && self.allowance.take()
    }

    /// What people ask for.
    pub(super) fn standing_commands(&self) -> Vec<Command, COMMANDS> {
        let mut asked = Vec::new();
        for command in self.controller.standing_commands() {
            // `collect` would keep a panic for want of places.
            let _ = asked.push(command);
        }
        asked
    }

    #[inline(never)]
    pub(super) fn save_learned<B: Board>(&mut self, board: &mut B, now: Millis) {
        self.since_save.clear();
        let kept = Kept {
            fingerprint: self.fingerprint,
            learned: self.controller.learned(),
            asked: self.standing_commands(),
        };
        let mut room = [0u8; ROOM];
        let saved = to_bytes(&kept, &mut room)
            .map_err(|_| Unkept::Failed)
            .and_then(|bytes| board.save(Item::Learned, bytes));
        self.asked &= saved.is_err();
        self.note_store(board, now, saved);
    }

    /// What was learned on this very installation, and what was asked for on it or on another of as many lifts: one that is
    /// out of service may have a hand in it, whichever installation comes next. Targets belong to theirs.
    #[inline(never)]
    pub(super) fn load_learned<B: Board>(&mut self, board: &mut B, now: Millis) -> Kept<LIFTS> {
        let mut room = [0u8; ROOM];
        let looked = looks(|| board.load(Item::Learned, &mut room));
        let Some(bytes) = self.found(board, now, looked) else {
            return Kept::NOTHING;
        };
        match room.get(..bytes).and_then(|kept| decode::<Kept<LIFTS>>(kept).ok()) {
            Some(kept) if kept.fingerprint == self.fingerprint => kept,
            other => {
                self.log(board, now, Event::KeptRejected);
                let mut kept = other.unwrap_or(Kept::NOTHING);
                if kept.learned.len() != self.candidate.lifts.len() {
                    kept.asked.clear();
                }
                kept.learned.clear();
                kept.asked.retain(|command| !matches!(command, Command::Target { .. }));
                kept
            }
        }
    }

    /// True when the candidate is the installation that was kept.
    #[inline(never)]
    pub(super) fn load_installation<B: Board>(&mut self, board: &mut B, now: Millis) -> bool {
        let room = self.incoming.room();
        let looked = looks(|| board.load(Item::Installation, room));
        let Some(bytes) = self.found(board, now, looked) else {
            return false;
        };
        let kept = self.incoming.room().get(..bytes).unwrap_or_default();
        let read = read_into(kept, &mut self.candidate).is_ok();
        if !read {
            self.log(board, now, Event::KeptRejected);
        }
        read
    }

    /// A trial has changed the installation that runs: it is kept with what was learned on it, or its factors would meet the
    /// curve from before after a restart. Forgets an installation that was only half sent, whose room it needs.
    #[inline(never)]
    pub(super) fn keep_measured<B: Board>(&mut self, board: &mut B, now: Millis) {
        let room = self.incoming.room();
        let Ok(bytes) = to_bytes(self.controller.installation(), room) else {
            // It came in through the same room.
            return;
        };
        let fingerprint = Crc32::of(bytes);
        let saved = board.save(Item::Installation, bytes);
        self.fingerprint = fingerprint;
        self.note_store(board, now, saved);
        self.log(board, now, Event::InstallationTaken { fingerprint });
        if saved.is_ok() {
            self.resets.new_installation();
            board.retain(self.resets.words());
            self.save_learned(board, now);
        }
    }

    /// What a look found, once what went wrong is told.
    fn found<B: Board>(&mut self, board: &mut B, now: Millis, looked: Looked<Option<usize>>) -> Option<usize> {
        self.note_look(board, now, looked.stumbled);
        self.unread |= looked.found.is_err();
        looked.found.unwrap_or_default()
    }

    /// Takes the installation back to the one before: true when there was one.
    pub(super) fn take_back<B: Board>(&mut self, board: &mut B, now: Millis) -> bool {
        let looked = looks(|| board.go_back(Item::Installation));
        self.note_look(board, now, looked.stumbled);
        looked.found.unwrap_or_default()
    }

    fn note_look<B: Board>(&mut self, board: &mut B, now: Millis, stumbled: bool) {
        if stumbled {
            self.log(board, now, Event::StoreFailed);
        }
    }

    /// Logs the store's failing when it begins. A board without a store has none that could fail.
    pub(super) fn note_store<B: Board>(&mut self, board: &mut B, now: Millis, done: Result<(), Unkept>) {
        let failed = done == Err(Unkept::Failed);
        if failed && !self.store_fault {
            self.log(board, now, Event::StoreFailed);
        }
        self.store_fault = failed;
    }
}

/// What came of a few looks into the store.
struct Looked<T> {
    found: Result<T, Unkept>,
    /// One of them failed.
    stumbled: bool,
}

fn looks<T>(mut look: impl FnMut() -> Result<T, Unkept>) -> Looked<T> {
    let mut found = look();
    let stumbled = found.is_err();
    for _ in 1..LOOKS {
        if found.is_ok() {
            break;
        }
        found = look();
    }
    Looked { found, stumbled }
}

#[cfg(test)]
mod tests {
    use super::*;
    use risertrim::{Opening, WaterFlow};

    #[test]
    fn all_of_the_most_lifts_has_room() {
        // Numbers of four bytes are as long as any; a day or a count is longest as a large one.
        let learned = Learned::new(f32::MAX, f32::MAX, Opening::new(1.0));
        let flow = WaterFlow::from_m3_s(f32::MAX);
        let mut kept = Kept::<MOST_LIFTS> {
            fingerprint: u32::MAX,
            ..Kept::NOTHING
        };
        for lift in 0..MOST_LIFTS {
            let lift = u8::try_from(lift).unwrap();
            kept.learned.push(learned).unwrap();
            kept.asked.push(Command::Target { lift, flow }).unwrap();
            let opening = Opening::new(1.0);
            kept.asked.push(Command::Manual { lift, opening }).unwrap();
        }
        kept.asked.push(Command::EssentialAir(true)).unwrap();
        kept.asked.push(Command::OnBackup(true)).unwrap();
        let mut room = [0; ROOM];
        let bytes = to_bytes(&kept, &mut room).unwrap().len();
        // What a lift's trend and a blower's age may take beyond what they take when new: 20 bytes a lift.
        assert!(bytes + 20 * MOST_LIFTS <= ROOM, "{bytes}");
    }
}
