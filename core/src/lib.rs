//! Keeps every air-driven lift on one blower delivering its target flow, from tank levels alone.
//!
//! Air let in at depth into an upright riser makes the column lighter than the water around it, so water rises. This
//! crate reads tank levels, works out what each lift really delivers and sets every air valve, with no flow meter.
//! It does no input or output and reads no clock: time and readings are arguments, openings are the result.
//!
//! ```text
//! readings --> level --> estimate --> trim --> air --> openings
//!                          ^            |
//!                     lift + outlet   guard
//! ```
//!
//! * [`installation`]: everything the place *is*, as one value that can be stored; [`validate`] reports what is wrong.
//! * [`lift`]: the performance curve of a riser: flow for an air, air for a flow, peak, onset, slopes.
//! * [`tank`] and [`outlet`]: storage and the laws that read a flow from a level.
//! * [`air`]: blower, manifold, valves, lines; sharing when the blower cannot serve all.
//! * [`level`]: scaling and checking of level readings.
//! * [`estimate`]: the filter that learns what each lift delivers.
//! * [`trim`]: from target to wanted air and valve moves.
//! * [`guard`] and [`alarm`]: limits, actions, plain texts.
//! * [`commission`]: outlet laws and curves measured from levels alone.
//! * [`frame`]: values as frames of bytes that survive a bad line; [`record`]: what happened, as such frames.
//! * [`link`]: what a board and a host say to each other.
//! * [`controller`]: one [`Controller::step`] that runs all of it.
//! * [`drive`]: drivers on `embedded-hal` for valves, blowers and level inputs.
//!
//! A whole place of one lift, from its description to what is saved of it (`examples/one_lift.rs`):
//!
//! ```
#![doc = include_str!("../examples/one_lift.rs")]
//! ```
//!
//! Beside the openings, a program on a board has four things to keep going: people's wishes ([`Controller::command`]), what was learned
//! ([`Controller::learned`], now and then) and what stands commanded ([`Controller::standing_commands`]), to be given back after a
//! restart, and the outcome of a trial ([`Controller::take_outcome`], after every step).
//!
//! # Features
//!
//! * `defmt`: every type can be logged by `defmt` (`defmt::Format`). Off by default; nothing else changes with it.
//!
//! There is no other: every board runs the same controller.
//!
//! # What every function keeps to
//!
//! Every function here is bounded in time, takes NaN, infinite, absurd and missing readings as ordinary input, and gives
//! bit-identical results on every target: f32 with `+ - * /` only, `libm` for `exp` and `ln`, no fused multiply-add.
#![no_std]
#![forbid(unsafe_code)]
#![deny(missing_docs)]
// `!(x > 0.0)` is how a NaN is refused: `x <= 0.0` would let it pass.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

pub mod air;
pub mod alarm;
pub mod command;
pub mod commission;
mod condition;
pub mod controller;
pub mod drive;
pub mod estimate;
pub mod fault;
pub mod frame;
pub mod guard;
pub mod installation;
pub mod level;
pub mod lift;
pub mod link;
pub mod math;
pub mod outlet;
mod possibly;
mod reading;
pub mod record;
mod reset;
mod site;
pub mod step;
pub mod stop;
pub mod tank;
pub mod time;
pub mod trim;
pub mod units;
pub mod validate;
pub mod water;

/// The vectors of an installation, of readings and of a step.
pub use heapless;

pub use command::Command;
pub use controller::Controller;
pub use installation::Installation;
pub use reset::ResetCause;
pub use step::{Reading, Readings, Step};
pub use time::Millis;
pub use units::{FreeAir, Opening, WaterFlow};

/// The README's example is compiled with the documentation tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
pub struct ReadmeExamples;
