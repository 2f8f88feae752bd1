//! Figures side by side with general-purpose libraries, on this machine: printed, never asserted.
//!
//! | file | what |
//! | --- | --- |
//! | `riccati` | the best that any linear filter can do, from the discrete Riccati equation |
//! | `estimator` | the controller's filter against that bound, on a plant that is as it was told |
//! | `plant` | the modelled installation against integrators of scipy and of a Rust crate |
//! | `text` | all of it for people |
//! | `filter_work` | a step of the filter and of its peers, for here and for the firmware's figures |
//! | `speed` | a step, and its filter alone, against a same-size filter on nalgebra and PI controllers of the `pid` crate |

mod estimator;
mod filter_work;
mod plant;
mod riccati;
mod speed;
mod text;

pub use estimator::{EstimatorRow, estimator};
pub use plant::{PlantBench, PlantRow, PlantTime, plant};
pub use riccati::{Model, steady_covariance};
pub use speed::{SpeedRow, speed};
pub use text::text;
