//! Long runs: days without a fault, years with seasons and cleanings, millions of hostile readings.
//!
//! | file | what |
//! | --- | --- |
//! | `calm` | days on which nothing is wrong: no alarm may come up |
//! | `calendar` | a day's and a year's events of a place |
//! | `years` | years with seasons, fouling and cleanings: what was learned may not drift |
//! | `seasons`, `running_year`, `year` | what happens on each of their days; the sums of a year; what came of it |
//! | `hostile` | random readings, clocks and commands straight into the controller |
//! | `text` | all of it for people |

mod calendar;
mod calm;
mod hostile;
mod running_year;
mod seasons;
mod text;
mod year;
mod years;

pub use calendar::fault_free;
pub use calm::{Calm, FalseAlarm, calm};
pub use hostile::{Hostile, hostile};
pub use text::{calm_text, hostile_text, years_text};
pub use year::{AlarmCount, Year};
pub use years::{Cleaning, Years, years};
