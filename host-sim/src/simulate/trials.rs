//! What the trials of a run found.

use super::L_MIN_PER_M3_S;
use super::moment::Moment;
use super::outcome::{CommissionedCurve, CommissionedOutcome, CommissionedOutlet};
use crate::scenario::Scenario;
use risertrim::commission::{Outcome as Found, OutletFound};
use risertrim::outlet::Drain;

/// Keeps the outcome of every trial.
#[derive(Clone, Debug, Default)]
pub(super) struct TrialLog {
    entries: Vec<Ended>,
}

/// A trial that ended.
#[derive(Clone, Debug)]
struct Ended {
    at_s: f64,
    found: Found,
    /// Levels believed then, m.
    levels_m: Vec<f32>,
}

impl TrialLog {
    pub fn note(&mut self, moment: &Moment<'_>, found: &Found) {
        self.entries.push(Ended {
            at_s: moment.time_s,
            found: *found,
            levels_m: moment.step.tanks.iter().map(|tank| tank.level_m).collect(),
        });
    }

    pub fn outcome(&self, scenario: &Scenario) -> Vec<CommissionedOutcome> {
        self.entries.iter().map(|ended| told(ended, scenario)).collect()
    }
}

/// What an outlet found carries with its tank at the upper warning level, m3/s.
fn carries_m3_s(ended: &Ended, law: &OutletFound, scenario: &Scenario) -> Option<f32> {
    let lift = scenario.told.lifts.get(usize::from(ended.found.lift))?;
    let tank = scenario.told.tanks.get(usize::from(lift.to))?;
    let outlet = tank.outlets.get(usize::from(ended.found.outlet))?;
    let below_m = match outlet.to {
        Drain::Tank(below) => {
            let level_m = ended.levels_m.get(usize::from(below))?;
            Some(level_m + scenario.told.tanks.get(usize::from(below))?.floor_m - tank.floor_m)
        }
        Drain::Away => None,
    };
    Some(law.coefficient * outlet.flow_m3_s(tank.limits.high_warn_m, below_m))
}

fn told(ended: &Ended, scenario: &Scenario) -> CommissionedOutcome {
    let (at_s, found) = (ended.at_s, &ended.found);
    let index = usize::from(found.lift);
    let lift = scenario.told.lifts.get(index);
    let tank = lift.and_then(|lift| scenario.tank_names.get(usize::from(lift.to)));
    let target_m3_s = lift.map_or(0.0, |lift| lift.target.m3_s);
    let carries = |law: &OutletFound| carries_m3_s(ended, law, scenario).unwrap_or(f32::INFINITY);
    let outlet = found.outlet_law.map(|law| CommissionedOutlet {
        number: found.outlet.saturating_add(1),
        flow_times_told: f64::from(law.coefficient),
        zero_mm: 1000.0 * f64::from(law.zero_m),
        leak_l_min: L_MIN_PER_M3_S * f64::from(law.leak_m3_s),
        sigma_percent: 100.0 * f64::from(law.sigma),
        carries_l_min: L_MIN_PER_M3_S * f64::from(carries(&law)),
        too_small: carries(&law) < target_m3_s,
    });
    let curve = found.curve.map(|curve| CommissionedCurve {
        losses: f64::from(curve.calibration.losses),
        slip: f64::from(curve.calibration.slip),
        air: f64::from(curve.calibration.air),
        sigma_percent: 100.0 * f64::from(curve.sigma),
        worst_percent: 100.0 * f64::from(curve.worst),
    });
    CommissionedOutcome {
        at_s,
        lift: scenario.lift_names.get(index).cloned().unwrap_or_default(),
        tank: tank.cloned().unwrap_or_default(),
        outlet: outlet.ok(),
        outlet_refused: outlet.err().map(|why| why.text().to_owned()),
        curve: curve.ok(),
        curve_refused: curve.err().map(|why| why.text().to_owned()),
    }
}
