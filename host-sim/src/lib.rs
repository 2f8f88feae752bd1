//! A modelled place of tanks, air lifts and one blower, for trying risertrim on a laptop.
//!
//! [`plant`] is the physics: `f64`, marched risers, its own outlet laws and its own manifold. It shares no
//! equation and no code with the controller's core, so that agreement between the two means something. [`scenario`] reads
//! a place and its day from TOML, [`simulate`] runs it with the core's controller, [`output`] tells what came of it.
//! [`compare`] runs the same days under other hands.
//! [`sweep`] runs it on many true places.
//! [`mod@bench`] sets speed and estimate beside general-purpose libraries.
//! [`faults`] strikes a place with every fault there is, [`soak`] runs it for years and against hostile readings.
//! [`board`] speaks to a board that runs the controller, real or emulated.
//! [`log`] writes, reads and replays what a controller did, from a board too.
//! [`report`] makes a page of a run, [`live`] shows it as it runs; [`starter`] drafts a first place, [`check_file`] explains one.
//! [`size`] chooses pipe, air and blower of a lift with [`pipes`], [`valve_data`] and [`oxygen`]; [`mounting`] draws it.

#![forbid(unsafe_code)]
#![deny(missing_docs)]

#[cfg(feature = "tools")]
pub mod bench;
#[cfg(feature = "tools")]
pub mod board;
#[cfg(feature = "tools")]
pub mod calibrate;
#[cfg(feature = "tools")]
pub mod check_file;
#[cfg(feature = "tools")]
pub mod compare;
#[cfg(feature = "tools")]
pub mod curve;
#[cfg(feature = "tools")]
pub mod faults;
#[cfg(feature = "tools")]
pub mod live;
#[cfg(feature = "tools")]
pub mod log;
#[cfg(feature = "tools")]
pub mod mounting;
pub mod names;
#[cfg(feature = "tools")]
pub mod output;
#[cfg(feature = "tools")]
pub mod oxygen;
#[cfg(feature = "tools")]
pub mod pipes;
pub mod plant;
mod precision;
#[cfg(feature = "tools")]
pub mod report;
pub mod scenario;
pub mod simulate;
#[cfg(feature = "tools")]
pub mod size;
#[cfg(feature = "tools")]
pub mod soak;
#[cfg(feature = "tools")]
pub mod starter;
#[cfg(feature = "tools")]
pub mod sweep;
pub mod text_file;
#[cfg(feature = "tools")]
pub mod tune;
pub mod valve_data;
