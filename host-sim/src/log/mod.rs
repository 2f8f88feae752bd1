//! Logs of a board or of a simulation: written, read, told, replayed. `core/RECORD.md` is the format.
//!
//! | file | what |
//! | --- | --- |
//! | `write` | [`LoggedController`]: the core's controller, everything it does written to a log |
//! | `reader` | [`LogReader`]: an iterator of [`Entry`], from any `Read`, with constant memory; damage and gaps are entries |
//! | `older` | records of older formats as they were |
//! | `entry` | [`Entry`]: what stands where in a log, and when it was |
//! | `clock` | the board's wrapping counter as one time that only goes forward |
//! | `samples` | [`samples`]: readings and what they belong to, cut into stretches without gaps: for fits |
//! | `summary` | [`Summary`]: span, restarts, gaps, alarms, damage |
//! | `words`, `replay_words` | the same in words, and one line a record; what came of a replay |
//! | `tables` | what stands in which table, with its unit; `csv` and `parquet` write them |
//! | `json` | one line an entry |
//! | `replay`, `replay_outcome` | [`Replay`]: the same core over the logged readings; [`Difference`]: where it decides otherwise |
//! | `tuning` | settings changed by name |

mod clock;
mod csv;
mod difference;
mod entry;
mod error;
mod json;
mod older;
#[cfg(feature = "parquet")]
mod parquet;
mod reader;
mod replay;
mod replay_outcome;
mod replay_words;
mod samples;
mod summary;
mod summary_words;
mod tables;
mod tuning;
mod words;
mod write;

pub use csv::CsvLog;
pub use difference::{Difference, Field};
pub use entry::{Entry, HostInstallation, HostReadingsRecord, HostRecord, HostStepRecord, What};
pub use error::LogError;
pub use json::{json_line, replay_json};
#[cfg(feature = "parquet")]
pub use parquet::ParquetLog;
pub use reader::{LogReader, open_log};
pub use replay::{Replay, Start};
pub use replay_outcome::{Exactness, FieldOutcome, ReplayOutcome, Uncompared};
pub use replay_words::replay_text;
pub use samples::{Sample, Samples, Stretch, samples};
pub use summary::{AlarmSpan, DamagedBytes, Gap, LiftFigures, Session, Summary, TOLD, TankFigures};
pub use summary_words::summary_text;
pub use tuning::{TuningError, tuned};
pub use words::line;
pub use write::{FileSink, HostRecorder, LoggedController};
