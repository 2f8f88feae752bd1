//! A riser as it is mounted, and the multipliers fitted to it on site.

use serde::{Deserialize, Serialize};

/// A riser as mounted. Heights are above the source tank's floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Riser {
    /// Inside diameter, m; 0.015 to 0.4.
    pub bore_m: f32,
    /// Height of the air inlet, m.
    pub injector_m: f32,
    /// Height of the outlet's invert, m. The water falls from here unless the receiver stands higher.
    pub outlet_m: f32,
    /// Darcy friction factor of the pipe wall; 0.01 to 0.06, 0.022 for clean plastic at these speeds.
    pub darcy_friction: f32,
    /// Loss coefficient of the entrance, with any suction pipe and mesh; 0.5 for a sharp pipe end.
    pub entrance_loss: f32,
    /// Loss coefficient of an outlet elbow or fitting, on the mixture; 0 for an open end.
    pub outlet_loss: f32,
}

/// Multipliers fitted to a lift from measured points. All 1 for a lift that was never measured.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Calibration {
    /// On the entrance loss; 0.02 to 100. Mesh, guard and foot are what no formula knows; the wall's friction is known.
    pub losses: f32,
    /// On the drift velocity; 0.3 to 3.
    pub slip: f32,
    /// On the air: what the riser gets of the air the valve is thought to pass; 0.3 to 3.
    pub air: f32,
    /// How sure the fit is and where it holds; `None` for a lift that was never measured.
    pub fit: Option<Fit>,
}

/// How sure fitted multipliers are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fit {
    /// Covariance of the natural logarithms of losses, slip and air: the upper triangle by rows (losses-losses, losses-slip,
    /// losses-air, slip-slip, slip-air, air-air). The multipliers are positive and their errors are shares: so logarithms.
    pub covariance: [f32; 6],
    /// Least free air measured, m3/s: below it the curve is extrapolated.
    pub air_low_m3_s: f32,
    /// Most free air measured, m3/s: above it the curve is extrapolated.
    pub air_high_m3_s: f32,
}

impl Fit {
    /// Variance of the linear combination of the three logarithms with these weights; never negative.
    #[must_use]
    pub fn variance_along(&self, weights: [f32; 3]) -> f32 {
        let [ll, ls, la, ss, sa, aa] = self.covariance;
        let [l, s, a] = weights;
        let variance = l * l * ll + s * s * ss + a * a * aa + 2.0 * (l * s * ls + l * a * la + s * a * sa);
        if variance > 0.0 { variance } else { 0.0 }
    }
}

impl Default for Calibration {
    fn default() -> Self {
        Self {
            losses: 1.0,
            slip: 1.0,
            air: 1.0,
            fit: None,
        }
    }
}
