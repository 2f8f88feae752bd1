//! The application on an emulated microcontroller: QEMU's MPS2 board as a Cortex-M4F (AN386) or a Cortex-M3 (AN385).
//!
//! It has no sensors and no valves. With the feature `bench` a host gives it levels and takes its openings, through two named
//! pipes; without it every modelled level is refused, as on a board behind which there is water.
//! `risertrim board` starts it, and `scripts/firmware` builds it.
#![no_std]
#![no_main]

mod kept;
mod last_words;
mod pipes;
mod watchdog;

use core::sync::atomic::{AtomicU32, Ordering};
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m::singleton;
use cortex_m_rt::{entry, exception};
use cortex_m_semihosting::debug;
use kept::Kept;
use pipes::Pipes;
use risertrim::link::ResetCause;
use risertrim::{Millis, Opening};
use risertrim_firmware::{App, Board, Item, RETAINED, Unkept, run};

/// Lifts it has room for.
const LIFTS: usize = 8;
/// Tanks it has room for.
const TANKS: usize = 9;
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
    let app: Option<&'static mut App<LIFTS, TANKS>> = singleton!(: App<8, 9> = App::new());
    let kept: Option<&'static mut Kept> = singleton!(: Kept = Kept::new());
    match (app, kept, Pipes::open()) {
        (Some(app), Some(kept), Some(pipes)) => {
            watchdog::start();
            run(app, &mut Mps2 { pipes, kept }, None)
        }
        _ => end(debug::EXIT_FAILURE),
    }
}

#[exception]
fn SysTick() {
    NOW_MS.store(NOW_MS.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
}

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

    fn make_safe(&mut self) {}

    fn now(&mut self) -> Millis {
        Millis(NOW_MS.load(Ordering::Relaxed))
    }

    fn level(&mut self, _tank: usize) -> Result<f32, Absent> {
        Err(Absent)
    }

    fn drive(&mut self, _lift: usize, _opening: Opening) -> Result<(), Absent> {
        Ok(())
    }

    fn feed_watchdog(&mut self) {
        watchdog::feed();
    }

    fn reset_cause(&mut self) -> ResetCause {
        last_words::cause()
    }

    fn retained(&mut self) -> [u32; RETAINED] {
        last_words::retained()
    }

    fn retain(&mut self, words: [u32; RETAINED]) {
        last_words::retain(words);
    }

    fn load(&mut self, item: Item, room: &mut [u8]) -> Option<usize> {
        let bytes = self.kept.newest(item)?;
        for (place, byte) in room.get_mut(..bytes.len())?.iter_mut().zip(bytes) {
            *place = *byte;
        }
        Some(bytes.len())
    }

    fn save(&mut self, item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        self.kept.put(item, bytes).ok_or(Unkept)
    }

    fn go_back(&mut self, item: Item) -> bool {
        self.kept.go_back(item)
    }

    fn receive(&mut self, room: &mut [u8]) -> usize {
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

/// Ends the emulation.
fn end(status: Result<(), ()>) -> ! {
    debug::exit(status);
    loop {
        cortex_m::asm::nop();
    }
}
