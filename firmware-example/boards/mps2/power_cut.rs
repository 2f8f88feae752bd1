//! For the tests of power cuts alone: the board stands still after a chosen step of its flash, and says so in the file `cut`. Whoever
//! holds the switch then takes its power at that very moment.

use crate::host_file::{HostFile, WRITE};
use crate::{nor, watchdog};
use core::sync::atomic::{AtomicU8, AtomicU32, Ordering};

/// What the flash did.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Done {
    /// Wrote a word.
    Wrote,
    /// Erased a piece of a page.
    Erased,
}

/// Which steps count.
#[derive(Clone, Copy)]
#[repr(u8)]
pub enum Counted {
    Store,
    Log,
    Erasures,
}

/// Steps until it stands still; 0 for never.
static LEFT: AtomicU32 = AtomicU32::new(0);
static COUNTED: AtomicU8 = AtomicU8::new(Counted::Store as u8);

/// The power is to go after so many of these steps.
pub fn after(steps: u32, counted: Counted) {
    COUNTED.store(counted as u8, Ordering::Relaxed);
    LEFT.store(steps, Ordering::Relaxed);
}

/// The flash made a step at this place.
pub fn step(at: u32, done: Done) {
    const STORE: u8 = Counted::Store as u8;
    const LOG: u8 = Counted::Log as u8;
    let counts = match COUNTED.load(Ordering::Relaxed) {
        STORE => nor::STORE.contains(&at),
        LOG => nor::LOG.contains(&at),
        _ => done == Done::Erased,
    };
    let left = LEFT.load(Ordering::Relaxed);
    if !counts || left == 0 {
        return;
    }
    if left == 1 {
        stand_still(done);
    }
    LEFT.store(left - 1, Ordering::Relaxed);
}

/// Until the power is gone. The watchdog would take the very moment away.
fn stand_still(done: Done) -> ! {
    if let Some(file) = HostFile::open(c"cut", WRITE) {
        file.write(match done {
            Done::Wrote => b"wrote",
            Done::Erased => b"erased",
        });
        file.close();
    }
    loop {
        watchdog::feed();
        cortex_m::asm::wfi();
    }
}
