//! The curve as the fit sees it: the controller's own, with its three multipliers, and its slopes.

use super::point::Point;
use crate::precision::narrow;
use nalgebra::Vector3;
use risertrim::installation::Conditions;
use risertrim::lift::{Calibration, Curve, Riser, drift_velocity_m_s};
use risertrim::units::FreeAir;

/// Step in the logarithms for slopes by central differences: big beside the rounding of f32 (1e-6 of the flow), small beside
/// the curvature.
const STEP: f64 = 0.01;

/// The riser that was measured, in its water.
#[derive(Clone, Copy, Debug)]
pub struct Measured {
    /// The riser as mounted.
    pub riser: Riser,
    /// Water and atmosphere.
    pub conditions: Conditions,
    drift_m_s: f32,
}

/// Natural logarithms of the multipliers on the entrance loss, slip and air.
pub type Logs = Vector3<f64>;

impl Measured {
    /// A riser in its water.
    #[must_use]
    pub fn new(riser: Riser, conditions: Conditions) -> Self {
        let drift_m_s = drift_velocity_m_s(riser.bore_m, conditions.density_kg_m3, conditions.surface_tension_n_m);
        Self {
            riser,
            conditions,
            drift_m_s,
        }
    }

    /// The curve with these multipliers at these levels (both above the source's floor).
    #[must_use]
    pub fn curve(&self, logs: &Logs, source_m: f64, receiver_m: Option<f64>) -> Curve {
        Curve::with_drift(
            self.drift_m_s,
            &self.riser,
            &multipliers(logs),
            &self.conditions,
            narrow(source_m),
            receiver_m.map(narrow),
        )
    }

    /// Water at a point's levels and an air, m3/s. Below the onset, where the lift gives none, it runs on below zero along the
    /// line from the onset to the peak, so that a fit which starts with a dry lift still knows where to go.
    #[must_use]
    pub fn flow_m3_s(&self, logs: &Logs, point: &Point, air_m3_s: f64) -> f64 {
        let curve = self.curve(logs, point.source_m, point.receiver_m);
        let flow = f64::from(curve.flow(FreeAir::from_m3_s(narrow(air_m3_s))).m3_s);
        if flow != 0.0 {
            return flow;
        }
        let peak = curve.peak();
        match curve.onset() {
            Some(onset) if peak.air > onset => {
                let slope = f64::from(peak.flow.m3_s) / f64::from(peak.air.m3_s - onset.m3_s);
                slope * (air_m3_s - f64::from(onset.m3_s))
            }
            _ => -air_m3_s,
        }
    }

    /// Change of the water with each logarithm, m3/s.
    #[must_use]
    pub fn slopes(&self, logs: &Logs, point: &Point) -> Logs {
        Logs::from_fn(|row, _| {
            let moved = |by: f64| {
                let mut moved = *logs;
                moved[row] += by;
                self.flow_m3_s(&moved, point, point.air_m3_s)
            };
            (moved(STEP) - moved(-STEP)) / (2.0 * STEP)
        })
    }

    /// What the air's own uncertainty does to the water, m3/s: half the difference between the air one standard deviation up
    /// and down, which stays right across the onset and the peak.
    #[must_use]
    pub fn air_error_m3_s(&self, logs: &Logs, point: &Point) -> f64 {
        let at = |share: f64| self.flow_m3_s(logs, point, point.air_m3_s * share).max(0.0);
        0.5 * (at(1.0 + point.air_sigma) - at(1.0 - point.air_sigma)).abs()
    }
}

/// Multipliers from their logarithms, within what the controller takes.
#[must_use]
pub fn multipliers(logs: &Logs) -> Calibration {
    Calibration {
        losses: narrow(logs[0].exp().clamp(0.02, 100.0)),
        slip: narrow(logs[1].exp().clamp(0.3, 3.0)),
        air: narrow(logs[2].exp().clamp(0.3, 3.0)),
        fit: None,
    }
}
