//! Calibration of a lift: from measured points to the multipliers of its curve, with their uncertainty.
//!
//! ```text
//! points file --> columns, read, plausible --> Point --> fit --> Fitted --> judge --> Judgement --> write
//!                        (budget)              (prior, least_squares on the controller's own curve)
//! ```
//!
//! | file | what |
//! | --- | --- |
//! | `columns`, `read`, `plausible`, `fault` | a CSV of what was read off bucket, watch and meter; every mistake by line and field |
//! | `budget` | bucket, watch and level to a flow with its standard deviation |
//! | `curve_model` | the controller's own curve as the fit sees it: what is fitted is what runs |
//! | `prior`, `least_squares`, `fit` | the most probable multipliers; bad points set aside; error of the form itself |
//! | `judge` | the band, whether the points are enough, at which air another helps most |
//! | `report` | all of it for people and programs |
//! | `write` | the installation file with the calibration in it |

mod budget;
mod columns;
mod curve_model;
mod fault;
mod fit;
mod judge;
mod least_squares;
mod place;
mod plausible;
mod point;
mod prior;
mod read;
mod report;
mod write;

pub use budget::{bucket, level_rise};
pub use curve_model::{Logs, Measured, multipliers};
pub use fault::{PointFault, PointFaultKind, PointReport};
pub use fit::{Beside, FitError, Fitted, fit};
pub use judge::{ENOUGH, Judgement, MISSHAPEN, NINETY, judge};
pub use place::NamedLift;
pub use point::Point;
pub use prior::Prior;
pub use read::{PointsRead, read_points};
pub use report::{CalibrationReport, PointRow, report};
pub use write::{WriteError, calibrated};
