//! What outlives a reset: a corner of memory that the start-up code leaves alone. And how a reset is brought about.

// Memory that nobody initialises, and the panic and fault handlers, are beyond safe code.
#![allow(unsafe_code)]

use core::panic::PanicInfo;
use core::ptr::{read_volatile, write_volatile};
use cortex_m::peripheral::SCB;
use cortex_m_rt::{ExceptionFrame, exception};
use risertrim::ResetCause;
use risertrim_firmware::RETAINED;

/// Says that the memory is ours and not what power left there.
const OURS: u32 = 0x6c61_7374;
/// Causes, as kept: a reset that nobody announced was the watchdog's.
const UNANNOUNCED: u32 = 1;
const PANIC: u32 = 2;
const FAULT: u32 = 3;
#[cfg(feature = "test-resets")]
const ASKED: u32 = 4;

/// Mark, cause, and the application's words.
#[repr(C)]
struct LastWords {
    ours: u32,
    cause: u32,
    words: [u32; RETAINED],
}

unsafe extern "C" {
    /// Set by `memory.x`.
    static mut _kept_words: LastWords;
}

fn place() -> *mut LastWords {
    &raw mut _kept_words
}

/// Why the processor started, asked once.
pub fn cause() -> ResetCause {
    let last = place();
    // SAFETY: whole aligned words of memory that is there; any value is a valid one. Nothing else runs or interrupts here.
    let (ours, cause) = unsafe {
        (
            read_volatile(&raw const (*last).ours),
            read_volatile(&raw const (*last).cause),
        )
    };
    set_cause(UNANNOUNCED);
    match (ours, cause) {
        (OURS, UNANNOUNCED) => ResetCause::Watchdog,
        (OURS, PANIC) => ResetCause::Panic,
        (OURS, FAULT) => ResetCause::HardFault,
        #[cfg(feature = "test-resets")]
        (OURS, ASKED) => ResetCause::Asked,
        _ => ResetCause::PowerOn,
    }
}

/// The application's words.
pub fn retained() -> [u32; RETAINED] {
    // SAFETY: as above.
    unsafe { read_volatile(&raw const (*place()).words) }
}

/// Keeps the application's words.
pub fn retain(words: [u32; RETAINED]) {
    // SAFETY: as above.
    unsafe { write_volatile(&raw mut (*place()).words, words) };
}

/// Resets because somebody asked for it.
#[cfg(feature = "test-resets")]
pub fn reset() -> ! {
    set_cause(ASKED);
    SCB::sys_reset()
}

fn set_cause(cause: u32) {
    // SAFETY: as above.
    unsafe {
        write_volatile(&raw mut (*place()).ours, OURS);
        write_volatile(&raw mut (*place()).cause, cause);
    }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    set_cause(PANIC);
    SCB::sys_reset()
}

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    set_cause(FAULT);
    SCB::sys_reset()
}
