//! The board-independent application around [`risertrim`]: what a microcontroller does with the controller.
//!
//! A board implements [`Board`]; [`run`] (or [`App`], for a board with a main loop of its own) does the rest. The
//! order is always the same:
//!
//! 1. Every output goes where it does no harm, before anything is checked, read or timed.
//! 2. Why the processor started is logged. After three resets by the program's own fault within ten minutes the valves stay at
//!    fixed openings until somebody acknowledges.
//! 3. The installation and what was learned are read from the store; the valves go to the preset opening.
//! 4. Each period: answer the host, read, step, drive the outputs, set contact and horn, then log, then keep what changed, and only
//!    then feed the watchdog.
//!
//! A driver that fails never stops this: a level that cannot be read is a missing reading, a valve that cannot be driven
//! is logged and driven again at the next step. Nothing here allocates or panics.
//!
//! # Porting it: your own pins
//!
//! Two valves on PWM, three level sensors on current loops, whatever the chip. All that is yours is in the first struct.
//!
//! ```
//! use embedded_hal::{digital::OutputPin, pwm::SetDutyCycle};
//! use risertrim::drive::{AlarmContact, CurrentLoop, LevelInput, Proportional, ValveDrive};
//! use risertrim::{Installation, Millis, Opening, Reading};
//! use risertrim_firmware::{App, Board};
//!
//! struct Mine<P, D, A, T, W> {
//!     valves: [Proportional<P>; 2], // open without a signal: Proportional::new(pwm, Signal::volts(10.0, 0.0, 10.0))
//!     alarm: AlarmContact<D>,       // AlarmContact::new(pin, Active::High)
//!     read_ma: A,                   // your converter: the current of a level loop, mA
//!     millis: T,                    // your timer: milliseconds, may wrap
//!     feed: W,                      // your watchdog, set to three periods
//! }
//!
//! impl<P: SetDutyCycle, D: OutputPin, E, A: FnMut(usize) -> Result<f32, E>, T: FnMut() -> u32, W: FnMut()> Board
//!     for Mine<P, D, A, T, W>
//! {
//!     type Error = ();
//!     fn make_safe(&mut self) {
//!         let _ = self.alarm.show(true);
//!         let _ = [0, 1].map(|lift| self.drive(lift, Opening::new(0.5))); // enough that fish have air
//!     }
//!     fn now(&mut self) -> Millis {
//!         Millis((self.millis)())
//!     }
//!     fn level(&mut self, tank: usize) -> Result<f32, ()> {
//!         let sampled = CurrentLoop::new(|| (self.read_ma)(tank)).sample().reading;
//!         if let Reading::Value(ma) = sampled { Ok(ma) } else { Err(()) }
//!     }
//!     fn drive(&mut self, lift: usize, opening: Opening) -> Result<(), ()> {
//!         let now = self.now();
//!         self.valves.get_mut(lift).ok_or(())?.send(opening, now).map_err(|_| ())
//!     }
//!     fn hold_alarm_contact(&mut self, all_well: bool) {
//!         let _ = self.alarm.show(!all_well);
//!     }
//!     fn feed_watchdog(&mut self) {
//!         (self.feed)();
//!     }
//! }
//!
//! fn start(app: &'static mut App<2, 3>, mut board: impl Board, place: &'static Installation<2, 3>) -> ! {
//!     risertrim_firmware::run(app, &mut board, Some(place))
//! }
//! ```
//!
//! Each further method of [`Board`] adds something: a store ([`Keeper`]), a line to a host, the cause of a reset, a heartbeat. An
//! application made with a log ([`App::with_log`]) records every step as the host does. Two
//! boards that run are in `boards/`: `mps2` in an emulator, `pico` on an RP2040 with its wiring. `PORTING.md` goes from nothing to a
//! board of your own.
//!
//! Two things only the hardware can do: an air valve that loses power should stand open, and the watchdog's time must be
//! longer than the period of the settings (three periods is a good start).
//!
//! # Features
//!
//! None is on by default, and a board of your own needs none of them but perhaps these two:
//!
//! * `defmt`: every event, alarm and summary by defmt; the binary brings the logger.
//! * `bench`: for your `const BENCH: bool = cfg!(feature = "bench")`: levels come from a host. Never where valves give air to fish.
//!
//! The others each build a binary or a variety of one, as `scripts/firmware`, `scripts/firmware-figures` and `scripts/no-panic` ask for them:
//!
//! * `emulated`, `pico`: the two boards; `emulated-defmt`, `pico-defmt`: the same with a logger.
//! * `figures`: what a step costs. `proof`, `proof-core-only`: that no panic can be reached.
//! * `test-resets`, `test-wrong-constant`, `test-panicking-index`: for tests alone: resets and power cuts on demand, a constant that
//!   is not the one sent, an index that must fail the proof.
#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]

#[cfg(test)]
extern crate std;

mod app;
mod board;
mod board_log;
mod flash_log;
mod journal;
mod put;
mod ram_log;
mod resets;
mod serial_log;
mod serve;
mod store;

pub use app::{App, run};
pub use board::{Board, Item, RETAINED, Unkept};
pub use board_log::{BoardLog, KeptLog, LogSink, NoLog, Piece};
pub use flash_log::{FlashLog, FlashLogKeeper, LogCursor, log_erases_a_year, log_hours};
pub use put::INSTALLATION_BYTES;
pub use ram_log::RamLog;
pub use risertrim::link::Event;
pub use serial_log::SerialLog;
pub use store::{Keeper, Part, Store, StoreError, Stored, erases_a_year};
