//! The confidence band of a calibrated curve.

use super::curve::Curve;
use super::riser::{Calibration, Riser};
use crate::math::sqrt;
use crate::site::Conditions;
use crate::units::FreeAir;

/// Step of the logarithms in the numerical gradient.
const STEP: f32 = 0.01;

/// Standard deviation of the flow at this air as a share of it, from the covariance of the fit: the gradient of the flow's
/// logarithm with respect to the logarithms of the three multipliers, by central differences.
///
/// `None` for a lift that was never measured, and where the lift moves no water. Outside the measured range of airs the
/// deviation grows by the share by which the air lies outside.
#[must_use]
pub fn relative_sigma(
    riser: &Riser,
    calibration: &Calibration,
    conditions: &Conditions,
    source_m: f32,
    receiver_m: Option<f32>,
    air: FreeAir,
) -> Option<f32> {
    let fit = calibration.fit?;
    let flow: &dyn Fn([f32; 3]) -> f32 = &|[losses, slip, air_times]| {
        let shifted = Calibration {
            losses: calibration.losses * losses,
            slip: calibration.slip * slip,
            air: calibration.air * air_times,
            fit: None,
        };
        Curve::new(riser, &shifted, conditions, source_m, receiver_m)
            .flow(air)
            .m3_s
    };
    let middle = flow([1.0; 3]);
    if !(middle > 0.0) {
        return None;
    }
    let mut weights = [0.0f32; 3];
    for (which, weight) in weights.iter_mut().enumerate() {
        let shifted = |times: f32| {
            let mut shift = [1.0f32; 3];
            if let Some(own) = shift.get_mut(which) {
                *own = times;
            }
            flow(shift)
        };
        *weight = (shifted(1.0 + STEP) - shifted(1.0 - STEP)) / (2.0 * STEP * middle);
    }
    let outside = if air.m3_s < fit.air_low_m3_s {
        1.0 - air.m3_s / fit.air_low_m3_s
    } else if air.m3_s > fit.air_high_m3_s && fit.air_high_m3_s > 0.0 {
        air.m3_s / fit.air_high_m3_s - 1.0
    } else {
        0.0
    };
    Some(sqrt(fit.variance_along(weights)) * (1.0 + outside))
}
