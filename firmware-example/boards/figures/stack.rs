//! Stack use, by painting: what was written over since was used.

// The stack lies outside of every Rust object: only raw addresses reach it.
#![allow(unsafe_code)]

use core::ptr::{read_volatile, write_volatile};
use cortex_m::register::msp;

/// The paint.
const PAINT: u32 = 0x5a5a_a5a5;
/// Left unpainted below the painter's own frame, bytes.
const MARGIN: u32 = 128;

unsafe extern "C" {
    static __sheap: u32;
}

/// Lowest address the stack may grow down to: the end of the variables.
fn lowest() -> u32 {
    (&raw const __sheap) as u32
}

/// Paints everything between the variables and the stack as it is now.
#[inline(never)]
pub fn paint() {
    let mut at = lowest();
    let end = msp::read() - MARGIN;
    while at < end {
        // SAFETY: below the stack pointer less a margin and above the variables nothing lives; interrupts are off.
        unsafe { write_volatile(at as *mut u32, PAINT) };
        at += 4;
    }
}

/// Bytes of stack used below here since it was painted.
#[inline(never)]
pub fn used() -> u32 {
    let mut at = lowest();
    let here = msp::read();
    // SAFETY: reads of memory that is there.
    while at < here && unsafe { read_volatile(at as *const u32) } == PAINT {
        at += 4;
    }
    here - at
}
