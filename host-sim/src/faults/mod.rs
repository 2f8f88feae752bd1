//! Faults: every one we know of, at every place, against the promise that nothing floods, nothing is drained and fish have air.
//!
//! | file | what |
//! | --- | --- |
//! | `fault`, `site` | [`Fault`]: how it begins and ends, what is promised; where in a place it strikes |
//! | `catalogue` | the faults, a file for each part of a place |
//! | `stage` | a place that has settled, from which each fault starts |
//! | `watch` | spilled, dry and airless time; alarms; the way back |
//! | `bound` | whether any setting of the valves could have prevented the harm |
//! | `cell`, `matrix` | one fault at one place; all of them |
//! | `text` | the table |
//!
//! To add a fault: an entry in the file of `catalogue` it belongs to, with the kinds of alarm that name it and the time it
//! may take. What these readings cannot tell apart is a group that says so, with the reading that would.

mod bound;
mod catalogue;
mod cell;
mod fault;
mod matrix;
mod site;
mod stage;
mod text;
mod watch;

pub use catalogue::all;
pub use cell::{Cell, CellAlarm, NotTried};
pub use fault::{Actions, At, Fault, Naming, Scene};
pub use matrix::{Matrix, faults, run};
pub use site::Site;
pub use stage::Stage;
pub use text::text;
