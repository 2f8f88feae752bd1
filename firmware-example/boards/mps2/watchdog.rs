//! The board's watchdog: CMSDK APB watchdog, as in ARM's Cortex-M System Design Kit technical reference manual.

// Registers of the board, for which there is no crate.
#![allow(unsafe_code)]

use core::ptr::write_volatile;
use cortex_m_rt::exception;

/// Counts down from here at the processor's clock; the second time it reaches zero it resets.
const LOAD: *mut u32 = 0x4000_8000 as *mut u32;
/// Bit 0: count and interrupt, bit 1: reset.
const CONTROL: *mut u32 = 0x4000_8008 as *mut u32;
/// Any value starts the count afresh.
const CLEAR: *mut u32 = 0x4000_800c as *mut u32;

/// Ticks in three seconds, three periods, of 25 MHz; twice that resets.
const TICKS: u32 = 75_000_000;

/// Starts it.
pub fn start() {
    // SAFETY: registers of this board, whole words.
    unsafe {
        write_volatile(LOAD, TICKS);
        write_volatile(CONTROL, 0b11);
    }
}

/// Starts its time afresh.
pub fn feed() {
    // SAFETY: as above.
    unsafe { write_volatile(CLEAR, 1) };
}

/// Lets it run out in a hundredth of its time: a test does not wait for six seconds.
#[cfg(feature = "test-resets")]
pub fn hurry() {
    // SAFETY: as above.
    unsafe { write_volatile(LOAD, TICKS / 100) };
}

/// It counted down once: nothing to do but to wait. Feeding it here would feed it for a program that hangs.
#[exception]
unsafe fn NonMaskableInt() {}
