//! Many true places of one scenario: how the figures spread, which seeds are worst, which unknown matters most.
//!
//! | file | what |
//! | --- | --- |
//! | `unknowns` | what a seed draws, as numbers |
//! | `row` | what came of one seed |
//! | `file` | rows as CSV: resumed, sharded, merged |
//! | `parquet` | rows as Parquet, with the feature of that name |
//! | `run` | [`sweep`]: all seeds that are not in the file yet |
//! | `rank` | rank correlation |
//! | `summary` | the whole in words |

mod file;
#[cfg(feature = "parquet")]
mod parquet;
mod rank;
mod row;
mod run;
mod summary;
mod unknowns;

pub use file::{FileError, Sheet};
pub use rank::spearman;
pub use row::{Figure, Row};
pub use run::{Plan, Shard, SweepError, sweep};
pub use summary::{Matters, Spread, Summary, summarise, text};
