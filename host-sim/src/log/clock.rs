//! The board's wrapping counter as one time that only goes forward.

use risertrim::Millis;
use risertrim::record::{Basis, Record};
use risertrim::time::Elapsed;

/// Follows the counter through its wraps.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Clock {
    last: Option<Millis>,
    total_ms: u64,
}

impl Clock {
    /// Takes in the counter of the next record: total time, and whether it does not follow from the record before.
    pub fn take(&mut self, now: Millis) -> (u64, bool) {
        let broken = match self.last.map(|last| now.since(last)) {
            Some(Elapsed::Forward(gap)) => {
                self.total_ms += u64::from(gap);
                false
            }
            Some(Elapsed::Backward) => true,
            None => self.total_ms > 0,
        };
        self.last = Some(now);
        (self.total_ms, broken)
    }

    /// The counter starts anew: what it counts from then on does not follow from before.
    pub fn restart(&mut self) {
        self.last = None;
    }

    /// Total time so far.
    pub fn total_ms(&self) -> u64 {
        self.total_ms
    }
}

/// The basis of a record that has one.
pub(super) fn basis<const LIFTS: usize, const TANKS: usize>(record: &Record<LIFTS, TANKS>) -> Option<&Basis> {
    match record {
        Record::Header(_) | Record::Installation(_) | Record::Loaded(_) | Record::Clock { .. } => None,
        Record::Readings(record) => Some(&record.basis),
        Record::Step(record) => Some(&record.basis),
        Record::Alarm(record) => Some(&record.basis),
        Record::Command(record) => Some(&record.basis),
        Record::Learned(record) => Some(&record.basis),
        Record::Commissioned(record) => Some(&record.basis),
        Record::Valve(record) => Some(&record.basis),
        Record::Gap(record) => Some(&record.basis),
    }
}
