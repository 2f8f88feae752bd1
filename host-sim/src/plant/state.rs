//! What the modelled installation truly does at a moment.

use super::peak::Peak;

/// A lift at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct LiftState {
    /// Water delivered, m3/s; negative: running back.
    pub water_m3_s: f64,
    /// Free air, m3/s.
    pub air_m3_s: f64,
    /// True opening of the air valve, 0 to 1.
    pub opening: f64,
    /// More air would give less water.
    pub past_peak: bool,
    /// Water delivered since the start, m3.
    pub water_m3: f64,
    /// Free air since the start, m3.
    pub air_m3: f64,
}

/// A tank at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct TankState {
    /// Level above the floor, m.
    pub level_m: f64,
    /// Volume, m3.
    pub volume_m3: f64,
    /// Water lost over the rim since the start, m3.
    pub spilled_m3: f64,
    /// Time below its dry level since the start, s.
    pub dry_s: f64,
    /// Water leaving through all its outlets, m3/s.
    pub outflow_m3_s: f64,
}

/// The installation at a moment.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PlantState {
    /// Time since the start, s.
    pub time_s: f64,
    /// Each lift.
    pub lifts: Vec<LiftState>,
    /// Each tank.
    pub tanks: Vec<TankState>,
    /// Manifold gauge pressure, Pa.
    pub manifold_pa: f64,
    /// Free air of the blower with the bleed's, m3/s.
    pub air_m3_s: f64,
    /// Electrical power of the blower, W.
    pub power_w: f64,
    /// Electrical energy since the start, J.
    pub energy_j: f64,
    /// Free air since the start, m3.
    pub air_m3: f64,
    /// Water that came from outside since the start, m3.
    pub water_in_m3: f64,
    /// Water that left the system since the start (outlets, spills, evaporation, leaks, scooping), m3.
    pub water_out_m3: f64,
}

impl PlantState {
    /// Water in all tanks, m3.
    #[must_use]
    pub fn volume_m3(&self) -> f64 {
        self.tanks.iter().map(|tank| tank.volume_m3).sum()
    }
}

/// The last peak worked out for a lift and the levels it was for.
#[derive(Clone, Copy, Debug)]
pub(super) struct KnownPeak {
    pub peak: Peak,
    pub submergence_m: f64,
    pub lift_m: f64,
    pub fouling_k: f64,
    pub churn_s2_m2: f64,
}
