//! Heights and sizes of a lift as it is to be mounted. Heights are above the floor of the tank it draws from.

use super::heat::blower_rise_k;
use super::tilt::{TiltCost, tilt_cost};
use crate::oxygen::{GAS_WARNING_PERCENT, total_gas_percent};
use crate::plant::{FREE_AIR_K, Heads, Riser};
use crate::size::{Candidate, Request};

/// Pipe below the air inlet, outside diameters: keeps the bubbles inside (common practice).
const FOOT_DIAMETERS: f64 = 1.0;
/// Clearance under the foot, outside diameters; half of it is the least (common practice).
const CLEARANCE_DIAMETERS: f64 = 1.0;
/// Air line above the highest water, m (common practice).
const LOOP_ABOVE_M: f64 = 0.3;
/// Speed through the guard that fry can swim against, m/s (common practice, no source).
const GUARD_M_S: f64 = 0.1;
/// Angles shown, degrees.
const TILTS: [f64; 3] = [2.0, 5.0, 10.0];

/// Heights and sizes of one lift.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The pipe's figures.
    pub candidate: Candidate,
    /// The task.
    pub request: Request,
    /// Clearance between floor and foot, m.
    pub clearance_m: f64,
    /// Height of the air inlet, m.
    pub inlet_m: f64,
    /// Lowest level of the source, m.
    pub low_level_m: f64,
    /// Highest level of the source, m.
    pub high_level_m: f64,
    /// Invert of the outlet, m.
    pub outlet_m: f64,
    /// Length of the riser from foot to invert, m.
    pub riser_m: f64,
    /// Height of the air line's top, m.
    pub loop_m: f64,
    /// Water lost by leaning.
    pub tilt: Vec<TiltCost>,
    /// Open area of the guard, m2.
    pub guard_m2: f64,
    /// How much warmer the air leaves the blower, K.
    pub blower_rise_k: f64,
    /// Total gas pressure in balance with bubbles at the inlet, percent.
    pub gas_at_inlet_percent: f64,
    /// The same at a third of the depth, percent.
    pub gas_at_third_percent: f64,
}

/// Heights that are given, all above the floor of the source, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Heights {
    clearance: f64,
    inlet: f64,
    low_level: f64,
    high_level: f64,
    outlet: f64,
}

impl Heights {
    /// Those of a lift whose air inlet is fixed: the foot as far below it as above the floor, or as usual where there is room.
    pub fn of_inlet(inlet: f64, outside: f64, low_level: f64, high_level: f64, outlet: f64) -> Self {
        let usual = inlet - FOOT_DIAMETERS * outside;
        Self {
            clearance: if usual >= CLEARANCE_DIAMETERS * outside {
                usual
            } else {
                0.5 * inlet
            },
            inlet,
            low_level,
            high_level,
            outlet,
        }
    }
}

impl Sheet {
    /// The sheet of a candidate; `None` for one that cannot do the task at any air.
    #[must_use]
    pub fn new(request: &Request, candidate: &Candidate) -> Option<Self> {
        let outside = candidate.pipe.outside_mm * 1e-3;
        let clearance = CLEARANCE_DIAMETERS * outside;
        let inlet = clearance + FOOT_DIAMETERS * outside;
        let low_level = inlet + request.depth_m.low;
        let heights = Heights {
            clearance,
            inlet,
            low_level,
            high_level: inlet + request.depth_m.high,
            outlet: low_level + request.lift_m.high,
        };
        Self::at(request, candidate, heights)
    }

    /// The sheet of a candidate at these heights.
    pub(super) fn at(request: &Request, candidate: &Candidate, heights: Heights) -> Option<Self> {
        let air = candidate.air_m3_s?;
        let place = request.place();
        let Heights {
            clearance,
            inlet,
            low_level,
            high_level,
            outlet,
        } = heights;
        let riser = Riser {
            kin: request.fittings.entrance,
            kout: request.fittings.outlet,
            ..Riser::clean(candidate.pipe.bore_m(), place)
        };
        let heads = Heads::free(request.depth_m.low, request.lift_m.high);
        Some(Self {
            clearance_m: clearance,
            inlet_m: inlet,
            low_level_m: low_level,
            high_level_m: high_level,
            outlet_m: outlet,
            riser_m: outlet - clearance,
            loop_m: outlet.max(high_level) + LOOP_ABOVE_M,
            tilt: TILTS
                .iter()
                .map(|degrees| tilt_cost(&riser, heads, air, *degrees))
                .collect(),
            guard_m2: request.water_m3_s.high / GUARD_M_S,
            blower_rise_k: blower_rise_k(
                FREE_AIR_K,
                place.p_atm_pa,
                candidate.blower_pa,
                request.blower_efficiency,
            ),
            gas_at_inlet_percent: total_gas_percent(&place, request.depth_m.high),
            gas_at_third_percent: total_gas_percent(&place, request.depth_m.high / 3.0),
            candidate: candidate.clone(),
            request: request.clone(),
        })
    }

    /// Least clearance under the foot, m: half an outside diameter (common practice).
    #[must_use]
    pub fn least_clearance_m(&self) -> f64 {
        0.5 * CLEARANCE_DIAMETERS * self.candidate.pipe.outside_mm * 1e-3
    }

    /// True when the depth is such that the water can take up more gas than fish bear.
    #[must_use]
    pub fn gas_warning(&self) -> bool {
        self.gas_at_inlet_percent > GAS_WARNING_PERCENT
    }
}
