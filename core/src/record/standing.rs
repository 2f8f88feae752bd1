//! Which alarms came, changed and went since the step before.

use super::{AlarmChange, AlarmRecord, Basis};
use crate::alarm::ALARMS;
use crate::alarm::{Alarm, Standing};

/// The alarms as they stood at the last step.
#[derive(Clone, Debug)]
pub(super) struct Before(heapless::Vec<Alarm, ALARMS>);

impl Before {
    pub const NONE: Self = Self(heapless::Vec::new());

    /// Gives every change to `tell`: those that went first, then those that came or changed. The list holds the most urgent: one
    /// that more urgent ones crowd out reads as gone, and comes again later.
    pub fn renew(&mut self, basis: Basis, now: &[Alarm], mut tell: impl FnMut(AlarmRecord)) {
        let record = |alarm: &Alarm, change| AlarmRecord {
            basis,
            change,
            name: alarm.name(),
            cause: alarm.cause,
            figure: alarm.figure,
        };
        for gone in self
            .0
            .iter()
            .filter(|alarm| !now.iter().any(|other| other.same_as(alarm)))
        {
            tell(record(gone, AlarmChange::Off));
        }
        for alarm in now {
            let before = self
                .0
                .iter()
                .find(|other| other.same_as(alarm))
                .map(|other| other.standing);
            if before != Some(alarm.standing) {
                let change = match alarm.standing {
                    Standing::New => AlarmChange::On,
                    Standing::Seen => AlarmChange::Seen,
                    Standing::Over => AlarmChange::Over,
                };
                tell(record(alarm, change));
            }
        }
        self.0.clear();
        for alarm in now {
            // As many places as in a step.
            let _ = self.0.push(*alarm);
        }
    }
}
