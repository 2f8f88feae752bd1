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
    let flow: &dyn Fn(&Calibration) -> f32 = &|calibration| {
        Curve::new(riser, calibration, conditions, source_m, receiver_m)
            .flow(air)
            .m3_s
    };
    let middle = flow(calibration);
    if !(middle > 0.0) {
        return None;
    }
    let slope = |up: Calibration, down: Calibration| (flow(&up) - flow(&down)) / (2.0 * STEP * middle);
    let (more, less) = (1.0 + STEP, 1.0 - STEP);
    let of = calibration;
    let weights = [
        slope(
            Calibration {
                losses: of.losses * more,
                ..*of
            },
            Calibration {
                losses: of.losses * less,
                ..*of
            },
        ),
        slope(
            Calibration {
                slip: of.slip * more,
                ..*of
            },
            Calibration {
                slip: of.slip * less,
                ..*of
            },
        ),
        slope(
            Calibration {
                air: of.air * more,
                ..*of
            },
            Calibration {
                air: of.air * less,
                ..*of
            },
        ),
    ];
    let outside = if air.m3_s < fit.air_low_m3_s {
        1.0 - air.m3_s / fit.air_low_m3_s
    } else if air.m3_s > fit.air_high_m3_s && fit.air_high_m3_s > 0.0 {
        air.m3_s / fit.air_high_m3_s - 1.0
    } else {
        0.0
    };
    Some(sqrt(fit.variance_along(weights)) * (1.0 + outside))
}
