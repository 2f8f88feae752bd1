//! The application on an RP2040 (Raspberry Pi Pico): two lifts, three tanks, a line to a host.
//!
//! # Wiring
//!
//! | pin | what | to |
//! | --- | --- | --- |
//! | GP26, GP27, GP28 | levels of tanks 1, 2, 3 | 4-20 mA loops over 150 ohm to ground: 0.6 to 3.0 V; 1 kohm in series and a 3.3 V clamp at each pin |
//! | GP2, GP4 | valves of lifts 1, 2 | converters from PWM to 0-10 V (10 V at full duty) and valves that are wide open at 0 V and shut at 10 V |
//! | GP6 | alarm contact | a relay driver; the relay is held while all is well, so a dead board lets it go |
//! | GP7 | button: somebody has come (acknowledges alarms, and a stop after several resets) | to ground |
//! | GP8 | horn: sounds until somebody has come | a transistor or relay driver |
//! | GP0, GP1 | line to a host, 115 200 bit/s, TX and RX | a USB-serial adapter of 3.3 V |
//! | GP25 | heartbeat | the lamp on the board |
//!
//! **Cautions.** Choose valves that stand open without a signal: fish need air while the board is dead. The pins bear 3.3 V and no
//! more. Supply the loops from a safety extra-low voltage; what switches the mains belongs to an electrician, behind
//! residual-current protection. Local codes come first.
//!
//! The watchdog bites after three seconds, so it takes places with a period of 2 s at most. What outlives a reset lies in the watchdog's scratch registers. The installation and what
//! was learned outlive a power cut in the last 64 KiB of the flash, which `memory.x` keeps free of the program.
#![no_std]
#![no_main]

mod flash;
mod last_words;
mod pins;

use cortex_m::singleton;
use pins::Pico;
use risertrim_firmware::{App, run};
use rp2040_hal::entry;

#[cfg(feature = "pico-defmt")]
use defmt_rtt as _;

/// The second stage of the boot loader, for the flash of the Pico and most others.
#[allow(unsafe_code)] // the boot loader must lie where the processor looks for it
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

#[entry]
fn main() -> ! {
    match (app(), Pico::take()) {
        // It waits with its outputs safe until a host sends an installation; one of your own goes in place of `None`.
        (Some(app), Some(mut board)) => run(app, &mut board, None),
        _ => rp2040_hal::reset(),
    }
}

/// The application, made where it lies. Apart, so that the stack it passes through is free again when it runs.
#[inline(never)]
fn app() -> Option<&'static mut App<{ pins::LIFTS }, { pins::TANKS }>> {
    singleton!(: App<{ pins::LIFTS }, { pins::TANKS }> = App::new())
}
