//! Why the processor started, what outlives a reset, and how one is brought about.

use core::panic::PanicInfo;
use core::ptr::{read_volatile, write_volatile};
use cortex_m_rt::{ExceptionFrame, exception};
use risertrim::ResetCause;
use risertrim_firmware::RETAINED;
use rp2040_hal::pac;
use rp2040_hal::watchdog::{ScratchRegister, Watchdog};

const REGISTERS: [ScratchRegister; RETAINED] = [
    ScratchRegister::Scratch0,
    ScratchRegister::Scratch1,
    ScratchRegister::Scratch2,
    ScratchRegister::Scratch3,
    ScratchRegister::Scratch4,
    ScratchRegister::Scratch5,
    ScratchRegister::Scratch6,
    ScratchRegister::Scratch7,
];

/// What a reset that is forced leaves behind: memory outlives it.
const PANIC: u32 = 0x7061_6e01;
const FAULT: u32 = 0x7061_6e02;

#[allow(unsafe_code)] // a static that is initialised would be put to its first value at every start
#[unsafe(link_section = ".uninit.announced")]
static mut ANNOUNCED: core::mem::MaybeUninit<u32> = core::mem::MaybeUninit::uninit();

/// From the registers that tell, to be read before the watchdog is set up; asked once.
pub fn cause(watchdog: &pac::WATCHDOG, chip: &pac::VREG_AND_CHIP_RESET) -> ResetCause {
    let (reason, reset) = (watchdog.reason().read(), chip.chip_reset().read());
    let announced = announced();
    announce(0);
    if reason.timer().bit_is_set() {
        ResetCause::Watchdog
    } else if reason.force().bit_is_set() {
        match announced {
            PANIC => ResetCause::Panic,
            FAULT => ResetCause::HardFault,
            _ => ResetCause::Fault,
        }
    } else if reset.had_run().bit_is_set() {
        ResetCause::Pin
    } else if reset.had_por().bit_is_set() {
        // Its brown-out detector resets in the same way as power that comes.
        ResetCause::PowerOn
    } else {
        ResetCause::Unknown
    }
}

/// The application's words.
pub fn retained(watchdog: &Watchdog) -> [u32; RETAINED] {
    REGISTERS.map(|register| watchdog.read_scratch(register))
}

/// Keeps the application's words.
pub fn retain(watchdog: &mut Watchdog, words: [u32; RETAINED]) {
    for (register, word) in REGISTERS.into_iter().zip(words) {
        watchdog.write_scratch(register, word);
    }
}

#[allow(unsafe_code)] // a word of memory that is not Rust's alone
fn announced() -> u32 {
    // SAFETY: a whole aligned word; any value is a valid one. Nothing else runs or interrupts here.
    unsafe { read_volatile((&raw const ANNOUNCED).cast()) }
}

#[allow(unsafe_code)] // as above
fn announce(cause: u32) {
    // SAFETY: as above.
    unsafe { write_volatile((&raw mut ANNOUNCED).cast(), cause) };
}

/// Resets at once, by the watchdog, so that the start can tell.
#[allow(unsafe_code)] // in a panic the registers' owner is lost
fn force(cause: u32) -> ! {
    announce(cause);
    // SAFETY: nothing else runs any more, and one bit is set.
    unsafe { (*pac::WATCHDOG::ptr()).ctrl().modify(|_, w| w.trigger().set_bit()) };
    loop {
        cortex_m::asm::nop();
    }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    force(PANIC)
}

#[allow(unsafe_code)] // the handler's signature
#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    force(FAULT)
}
