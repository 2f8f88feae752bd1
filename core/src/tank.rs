//! Tanks: how much water a level holds.

use crate::level::Sensor;
use crate::math::{interpolate, limit};
use crate::outlet::Outlet;
use serde::{Deserialize, Serialize};

/// Points a table of areas can hold.
pub const AREA_POINTS: usize = 4;

/// Outlets a tank can have.
pub const OUTLETS: usize = 3;

/// One point of a table of areas.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AreaPoint {
    /// Level above the floor, m.
    pub level_m: f32,
    /// Water surface at that level, m2.
    pub area_m2: f32,
}

/// A tank: its shape, its outlets and the levels it must keep. Levels are above its own floor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tank {
    /// Height of the floor above the site's datum, m.
    pub floor_m: f32,
    /// Water surface against level, at least one point, rising levels; the ends hold outside.
    pub area: heapless::Vec<AreaPoint, AREA_POINTS>,
    /// Outlets, none for a tank that only lifts draw from.
    pub outlets: heapless::Vec<Outlet, OUTLETS>,
    /// The level sensor.
    pub sensor: Sensor,
    /// Where water runs over the rim, m.
    pub rim_m: f32,
    /// The levels that warn and act.
    pub limits: LevelLimits,
    /// True where fish live: lifts of this tank keep their air first.
    pub fish: bool,
}

/// Levels at which the guard warns and acts, m above the floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LevelLimits {
    /// Above this, warn.
    pub high_warn_m: f32,
    /// Above this, lifts that feed the tank go down to their air floor.
    pub high_act_m: f32,
    /// Below this, warn.
    pub low_warn_m: f32,
    /// Below this, lifts that draw from the tank go down to their air floor.
    pub low_act_m: f32,
}

impl Tank {
    /// Water surface at a level, m2; never below 1 cm2.
    #[must_use]
    pub fn area_m2(&self, level_m: f32) -> f32 {
        let area = interpolate(&self.area, level_m, |p| p.level_m, |p| p.area_m2).unwrap_or(1.0);
        limit(area, 1.0e-4, 1.0e6)
    }
}
