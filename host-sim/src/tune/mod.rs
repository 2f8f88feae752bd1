//! From logs to a better installation: what they tell of outlets, curves, sensors and tanks, and settings that suit it.
//!
//! ```text
//! logs --> from_log --> series --> noise ----------------------------+
//!                         |                                          v
//!                         +--> fit (layout, balance, filter, search) --> Fitted --> proposal --> trial --> write, report
//! ```
//!
//! | file | what |
//! | --- | --- |
//! | `from_log`, `series` | log files, one after the other, to means over five seconds; gaps and restarts begin a stretch |
//! | `robust`, `noise` | medians; the noise of a sensor from its readings alone |
//! | `layout` | which numbers are fitted, and what is thought of them beforehand |
//! | `balance` | the water balance of every tank with its slopes, by the controller's own curves and laws |
//! | `drive` | air, state and levels of a bin |
//! | `doing` | whether a lift is out, wakes or runs, and how far its water may be beside its curve |
//! | `filter` | Kalman filter about that course, with masked updates |
//! | `search` | what the filter cannot fit itself, by likelihood |
//! | `reference` | the course of the readings that everything is straightened about |
//! | `fit`, `fitted` | two passes, and what came of them with intervals |
//! | `working` | how far the flow through a tank's outlets is off at the level it works at |
//! | `loop_shape` | learning time of the controller's filter, peak of the loop's sensitivity |
//! | `shape`, `settings` | how each trim is shaped; settings that suit it |
//! | `allowed`, `proposal` | what may be changed; what to change |
//! | `tests_wanted` | which small test would tell the rest |
//! | `trial`, `decide` | before and after on the fitted place; what is proposed after it |
//! | `write`, `report`, `report_json` | the new installation file; the report for people and for programs |

mod allowed;
mod balance;
mod decide;
mod doing;
mod drive;
mod filter;
mod fit;
mod fitted;
mod from_log;
mod layout;
mod loop_shape;
mod noise;
mod proposal;
mod reference;
mod report;
mod report_json;
pub mod robust;
mod search;
mod series;
mod settings;
mod shape;
mod tests_wanted;
mod trial;
mod working;
mod write;

pub use allowed::Allowed;
pub use decide::{Decision, decide};
pub use filter::Ran;
pub use fit::fit;
pub use fitted::{Estimate, Fitted, LiftFit, OutletFit, TankFit};
pub use from_log::{ReadError, read_bytes, read_logs};
pub use loop_shape::{Learning, Loop, MOST_SENSITIVITY, learning};
pub use noise::Noise;
pub use proposal::{Proposal, propose};
pub use report::{Names, text as report_text};
pub use report_json::json as report_json;
pub use series::{Counted, Series};
pub use settings::Change;
pub use shape::Shape;
pub use tests_wanted::{Wanted, wanted};
pub use trial::{Trial, Tried};
pub use working::Working;
pub use write::{WriteError, written};
