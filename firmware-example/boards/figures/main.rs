//! Measures what a step costs on an emulated microcontroller: instructions, stack, memory. Prints it and ends.
//!
//! Run with `-icount shift=0` an instruction takes one nanosecond, so the 25 MHz timer counts one tick for every 40.
#![no_std]
#![no_main]

mod peers;
mod place;
mod stack;

use core::panic::PanicInfo;
use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m::singleton;
use cortex_m_rt::entry;
use cortex_m_semihosting::{debug, hprintln};
use risertrim::installation::Installed;
use risertrim::{Controller, Installation, Millis, Reading, Readings, Step};

/// Lifts of the budget.
const LIFTS: usize = 8;
/// Tanks of the budget.
const TANKS: usize = 9;
/// Instructions in one tick of the timer.
const PER_TICK: u32 = 40;
/// Steps measured, after the first ones.
const STEPS: u32 = 900;
/// Steps before those measured.
const BEFORE: u32 = 100;

#[entry]
fn main() -> ! {
    let done = measure();
    debug::exit(if done.is_some() {
        debug::EXIT_SUCCESS
    } else {
        debug::EXIT_FAILURE
    });
    loop {
        cortex_m::asm::nop();
    }
}

fn measure() -> Option<()> {
    let mut timer = cortex_m::Peripherals::take()?.SYST;
    timer.set_clock_source(SystClkSource::Core);
    timer.set_reload(0x00ff_ffff);
    timer.clear_current();
    timer.enable_counter();
    let controller: &'static mut Controller<LIFTS, TANKS> = singleton!(: Controller<8, 9> = Controller::idle())?;
    let place: &'static mut Installation<LIFTS, TANKS> = singleton!(: Installation<8, 9> = Installation::none())?;
    hprintln!(
        "RAM of the controller for {} lifts and {} tanks: {} bytes, of which the installation {}; of a step {} bytes",
        LIFTS,
        TANKS,
        size_of::<Controller<LIFTS, TANKS>>(),
        size_of::<Installed<LIFTS, TANKS>>(),
        size_of::<Step<LIFTS, TANKS>>()
    );
    for lifts in [1, 4, 8] {
        place::fill(place, lifts);
        stack::paint();
        let before = SYST::get_current();
        begin(controller, place)?;
        let begin_instructions = ticks(before) * PER_TICK;
        let begin_stack = stack::used();
        stack::paint();
        let (mean, worst) = steps(controller, usize::from(lifts) + 1);
        hprintln!(
            "{} lifts, {} tanks: {} instructions a step in the mean, {} at most; start {}; stack {} bytes in a step, {} at the start",
            lifts,
            lifts + 1,
            mean,
            worst,
            begin_instructions,
            stack::used(),
            begin_stack
        );
    }
    hprintln!(
        "Beside it, for {} lifts and {} tanks: the filter alone {} instructions a step, the same filter on nalgebra {}; {} PI \
         controllers of the pid crate, told the flow, {}",
        LIFTS,
        TANKS,
        peers::own_filter(),
        peers::dense_filter(),
        LIFTS,
        peers::controllers()
    );
    Some(())
}

#[inline(never)]
fn begin(controller: &mut Controller<LIFTS, TANKS>, place: &Installation<LIFTS, TANKS>) -> Option<()> {
    match controller.begin(place, &[]) {
        Ok(()) => Some(()),
        Err(faults) => {
            for fault in faults.named() {
                hprintln!("refused: {}", fault);
            }
            None
        }
    }
}

/// Mean and largest number of instructions of a step.
#[inline(never)]
fn steps(controller: &mut Controller<LIFTS, TANKS>, tanks: usize) -> (u32, u32) {
    let mut readings = Readings::default();
    let mut noise = 1u32;
    let (mut sum, mut worst) = (0u32, 0u32);
    for count in 0..BEFORE + STEPS {
        readings.now = Millis(count.wrapping_mul(1000));
        readings.levels.clear();
        for tank in 0..tanks {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            #[allow(clippy::cast_precision_loss)] // 8 bits
            let off_m = (noise >> 24) as f32 * (0.002 / 255.0) - 0.001;
            let usual_m = if tank == 0 { place::SUMP_M } else { place::LEVEL_M };
            let _ = readings.levels.push(Reading::Value(usual_m + off_m));
        }
        readings.manifold = Reading::Value(18_000.0);
        let before = SYST::get_current();
        let openings = step(controller, &readings);
        let instructions = ticks(before) * PER_TICK;
        core::hint::black_box(openings);
        if count >= BEFORE {
            sum += instructions;
            if instructions > worst {
                worst = instructions;
            }
        }
    }
    (sum / STEPS, worst)
}

#[inline(never)]
fn step(controller: &mut Controller<LIFTS, TANKS>, readings: &Readings<TANKS>) -> f32 {
    let step = controller.step(readings);
    step.lifts.iter().map(|lift| lift.command.share()).sum()
}

/// Ticks since the timer, which counts down, stood at `before`.
fn ticks(before: u32) -> u32 {
    before.wrapping_sub(SYST::get_current()) & 0x00ff_ffff
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    debug::exit(debug::EXIT_FAILURE);
    loop {
        cortex_m::asm::nop();
    }
}
