//! From valve to riser: air line, diffuser and the water above it.

use crate::math::{PI, larger};
use crate::units::{FREE_AIR_K, FREE_AIR_PA};
use crate::water::air_density_kg_m3;
use serde::{Deserialize, Serialize};

/// Darcy friction factor of small air lines: Blasius at the Reynolds numbers of 3 000 to 20 000 found there gives 0.043 to
/// 0.027; the middle serves, because the line takes a small part of the drop.
const LINE_FRICTION: f32 = 0.034;

/// The air line of a lift.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Line {
    /// Bore, m; 0.002 to 0.2.
    pub bore_m: f32,
    /// Length, m; 0 to 200.
    pub length_m: f32,
    /// Sum of the loss coefficients of its fittings and check valve.
    pub minor_loss: f32,
}

/// The air stone, membrane or drilled pipe at the foot of the riser.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Diffuser {
    /// Pressure it takes before any air passes, Pa.
    pub opening_pa: f32,
    /// Further pressure it takes at `at_air_m3_s`, growing with the square of the air, Pa.
    pub loss_pa: f32,
    /// The free air at which `loss_pa` was given, m3/s.
    pub at_air_m3_s: f32,
}

/// What the air meets after its valve, at the levels of the moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Path {
    /// Pressure against which the first bubble comes, Pa absolute.
    pub still_pa: f32,
    /// Pressure for the flow, Pa per square of the free air in m3/s.
    pub loss_pa_s2_m6: f32,
}

impl Path {
    /// Line and diffuser under `injector_pa` of water (above the atmosphere of `atmosphere_pa`).
    ///
    /// Line: `(f L/D + K) rho v^2 / 2` at the pressure of the injector, in terms of free air.
    #[must_use]
    pub fn new(line: &Line, diffuser: &Diffuser, injector_pa: f32, atmosphere_pa: f32) -> Self {
        let still = atmosphere_pa + injector_pa + diffuser.opening_pa;
        let bore = larger(line.bore_m, 1.0e-3);
        let area = 0.25 * PI * bore * bore;
        let k = LINE_FRICTION * line.length_m / bore + line.minor_loss;
        let rho = air_density_kg_m3(FREE_AIR_PA, FREE_AIR_K);
        let in_line = k * 0.5 * rho * FREE_AIR_PA / (still * area * area);
        let at = larger(diffuser.at_air_m3_s, 1.0e-6);
        Self {
            still_pa: still,
            loss_pa_s2_m6: in_line + diffuser.loss_pa / (at * at),
        }
    }

    /// Pressure behind the valve at this free air, Pa absolute.
    #[must_use]
    pub fn behind_valve_pa(&self, air_m3_s: f32) -> f32 {
        self.still_pa + self.loss_pa_s2_m6 * air_m3_s * air_m3_s
    }
}
