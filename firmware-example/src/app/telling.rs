//! What is told of the run: events, alarms that begin and end, and whether somebody has to come.

use super::App;
use super::driven::Driven;
use crate::board::Board;
use crate::board_log::BoardLog;
use risertrim::Millis;
use risertrim::alarm::{Alarm, Name, Urgency};
use risertrim::link::{Event, Running};
use risertrim::step::ALARMS;

/// Time between two summaries in the log of `defmt`, s.
#[cfg(feature = "defmt")]
const SUMMARY_EVERY_S: u32 = 600;

impl<const LIFTS: usize, const TANKS: usize, L: BoardLog<LIFTS, TANKS>> App<LIFTS, TANKS, L> {
    /// True while it trims, drives every valve and the blower, keeps what it should, and nobody needs to come.
    pub(super) fn all_well(&self) -> bool {
        let calm = |alarm: &Alarm| !alarm.stands() || alarm.kind.urgency() == Urgency::Low;
        let faulty = self.store_fault || self.unread || self.all_driven().any(Driven::stands);
        self.running == Running::Trimming && !faulty && self.stepped.step.alarms.iter().all(calm)
    }

    /// True while somebody has to be called who has not yet answered.
    pub(super) fn calls(&self) -> bool {
        match self.running {
            Running::Trimming => {
                self.stepped.step.alarms.iter().any(Alarm::sounds) || self.all_driven().any(Driven::sounds)
            }
            Running::Stopped | Running::LinkLost => true,
            Running::NoInstallation => false,
        }
    }

    /// Logs the alarms that ended and those that began. The list holds the [`ALARMS`] most urgent: one that more urgent
    /// ones crowd out of it reads as ended, and as begun again when it returns.
    pub(super) fn log_alarms<B: Board>(&mut self, board: &mut B) {
        let now = self.stepped.step.now;
        let mut standing: heapless::Vec<Name, ALARMS> = heapless::Vec::new();
        for alarm in self.stepped.step.alarms.iter().filter(|alarm| alarm.stands()) {
            // As many places as in the step; `collect` would keep a panic for want of them.
            let _ = standing.push(alarm.name());
        }
        let before = core::mem::replace(&mut self.standing, standing.clone());
        for ended in before.iter().filter(|name| !standing.contains(name)) {
            self.log(board, now, Event::Cleared(*ended));
        }
        for begun in standing.iter().filter(|name| !before.contains(name)) {
            self.log(board, now, Event::Raised(*begun));
        }
    }

    /// Notes an event here, at the board and, with that feature, by `defmt`.
    pub(super) fn log<B: Board>(&mut self, board: &mut B, at: Millis, event: Event) {
        #[cfg(feature = "defmt")]
        match event {
            Event::Raised(alarm) => defmt::warn!("{=u32} ms: {} ({=str})", at.0, event, alarm.kind.text().what),
            _ => defmt::info!("{=u32} ms: {}", at.0, event),
        }
        self.journal.note(at, event);
        board.log(at, event);
    }

    /// What each lift delivers, now and then.
    #[cfg(feature = "defmt")]
    pub(super) fn summarise(&mut self, run_ms: u32) {
        self.since_summary.add(run_ms);
        if !self.since_summary.reached_s(SUMMARY_EVERY_S) {
            return;
        }
        self.since_summary.clear();
        defmt::info!("{}, {=usize} alarms stand", self.running, self.standing.len());
        for (index, lift) in self.stepped.step.lifts.iter().enumerate() {
            defmt::info!(
                "lift {=usize}: {=f32} of {=f32} L/min, {=f32} of its curve, {}",
                index,
                lift.flow.l_min(),
                lift.target.l_min(),
                lift.delivery,
                lift.state
            );
        }
    }
}
