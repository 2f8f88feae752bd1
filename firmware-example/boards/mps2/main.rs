//! The application on an emulated microcontroller: QEMU's MPS2 board as a Cortex-M4F (AN386) or a Cortex-M3 (AN385).
//!
//! It has no sensors and no valves; memory that outlives a reset is its flash. With the feature `bench` a host gives it levels and
//! takes its openings, through two named pipes; without it every modelled level is refused, as on a board behind which there is water.
//! `risertrim board` starts it, and `scripts/firmware` builds it.
#![no_std]
#![no_main]

mod host_file;
#[cfg(feature = "test-resets")]
mod kept_file;
mod last_words;
mod nor;
mod pipes;
#[cfg(feature = "test-resets")]
mod power_cut;
#[cfg(feature = "test-resets")]
mod provoke;
mod watchdog;

use core::cell::RefCell;
use core::sync::atomic::{AtomicU32, Ordering};
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m::singleton;
use cortex_m_rt::{entry, exception};
use cortex_m_semihosting::debug;
use nor::Nor;
use pipes::Pipes;
use risertrim::record::Plan;
use risertrim::{Millis, Opening, ResetCause};
use risertrim_firmware::{
    App, Board, FlashLogKeeper, INSTALLATION_BYTES, Item, Keeper, KeptLog, Part, RETAINED, Unkept, run,
};

#[cfg(feature = "emulated-defmt")]
use defmt_semihosting as _;

/// Lifts it has room for.
const LIFTS: usize = 8;
/// Tanks it has room for.
const TANKS: usize = 9;
/// Working memory of the store: the largest installation and what goes around it.
const ROOM: usize = INSTALLATION_BYTES + 32;
/// Ticks of the processor's clock in a millisecond.
const TICKS_PER_MS: u32 = 25_000;

/// Milliseconds since the start.
static NOW_MS: AtomicU32 = AtomicU32::new(0);

#[entry]
fn main() -> ! {
    if let Some(mut timer) = cortex_m::Peripherals::take().map(|all| all.SYST) {
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(TICKS_PER_MS - 1);
        timer.clear_current();
        timer.enable_counter();
        timer.enable_interrupt();
    }
    let parts = flash().and_then(|flash| Some((app(log(flash)?)?, kept(flash)?)));
    match (parts, Pipes::open()) {
        (Some((app, kept)), Some(pipes)) => {
            watchdog::start();
            run(app, &mut Mps2 { pipes, kept }, None)
        }
        _ => end(debug::EXIT_FAILURE),
    }
}

/// The application, made where it lies. Apart, so that the 16 KiB of stack it passes through are free again when it runs.
#[inline(never)]
fn app(log: &'static mut Log) -> Option<&'static mut App<LIFTS, TANKS, &'static mut Log>> {
    singleton!(: App<8, 9, &'static mut Log> = App::with_log(log))
}

/// The flash, which store and log share.
fn flash() -> Option<&'static RefCell<Flash>> {
    #[allow(unsafe_code)] // the only value of the flash: a singleton is made once
    // SAFETY: as said.
    let flash = unsafe { Nor::take() };
    #[cfg(feature = "test-resets")]
    let flash = kept_file::KeptFile::open(flash)?;
    singleton!(: RefCell<Flash> = RefCell::new(flash)).map(|flash| &*flash)
}

/// The store, likewise.
#[inline(never)]
fn kept(flash: &'static RefCell<Flash>) -> Option<&'static mut Kept> {
    singleton!(: Kept = Kept::new(Part::new(flash, nor::STORE)))
}

/// The log of every step, likewise.
#[inline(never)]
fn log(flash: &'static RefCell<Flash>) -> Option<&'static mut Log> {
    let part = FlashLogKeeper::new(Part::new(flash, nor::LOG));
    singleton!(: Log = Log::new(Plan::WHOLE, concat!("emulated ", env!("CARGO_PKG_VERSION")), part))
}

#[exception]
fn SysTick() {
    NOW_MS.store(NOW_MS.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
}

/// Gone with the emulator, but for the tests.
#[cfg(not(feature = "test-resets"))]
type Flash = Nor;
#[cfg(feature = "test-resets")]
type Flash = kept_file::KeptFile;
type Kept = Keeper<Part<'static, Flash>, ROOM>;
type Log = KeptLog<LIFTS, TANKS, ROOM, FlashLogKeeper<Part<'static, Flash>>>;

/// The board.
struct Mps2 {
    pipes: Pipes,
    kept: &'static mut Kept,
}

/// There is no such device on this board.
struct Absent;

impl Board for Mps2 {
    type Error = Absent;

    const BENCH: bool = cfg!(feature = "bench");

    /// Less than the six seconds after which the watchdog resets.
    const LONGEST_PERIOD_MS: u32 = 5000;

    fn make_safe(&mut self) {
        note(b"S");
    }

    fn now(&mut self) -> Millis {
        #[cfg(feature = "test-resets")]
        provoke::look();
        Millis(NOW_MS.load(Ordering::Relaxed))
    }

    fn level(&mut self, _tank: usize) -> Result<f32, Absent> {
        Err(Absent)
    }

    #[cfg_attr(not(feature = "test-resets"), allow(unused_variables))]
    fn drive(&mut self, lift: usize, opening: Opening) -> Result<(), Absent> {
        #[cfg(feature = "test-resets")]
        provoke::note_valve(lift, opening.share());
        Ok(())
    }

    fn feed_watchdog(&mut self) {
        watchdog::feed();
    }

    fn reset_cause(&mut self) -> ResetCause {
        note(b"C");
        last_words::cause()
    }

    fn retained(&mut self) -> [u32; RETAINED] {
        last_words::retained()
    }

    fn retain(&mut self, words: [u32; RETAINED]) {
        last_words::retain(words);
    }

    fn load(&mut self, item: Item, room: &mut [u8]) -> Result<Option<usize>, Unkept> {
        note(b"L");
        self.kept.load(item, room)
    }

    fn save(&mut self, item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        self.kept.save(item, bytes)
    }

    fn go_back(&mut self, item: Item) -> Result<bool, Unkept> {
        self.kept.go_back(item)
    }

    fn receive(&mut self, room: &mut [u8]) -> usize {
        #[cfg(feature = "test-resets")]
        provoke::started();
        let count = self.pipes.read(room);
        if self.pipes.ended {
            end(debug::EXIT_SUCCESS);
        }
        count
    }

    fn send(&mut self, bytes: &[u8]) {
        self.pipes.write(bytes);
    }
}

/// For the tests of resets: what a start asks of the board, in its order.
#[cfg_attr(not(feature = "test-resets"), allow(unused_variables))]
fn note(step: &[u8]) {
    #[cfg(feature = "test-resets")]
    provoke::note(step);
}

/// Ends the emulation.
fn end(status: Result<(), ()>) -> ! {
    debug::exit(status);
    loop {
        cortex_m::asm::nop();
    }
}
