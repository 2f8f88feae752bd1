//! What a trial sees at a step, what it wants done, and where it stands.

use super::Refusal;
use crate::lift::{Curve, Peak};
use crate::outlet::OutletView;
use crate::tank::{AreaPoint, LevelLimits, area_m2};
use crate::units::FreeAir;

/// What the trial sees at one step.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Look {
    /// Milliseconds since the last step.
    pub step_ms: u32,
    /// The same in seconds.
    pub seconds: f32,
    /// Reading of the receiving tank, m, when one could be used.
    pub reading_m: Option<f32>,
    /// Believed level of the receiving tank, m.
    pub receiver_m: f32,
    /// Believed level of the source, m.
    pub source_m: f32,
    /// Floor of the receiving tank above the floor of the source, m.
    pub receiver_floor_m: f32,
    /// Level the outlet drains into, above the receiving tank's floor; far below when it falls free.
    pub below_m: f32,
    /// Reading of the tank it drains into, in the same measure, m, when there is one that could be used.
    pub below_reading_m: Option<f32>,
    /// Level of the receiving tank at which the riser's outlet drowns, m.
    pub riser_outlet_m: f32,
    /// True when fish live in the tank the lift draws from or fills.
    pub fish: bool,
    /// Air the lift is believed to get.
    pub air: FreeAir,
    /// Delivery factor believed before the trial.
    pub factor: f32,
    /// The lift's curve as told.
    pub curve: Curve,
    /// Its peak.
    pub peak: Peak,
    /// True when a level stands at an act limit, air is short, power is on backup: end the trial.
    pub stop: Option<Refusal>,
}

/// Of the tank that a trial fills and drains, as much as it looks at.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Basin<'a> {
    /// Water surface against level.
    pub area: &'a [AreaPoint],
    /// The levels that warn and act.
    pub limits: LevelLimits,
    /// Where water runs over the rim, m.
    pub rim_m: f32,
    /// Variance of one reading, m2.
    pub reading_m2: f32,
    /// The outlet that is measured; none where it is not there any more.
    pub outlet: Option<OutletView<'a>>,
}

impl Basin<'_> {
    /// Water surface at a level, m2.
    #[must_use]
    pub fn area_m2(&self, level_m: f32) -> f32 {
        area_m2(self.area, level_m)
    }
}

/// What the trial wants done.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Move {
    /// Leave the valve where it is.
    Keep,
    /// Open it for this air, at once.
    Air(FreeAir),
    /// It is over.
    End,
}

/// Where a trial stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Phase {
    /// Filling the tank to a steady level.
    Filling,
    /// Letting it drain with the lift below its onset.
    Draining,
    /// Working out the outlet's law.
    FittingOutlet,
    /// Waiting for a steady level at an opening, and measuring there.
    Opening,
    /// Working out the lift's curve.
    FittingCurve,
}
