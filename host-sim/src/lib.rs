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

pub mod bench;
pub mod board;
pub mod calibrate;
pub mod check_file;
pub mod compare;
pub mod curve;
pub mod faults;
pub mod live;
pub mod log;
pub mod mounting;
pub mod output;
pub mod oxygen;
pub mod pipes;
pub mod plant;
pub mod report;
pub mod scenario;
pub mod simulate;
pub mod size;
pub mod soak;
pub mod starter;
pub mod sweep;
pub mod tune;
pub mod valve_data;
