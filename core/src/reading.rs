//! What a sensor gave, and what that is worth.

use serde::{Deserialize, Serialize};

/// One reading of a sensor, in the sensor's own unit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reading {
    /// The number it gave.
    Value(f32),
    /// It gave none.
    #[default]
    Missing,
}

/// What a checked reading is worth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Checked {
    /// A level to be believed, m above the floor.
    Level(f32),
    /// No reading came.
    Missing,
    /// A number that no water in this tank can give: not finite, below the floor or far above the rim.
    OutOfRange,
    /// Further from the last believed reading than water can have moved; held back until it persists.
    Implausible,
}
