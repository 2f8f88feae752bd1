//! What came of a run, as a table for people, JSON for programs and CSV for spreadsheets.

mod csv;
mod json;
mod table;
mod verdict;
mod words;

pub use csv::CsvRecorder;
pub use json::json;
pub use table::tables;
pub(crate) use table::{new_table, number};
pub use verdict::{MEAN_WITHIN_PERCENT, closing, speed, verdict};
pub use words::{WIDTH, clock, duration, lift_state, wrapped};
