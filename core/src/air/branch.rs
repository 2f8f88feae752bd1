//! One lift's branch off the manifold.

use super::path::Path;
use super::valve::{Characteristic, REFERENCE_TO_FREE_AIR, Valve, ValvePoint, flow_function};

/// One lift's place on the manifold: what its valve passes, and what the air meets behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Branch<'a> {
    /// Sonic conductance wide open, m3/(s Pa).
    pub(crate) conductance_m3_s_pa: f32,
    /// Critical pressure ratio.
    pub(crate) critical_ratio: f32,
    /// How the valve opens.
    pub(crate) characteristic: Characteristic<&'a [ValvePoint]>,
    /// What its air meets after the valve.
    pub(crate) path: Path,
}

impl<'a> Branch<'a> {
    /// A valve before this path.
    #[must_use]
    pub fn new<P: AsRef<[ValvePoint]>>(valve: &'a Valve<P>, path: Path) -> Self {
        Self {
            conductance_m3_s_pa: valve.conductance_m3_s_pa,
            critical_ratio: valve.critical_ratio,
            characteristic: valve.characteristic.with(P::as_ref),
            path,
        }
    }

    /// Share of the full conductance that passes this free air at this pressure ratio; above 1 when it cannot.
    #[must_use]
    pub fn share_for(&self, air_m3_s: f32, p1_pa: f32, ratio: f32) -> f32 {
        let most = self.conductance_m3_s_pa * REFERENCE_TO_FREE_AIR * p1_pa * flow_function(ratio, self.critical_ratio);
        if most > 1.0e-12 { air_m3_s / most } else { f32::MAX }
    }
}
