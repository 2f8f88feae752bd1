//! What the same work costs with general-purpose libraries, on the same machine: a filter of the same size on nalgebra as a
//! textbook writes it, and plain PI controllers that are given the flow which the filter has to find.

#[path = "../../../host-sim/src/bench/filter_work.rs"]
mod filter_work;

use super::{LIFTS, PER_TICK, TANKS, ticks};
use cortex_m::peripheral::SYST;
use filter_work::{Dense, Own, Told};

/// Steps that the mean is taken over.
const STEPS: u32 = 100;

/// Mean number of instructions of one step.
fn mean(mut step: impl FnMut()) -> u32 {
    let mut sum = 0u32;
    for _ in 0..STEPS {
        let before = SYST::get_current();
        step();
        sum += ticks(before);
    }
    sum * PER_TICK / STEPS
}

/// Our filter.
#[inline(never)]
pub fn own_filter() -> u32 {
    let mut filter = Own::<LIFTS, TANKS>::new();
    mean(|| filter.step())
}

/// The same on nalgebra.
#[inline(never)]
pub fn dense_filter() -> u32 {
    let mut filter = Dense::<TANKS, { TANKS + LIFTS }>::new();
    mean(|| filter.step())
}

/// A PI controller a lift.
#[inline(never)]
pub fn controllers() -> u32 {
    let mut controllers = Told::<LIFTS>::new();
    mean(|| controllers.step())
}
