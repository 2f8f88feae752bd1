//! Running a scenario: the modelled installation and a controller, step by step, and what came of it.
//!
//! | file | what |
//! | --- | --- |
//! | `simulation` | [`Simulation`]: plant, sensors and controller, one control period at a time |
//! | `control` | [`Control`]: what drives the valves; the core's controller is one |
//! | `timeline` | what happens when |
//! | `jobs` | [`Jobs`]: what is asked of each lift at a moment |
//! | `windows`, `settle` | which time counts, and how long a lift takes to its target |
//! | `lifts`, `tanks`, `shared`, `alarms`, `trials` | the bookkeeping behind the figures |
//! | `moment` | [`Moment`]: readings, belief and truth at one time |
//! | `score` | [`Score`]: all of that bookkeeping, fed one [`Moment`] at a time |
//! | `outcome` | [`Outcome`]: the figures, as printed and as JSON |
//! | `whole` | [`Run`]: a scenario from start to end |

mod alarms;
mod control;
mod error;
mod jobs;
mod lifts;
mod moment;
mod outcome;
mod score;
mod settle;
mod shared;
mod simulation;
mod tanks;
mod timeline;
mod trials;
mod whole;
mod windows;

pub use alarms::subject_name;
pub use control::{Control, ControlFailed, HostController, HostReadings, HostStep};
pub use error::SimulateError;
pub use jobs::{Job, Jobs};
pub use moment::{Moment, RefusedCommand};
pub use outcome::{
    AirOutcome, AlarmOutcome, CommissionedCurve, CommissionedOutcome, CommissionedOutlet, LiftOutcome, Outcome,
    RefusedOutcome, SharedOutcome, TankOutcome,
};
pub use score::Score;
pub use simulation::Simulation;
pub use whole::{Recorder, Run, Watch, run};
#[cfg(feature = "tools")]
pub(crate) use windows::Windows;
pub use windows::{AFTER_STOP_S, SETTLING_S};

/// Litres in a cubic metre.
pub(crate) const LITRES_PER_M3: f64 = 1_000.0;
/// Litres a minute in one cubic metre a second.
pub(crate) const L_MIN_PER_M3_S: f64 = 60_000.0;
