//! The board-independent application around [`risertrim`]: what a microcontroller does with the controller.
//!
//! A board implements [`Board`]; [`run`] (or [`App`], for a board with a main loop of its own) does the rest. The
//! order is always the same:
//!
//! 1. Every output goes where it does no harm, before anything is checked, read or timed.
//! 2. Why the processor started is logged. After three resets by the program's own fault within ten minutes the valves stay at
//!    fixed openings until somebody acknowledges.
//! 3. The installation and what was learned are read from the store; the valves go to the preset opening.
//! 4. Each period: answer the host, read, step, apply, log what changed, and only then feed the watchdog.
//!
//! A driver that fails never stops this: a level that cannot be read is a missing reading, a valve that cannot be driven
//! is logged and driven again at the next step. Nothing here allocates or panics.
//!
//! Two things only the hardware can do: an air valve that loses power should stand open, and the watchdog's time must be
//! longer than the period of the settings (three periods is a good start).
#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]

#[cfg(test)]
extern crate std;

mod app;
mod board;
mod flash_log;
mod journal;
mod put;
mod ram_log;
mod resets;
mod serve;
mod store;

pub use app::{App, run};
pub use board::{Board, Item, RETAINED, Unkept};
pub use flash_log::{FlashLog, LogCursor, log_erases_a_year, log_hours};
pub use put::INSTALLATION_BYTES;
pub use ram_log::RamLog;
pub use risertrim::link::Event;
pub use store::{Part, Store, StoreError, Stored, erases_a_year};
