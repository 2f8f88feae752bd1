//! A view in the terminal of a place as it runs: tanks, lifts, flows and alarms, and keys to meddle with it.
//!
//! | file | what |
//! | --- | --- |
//! | `snapshot` | [`Snapshot`]: one moment as plain values, all that the view needs |
//! | `words` | the line of a tank, a lift, an alarm: words and shape first, colour last |
//! | `view` | [`LiveView`]: draws snapshots, remembers the last hour of each lift |
//! | `keys` | [`Action`]: what a key asks for |
//! | `session` | [`Session`]: a simulation at the pace that was asked for; [`Source`], for anything else that can be watched |
//! | `terminal` | [`watch`]: the terminal itself, left as it was found, also after a panic |

mod keys;
mod session;
mod snapshot;
mod terminal;
mod view;
mod words;

pub use keys::{Action, action};
pub use session::{PACES, Session, Source};
pub use snapshot::{AlarmLine, LiftLine, Pace, Snapshot, TankLine};
pub use terminal::watch;
pub use view::LiveView;
