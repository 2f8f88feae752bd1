//! The controller's filter against the best that any linear filter can do.

use super::riccati::{Model, steady_covariance};
use nalgebra::Matrix2;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg32;
use risertrim::estimate::{Balance, Filter, LevelInput, LiftInput, OutletInput, TankInput};
use risertrim::installation::Settings;
use risertrim::outlet::{Drain, Law, Outlet};
use serde::Serialize;

/// Time that the filter gets to settle before errors count, s.
const SETTLE_S: u32 = 3600;
/// Scatter and rounding of a level reading, m.
const READING_M: f64 = 0.001;
/// Curve of the lift, m3/s: 120 L/min.
const CURVE_M3_S: f64 = 2.0e-3;
/// Water surface of the tank, m2.
const AREA_M2: f64 = 1.0;

/// One outlet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EstimatorRow {
    /// The outlet through which the flow is read.
    pub outlet: &'static str,
    /// Deviation of the delivery factor of the best linear filter, %.
    pub bound_percent: f64,
    /// RMS error of the controller's filter on a plant that is as it was told, %.
    pub rms_percent: f64,
    /// The same where the outlet passes 2 % more than told, %.
    pub told_wrongly_percent: f64,
}

impl EstimatorRow {
    /// RMS error over the bound.
    #[must_use]
    pub fn over_bound(&self) -> f64 {
        self.rms_percent / self.bound_percent
    }
}

/// One lift into one tank of 1 m2, level noise of 1 mm and rounding to 1 mm, the usual settings, three outlets; `seconds` of
/// simulated time each.
#[must_use]
pub fn estimator(seconds: u32) -> Vec<EstimatorRow> {
    let laws = [
        (
            "V-notch, 90 degrees",
            Law::VNotch {
                crest_m: 0.4,
                angle_deg: 90.0,
            },
        ),
        (
            "standpipe, 75 mm",
            Law::Standpipe {
                crest_m: 0.4,
                bore_m: 0.0712,
            },
        ),
        (
            "pipe, 50 mm, 2 m",
            Law::Pipe {
                end_m: 0.0,
                bore_m: 0.0464,
                length_m: 2.0,
                minor_loss: 1.0,
            },
        ),
    ];
    let rows = laws.into_iter().map(|(outlet, law)| {
        let told = Outlet {
            to: Drain::Away,
            law,
            coefficient: 1.0,
        };
        EstimatorRow {
            outlet,
            bound_percent: 100.0 * bound(&told),
            rms_percent: 100.0 * rms(&told, 1.0, seconds),
            told_wrongly_percent: 100.0 * rms(&told, 1.02, seconds),
        }
    });
    rows.collect()
}

/// Level at which the outlet passes the lift's flow, m.
#[allow(clippy::cast_possible_truncation)]
fn working_level_m(outlet: &Outlet) -> f64 {
    let (mut low, mut high) = (0.0, 3.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if f64::from(outlet.flow_m3_s(middle as f32, None)) < CURVE_M3_S {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[allow(clippy::cast_possible_truncation)]
fn bound(outlet: &Outlet) -> f64 {
    let settings = Settings::USUAL;
    let slope = f64::from(outlet.at(working_level_m(outlet) as f32, None).per_level);
    // A tank drains towards its working level by exp(-slope t / A).
    let kept = (-slope / AREA_M2).exp();
    let level = f64::from(settings.unseen_flow_m3_s) / AREA_M2;
    let walk = f64::from(settings.delivery_walk);
    let model = Model {
        f: Matrix2::new(kept, CURVE_M3_S * (1.0 - kept) / slope, 0.0, 1.0),
        q: Matrix2::new(level * level, 0.0, 0.0, walk * walk),
        r: READING_M * READING_M * (1.0 + 1.0 / 12.0),
    };
    steady_covariance(&model)[(1, 1)].sqrt()
}

/// RMS error of the filter's factor over a plant whose outlet passes `passes` times what is told.
#[allow(clippy::cast_possible_truncation)] // the controller reckons in f32
fn rms(told: &Outlet, passes: f64, seconds: u32) -> f64 {
    let settings = Settings::USUAL;
    let mut random = Pcg32::new(7, 11);
    let mut normal = || -> f64 { StandardNormal.sample(&mut random) };
    let mut filter = Filter::<1, 1>::new(1, 1, settings.delivery_spread);
    let (mut level_m, mut factor) = (working_level_m(told), 1.0);
    filter.restart_level(0, level_m as f32, 0.001);
    let lift = LiftInput {
        from: 9,
        to: 0,
        curve_m3_s: CURVE_M3_S as f32,
        per_source: 0.0,
        per_receiver: 0.0,
    };
    let tank = TankInput {
        area_m2: AREA_M2 as f32,
        most_m: 5.0,
        unseen_m3_s: settings.unseen_flow_m3_s,
    };
    let variance_m2 = (READING_M * READING_M * (1.0 + 1.0 / 12.0)) as f32;
    let (mut squares, mut count) = (0.0, 0.0);
    for second in 0..seconds + SETTLE_S {
        for _ in 0..10 {
            let out = passes * f64::from(told.flow_m3_s(level_m as f32, None));
            level_m += 0.1 * (factor * CURVE_M3_S - out) / AREA_M2;
        }
        level_m += f64::from(settings.unseen_flow_m3_s) / AREA_M2 * normal();
        factor += f64::from(settings.delivery_walk) * normal();
        // Held near 1, so that the bound at the working level is the bound.
        factor += 2e-6 * (1.0 - factor);
        let read = ((level_m + READING_M * normal()) / READING_M).round() * READING_M;
        let drained = told.at(filter.level_m(0), None);
        let mut balance = Balance::still();
        balance.outlet(&OutletInput {
            from: 0,
            to: None,
            flow_m3_s: drained.flow_m3_s,
            per_level: drained.per_level,
            per_downstream: 0.0,
        });
        balance.lift(0, filter.factor(0), &lift);
        filter.predict(1.0, &balance, &[tank]);
        filter.doubt(0, settings.delivery_walk * settings.delivery_walk);
        filter.update(&[LevelInput {
            tank: 0,
            level_m: read as f32,
            variance_m2,
        }]);
        if second >= SETTLE_S {
            squares += (f64::from(filter.factor(0)) - factor).powi(2);
            count += 1.0;
        }
    }
    (squares / f64::max(count, 1.0)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The goal is 1.05 over a long time; a short run scatters.
    #[test]
    fn the_filter_is_near_the_bound_and_not_below_what_can_be() {
        for row in estimator(40_000) {
            assert!((0.85..1.15).contains(&row.over_bound()), "{row:?}");
            assert!(row.told_wrongly_percent > row.rms_percent, "{row:?}");
        }
    }
}
