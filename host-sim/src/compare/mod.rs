//! The same days under different hands: what trimming is worth, and against what.
//!
//! | file | what |
//! | --- | --- |
//! | `contender` | [`Contender`]: who sets the valves |
//! | `hand` | a person with a bucket and a stopwatch |
//! | `inferred`, `gains`, `pi` | one plain PI controller a lift on the flow that outlet law and level slope tell |
//! | `believed` | the same on the flow that risertrim's filter tells |
//! | `knowing` | an installation told as it truly is |
//! | `yardstick`, `figures` | what is asked of each lift at each moment, and how far from it the water was |
//! | `run` | [`compare`]: all of them, all seeds |
//! | `trace` | what is kept of a run to be drawn |
//! | `in_short` | what a grower takes from it |
//! | `table`, `sentences`, `page` | the outcome for people, as text and as a page with charts |
//!
//! Everybody gets the same plant, the same noise, the same timeline and the same limits on the valves.

mod believed;
mod contender;
mod figures;
mod gains;
mod hand;
mod in_short;
mod inferred;
mod knowing;
mod page;
mod pi;
mod run;
mod sentences;
mod table;
mod trace;
mod yardstick;

pub use contender::Contender;
pub use figures::{Figures, LiftFigures, Spell};
pub use in_short::in_short;
pub use page::page;
pub use run::{Comparison, Row, Seen, compare};
pub use sentences::sentences;
pub use table::text;
pub use yardstick::{AFTER_CHANGE_S, Part};
