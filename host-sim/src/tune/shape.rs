//! How the trim of each lift is shaped: how fast it learns, how long it is blind, how robust that makes its loop.

use super::fitted::Fitted;
use super::loop_shape::{Learning, Loop, STEEPER, learning};
use crate::calibrate::NamedLift;
use crate::log::HostInstallation;
use crate::precision::narrow;
use risertrim::installation::Settings;
use risertrim::lift::Curve;
use risertrim::units::FreeAir;

/// How the trim of one lift is shaped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shape {
    /// What the controller's filter does with it.
    pub learning: Learning,
    /// Time of its valve from shut to open, s.
    pub stroke_s: f64,
    /// Peak of the sensitivity before and after.
    pub sensitivity: (f64, f64),
    /// Change of the flow's logarithm with the valve's opening.
    pub per_opening: f64,
}

/// The shape of each lift with what a place is told; `None` where it never ran undisturbed.
pub fn shapes(fitted: &Fitted, place: &HostInstallation) -> Vec<Option<Shape>> {
    let conditions = place.site.conditions();
    let names: Vec<String> = place.lifts.iter().map(|_| String::new()).collect();
    let named = NamedLift::all(place, &names);
    let period_s = f64::from(place.settings.period_ms) * 1e-3;
    let of = |(index, lift): (usize, &NamedLift)| -> Option<Shape> {
        let fit = &fitted.lifts[index];
        let ran = fit.ran?;
        let to = usize::from(lift.lift.to);
        let tank = &place.tanks[to];
        let area = f64::from(tank.area_m2(narrow(ran.levels_m.1)));
        let slope: f64 = tank
            .outlets
            .iter()
            .map(|outlet| f64::from(outlet.at(narrow(ran.levels_m.1), None).per_level))
            .sum();
        let noise_m = fitted.tanks[to].noise.map_or(f64::from(tank.sensor.noise_m), |noise| {
            noise.sigma_m.hypot(noise.step_m / 12f64.sqrt())
        });
        let settings = &place.settings;
        let learning = learning(
            period_s,
            fit.flow_m3_s / area,
            slope / area,
            (
                noise_m,
                f64::from(settings.unseen_flow_m3_s) / area,
                f64::from(settings.delivery_walk),
            ),
        );
        let source = ran.levels_m.0;
        let curve = Curve::new(
            &lift.lift.riser,
            &lift.lift.calibration,
            &conditions,
            narrow(source),
            Some(narrow(ran.levels_m.1 + lift.floor_rise_m)),
        );
        let elasticity = |air: f64| {
            let point = curve.at(FreeAir::from_m3_s(narrow(air)));
            f64::from(point.per_air) * air / f64::from(point.flow.m3_s).max(1.0e-9)
        };
        let opening = fit_opening(lift, ran.air_m3_s, fitted.manifold_pa, source);
        let through = |opening: f64| {
            lift.air_through_valve_m3_s(opening, fitted.manifold_pa, source)
                .max(1.0e-9)
                .ln()
        };
        let per_opening = elasticity(ran.air_m3_s) * (through(opening + 0.01) - through(opening - 0.01)) / 0.02;
        let mut shape = Shape {
            learning,
            stroke_s: f64::from(lift.lift.valve.stroke_s),
            sensitivity: (0.0, 0.0),
            per_opening: per_opening.abs().max(0.05),
        };
        let now = sensitivity(&shape, settings);
        shape.sensitivity = (now, now);
        Some(shape)
    };
    named.iter().enumerate().map(of).collect()
}

/// The opening at which a valve passes an air, by halving.
fn fit_opening(lift: &NamedLift, air_m3_s: f64, manifold_pa: f64, source_m: f64) -> f64 {
    let (mut low, mut high) = (0.02, 0.98);
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if lift.air_through_valve_m3_s(middle, manifold_pa, source_m) < air_m3_s {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

impl Shape {
    /// Dead time with these settings, s: half a period of sampling, half an interval between moves, and a move of two deadbands.
    #[must_use]
    pub fn dead_s(&self, settings: &Settings) -> f64 {
        f64::from(settings.period_ms) * 0.5e-3
            + 0.5 * f64::from(settings.move_interval_s)
            + self.stroke_s * 2.0 * f64::from(settings.valve_deadband)
    }
}

/// Peak of the sensitivity with these settings.
pub fn sensitivity(shape: &Shape, settings: &Settings) -> f64 {
    let of = |gain: f64| Loop {
        gain,
        lags_s: [shape.learning.time_s, f64::from(settings.trim_s)],
        dead_s: shape.dead_s(settings),
    };
    of(STEEPER - 1.0).sensitivity()
}
