//! Commissioning from levels alone: the outlet law by a recession, then the lift's curve by steady openings.
//!
//! With a lift held below its onset its receiving tank drains by its outlet only, and the fall of the level against the known
//! tank area gives the outlet law and the zero of the level sensor, without any flow meter. Then the lift is opened step by step;
//! each steady level gives a flow, and the flows give the curve. Air stays on throughout; the trial is bounded in time and in
//! level and ends safely at any alarm.

mod by_openings;
mod by_recession;
mod curve_fit;
mod inflow;
mod look;
mod normal;
mod outlet_fit;
mod possible;
mod recession;
mod refusal;
mod rest;
mod trial;

pub use curve_fit::{Found as CurveFound, Steady};
pub use look::{Basin, Look, Move, Phase};
pub use outlet_fit::Found as OutletFound;
pub use possible::possible;
pub use refusal::Refusal;
pub use trial::Trial;

use serde::{Deserialize, Serialize};

/// Largest standard deviation of an outlet's flow at its working level that is accepted.
pub const OUTLET_SIGMA: f32 = 0.015;
/// Largest standard deviation of a curve over the airs tried that is accepted.
pub const CURVE_SIGMA: f32 = 0.025;

/// Trickle over a pipe or a hole that lets no curve be read through it, share of the lift's target.
const MOST_TRICKLE: f32 = 0.1;
/// Distance kept from a level limit, m.
const CLEAR_OF_LIMIT_M: f32 = 0.005;

/// What a trial found.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Outcome {
    /// The lift tried.
    pub lift: u8,
    /// The outlet of its receiving tank that was measured, by index.
    pub outlet: u8,
    /// The outlet's law, or why not.
    pub outlet_law: Result<OutletFound, Refusal>,
    /// The lift's curve, or why not.
    pub curve: Result<CurveFound, Refusal>,
}
