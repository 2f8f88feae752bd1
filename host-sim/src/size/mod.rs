//! Choosing the pipe, the air and the blower of a lift before anything is wet.
//!
//! | file | what |
//! | --- | --- |
//! | `request` | what is asked, and the ranges it must lie in |
//! | `candidate` | the figures of one pipe for the task |
//! | `rules` | what rules a pipe out, in words |
//! | `pick` | the choice, its reasons |
//! | `confirm` | the choice checked with the marched riser model |
//! | `depth` | what more or less depth would change |
//! | `several` | all lifts of an installation on one blower: duty point, openings |
//! | `floors` | the least air of every lift, by the oxygen its fish need |
//! | `wide_open` | what happens to the tanks with every valve standing open |
//! | `text`, `several_text`, `layout`, `json` | the answer for people and for programs |
//!
//! The figures come from the controller's own closed-form curve, the one it will trim by. It is uncalibrated here: against
//! published rigs such curves are 10 to 50 % off (mesh, elbow, tilt, bubble size). So plan blower and pipe with a reserve and
//! calibrate on site.

mod candidate;
mod confirm;
mod depth;
mod floors;
mod json;
mod layout;
mod pick;
mod request;
mod rule;
mod rules;
mod several;
mod several_text;
mod text;
mod wide_open;

#[cfg(test)]
mod tests;

pub use candidate::{AirLine, Candidate};
pub use confirm::Confirmation;
pub use depth::{DepthAdvice, DepthRow, LITTLE_GAIN_PAST_M};
pub use floors::{Floors, LiftFloor, NoFloors, floors, floors_json, floors_text};
pub use json::{answer_json, several_json};
pub(crate) use layout::wrapped_to;
pub use pick::{Answer, Pick, size};
pub use request::{Fish, Fittings, Refusal, Request, Span};
pub use rule::Rule;
pub use rules::{MOST_SHARE_OF_PEAK, ONSET_MARGIN};
pub(crate) use several::usual_curve;
pub use several::{LiftDuty, Several, several};
pub use several_text::{series_text, several_text};
pub use text::answer_text;
pub use wide_open::{Trouble, WideOpen, wide_open};

/// Litres a minute in one m3/s.
pub(crate) const L_MIN: f64 = 60_000.0;
