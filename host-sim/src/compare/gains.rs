//! The told place around its targets: where each valve should stand and how strongly the flow answers to it.

use crate::scenario::{HostInstallation, LIFTS};
use risertrim::FreeAir;
use risertrim::air::{Branch, Manifold, Path};
use risertrim::installation::Conditions;
use risertrim::lift::Curve;
use risertrim::units::{Opening, WaterFlow};

/// Change of opening over which the flow's answer is taken.
const STEP: f32 = 0.02;
/// Weakest answer believed, share of the target a full stroke: a valve that seems to do nothing still gets a finite gain.
const WEAKEST: f64 = 0.1;

/// One lift around its target.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct AtTarget {
    /// Opening for the target.
    pub opening: f64,
    /// Opening for the air floor.
    pub floor_opening: f64,
    /// Change of flow with opening, all other valves left alone, m3/s a full stroke.
    pub gain_m3_s: f64,
}

/// Each lift of the told place, all at their targets. The source is taken in the middle of its band.
pub(super) fn at_targets(told: &HostInstallation) -> Vec<AtTarget> {
    let conditions = told.site.conditions();
    let curves: Vec<Curve> = told.lifts.iter().map(|lift| curve(told, lift, &conditions)).collect();
    let mut branches: heapless::Vec<Branch<'_>, LIFTS> = heapless::Vec::new();
    let mut air = [FreeAir::ZERO; LIFTS];
    let mut floor = [FreeAir::ZERO; LIFTS];
    for (index, (lift, curve)) in told.lifts.iter().zip(&curves).enumerate() {
        let path = Path::new(
            &lift.line,
            &lift.diffuser,
            curve.injector_pa(),
            conditions.atmosphere_pa,
        );
        let _ = branches.push(Branch::new(&lift.valve, path));
        let most = told.settings.peak_share * curve.peak().flow.m3_s;
        let flow = WaterFlow::from_m3_s(lift.target.m3_s.min(most));
        air[index] = curve.air_for(flow).unwrap_or(lift.air_floor);
        floor[index] = lift.air_floor;
    }
    let manifold = Manifold::new(&told.air, conditions.atmosphere_pa, None);
    let limits = (told.settings.least_opening, told.settings.most_opening);
    let openings = manifold.feed_forward(&branches, &air, limits);
    let shut = manifold.feed_forward(&branches, &floor, limits);
    let near_pa = 0.5 * told.air.shut_off_pa();
    let flow = |index: usize, openings: &[Opening; LIFTS]| {
        let settled = manifold.settle(&branches, openings, near_pa);
        f64::from(curves[index].flow(settled.air[index]).m3_s)
    };
    let lifts = told.lifts.iter().enumerate();
    lifts
        .map(|(index, lift)| {
            let (mut more, mut less) = (openings, openings);
            more[index] = Opening::new(openings[index].share() + STEP);
            less[index] = Opening::new(openings[index].share() - STEP);
            let apart = f64::from(more[index].share() - less[index].share());
            let answer = (flow(index, &more) - flow(index, &less)) / apart;
            AtTarget {
                opening: f64::from(openings[index].share()),
                floor_opening: f64::from(shut[index].share()),
                gain_m3_s: answer.max(WEAKEST * f64::from(lift.target.m3_s).max(1e-6)),
            }
        })
        .collect()
}

/// The told curve of a lift with its source in the middle of its band and the usual outlet.
fn curve(told: &HostInstallation, lift: &risertrim::installation::Lift, conditions: &Conditions) -> Curve {
    let level = told.tanks.get(usize::from(lift.from)).map_or(0.0, |source| {
        0.5 * (source.limits.low_warn_m + source.limits.high_warn_m)
    });
    Curve::new(&lift.riser, &lift.calibration, conditions, level, None)
}

/// Gain and integral time of a PI controller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Tuning {
    /// Controller gain, strokes per m3/s.
    pub gain: f64,
    /// Integral time, s.
    pub integral_s: f64,
}

/// SIMC rules for a first-order process with delay: S. Skogestad, "Simple analytic rules for model reduction and PID
/// controller tuning", Journal of Process Control 13 (2003) 291-309, equations (23) and (24):
/// `Kc = tau / (k (tau_c + theta))`, `Ti = min(tau, 4 (tau_c + theta))`.
pub(super) fn simc(k: f64, tau_s: f64, theta_s: f64, tau_c_s: f64) -> Tuning {
    Tuning {
        gain: tau_s / (k * (tau_c_s + theta_s)),
        integral_s: tau_s.min(4.0 * (tau_c_s + theta_s)),
    }
}

/// The half rule of the same paper, equation (10): two lags in a row are one of the first and half the second, and a delay
/// longer by the other half.
pub(super) fn half_rule(first_s: f64, second_s: f64, delay_s: f64) -> (f64, f64) {
    (first_s + 0.5 * second_s, delay_s + 0.5 * second_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;

    #[test]
    fn simc_gives_the_published_settings_of_its_first_example() {
        // Skogestad 2003, table 4, case 1: g = e^-s / (s + 1) with tau_c = theta = 1: Kc = 0.5, Ti = 1. From memory.
        let tuning = simc(1.0, 1.0, 1.0, 1.0);
        assert!((tuning.gain - 0.5).abs() < 1e-12 && (tuning.integral_s - 1.0).abs() < 1e-12);
        // A slow process: Ti = 8 theta at tau_c = theta (his rule against slow return from a load).
        assert!((simc(1.0, 100.0, 1.0, 1.0).integral_s - 8.0).abs() < 1e-12);
    }

    #[test]
    fn every_shipped_place_has_openings_within_the_stroke_and_answers_to_its_valves() {
        for (name, text) in Scenario::shipped() {
            let Ok(scenario) = Scenario::parse(name, text) else {
                panic!("{name} does not read")
            };
            for at in at_targets(&scenario.told) {
                assert!(at.opening > 0.05 && at.opening < 1.0, "{name}: {at:?}");
                assert!(at.floor_opening < at.opening && at.gain_m3_s > 0.0, "{name}: {at:?}");
            }
        }
    }
}
