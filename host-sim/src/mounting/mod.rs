//! The mounting sheet of a lift: what goes where, drawn to scale, with what to beware of.
//!
//! | file | what |
//! | --- | --- |
//! | `sheet` | heights and sizes |
//! | `existing` | the sheet of a lift that an installation file describes |
//! | `items` | the sheet in words, each marked as computed or as common practice |
//! | `tilt` | what leaning costs |
//! | `heat` | how warm a blower's air leaves it |
//! | `drawing`, `labels`, `canvas` | the side view to scale, as SVG |
//!
//! A sheet is an aid for planning. Local codes and licensed trades come before it.

mod canvas;
mod drawing;
mod existing;
mod heat;
mod items;
mod labels;
mod places;
mod sheet;
mod tilt;

#[cfg(test)]
mod tests;

pub use drawing::drawing;
pub use existing::{NoSheet, existing};
pub use heat::blower_rise_k;
pub use items::{Basis, Item, items, sheet_json, sheet_text};
pub use sheet::Sheet;
pub use tilt::{TiltCost, tilt_cost};
