//! Checks an installation and reports every fault found, each with field, value and allowed range.

mod geometry;
mod ranges;
mod wide_open;

use crate::fault::{Fault, Faults, Field, Place, Reason, Why};
use crate::installation::Installation;

/// Every fault of an installation. [`Faults::can_start`] says whether a controller would take it.
///
/// First every value by itself; then, if all are sound, what they mean together: heights, limits, ways for the water, reach
/// of lifts and blower, and what becomes of the tanks with every valve wide open.
#[must_use]
pub fn validate<const LIFTS: usize, const TANKS: usize>(installation: &Installation<LIFTS, TANKS>) -> Faults {
    let mut faults = to_start(installation);
    if faults.can_start() {
        geometry::check_wide_open(installation, &mut faults);
    }
    faults
}

/// The same without what only warns and takes long: the tanks with every valve wide open. What decides whether a controller takes it.
#[must_use]
#[inline(never)]
pub fn to_start<const LIFTS: usize, const TANKS: usize>(installation: &Installation<LIFTS, TANKS>) -> Faults {
    let mut faults = Faults::default();
    ranges::check(installation, &mut faults);
    ranges::room(installation, &mut faults);
    if faults.can_start() {
        geometry::check(installation, &mut faults);
    }
    faults
}

/// Notes faults of one place.
struct Note<'a> {
    faults: &'a mut Faults,
    place: Place,
}

impl Note<'_> {
    /// A value must be a number in the range of its field.
    #[inline(never)] // a hundred calls
    fn value(&mut self, field: Field, value: f32) {
        let (low, high) = field.range();
        self.range(field, value, low, high);
    }

    /// A value must be a number from `low` to `high`.
    #[inline(never)] // a hundred calls
    fn range(&mut self, field: Field, value: f32, low: f32, high: f32) {
        if !(value >= low && value <= high) {
            let reason = Reason::Range { low, high };
            self.faults.add(Fault {
                place: self.place,
                field,
                value,
                reason,
                only_warns: false,
            });
        }
    }

    /// A fault that stops the controller from starting.
    #[inline(never)]
    fn fault(&mut self, wrong: bool, field: Field, value: f32, why: Why) {
        if wrong {
            let reason = Reason::Because(why);
            self.faults.add(Fault {
                place: self.place,
                field,
                value,
                reason,
                only_warns: false,
            });
        }
    }

    /// Something that may be meant but deserves a warning.
    #[inline(never)]
    fn warning(&mut self, doubtful: bool, field: Field, value: f32, why: Why) {
        if doubtful {
            let reason = Reason::Because(why);
            self.faults.add(Fault {
                place: self.place,
                field,
                value,
                reason,
                only_warns: true,
            });
        }
    }
}
