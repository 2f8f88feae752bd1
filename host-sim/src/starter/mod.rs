//! A first place of one's own: a few answers become a commented scenario that checks and runs.
//!
//! | file | what |
//! | --- | --- |
//! | `wish` | [`Wish`]: what was answered, with ranges |
//! | `ask` | [`ask`]: the questions |
//! | `design` | pipes, outlets, valves, blower and limits that suit the wish |
//! | `text` | the commented file |

mod ask;
mod design;
mod text;
mod wish;

pub use ask::ask;
pub use design::{Design, DesignError, design};
pub use text::scenario_text;
pub use wish::{LiftWish, Wish, WishFault};
