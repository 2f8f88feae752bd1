//! What the trials of a run found.

use super::L_MIN_PER_M3_S;
use super::outcome::{CommissionedCurve, CommissionedOutcome, CommissionedOutlet};
use crate::scenario::Scenario;
use risertrim::commission::Outcome as Found;

/// Keeps the outcome of every trial.
#[derive(Clone, Debug, Default)]
pub(super) struct TrialLog {
    entries: Vec<(f64, Found)>,
}

impl TrialLog {
    /// A trial ended at `now_s`.
    pub fn note(&mut self, now_s: f64, found: &Found) {
        self.entries.push((now_s, *found));
    }

    pub fn outcome(&self, scenario: &Scenario) -> Vec<CommissionedOutcome> {
        let entries = self.entries.iter();
        entries.map(|(at_s, found)| told(*at_s, found, scenario)).collect()
    }
}

fn told(at_s: f64, found: &Found, scenario: &Scenario) -> CommissionedOutcome {
    let index = usize::from(found.lift);
    let lift = scenario.told.lifts.get(index);
    let tank = lift.and_then(|lift| scenario.tank_names.get(usize::from(lift.to)));
    let outlet = found.outlet_law.map(|law| CommissionedOutlet {
        number: found.outlet.saturating_add(1),
        flow_times_told: f64::from(law.coefficient),
        zero_mm: 1000.0 * f64::from(law.zero_m),
        leak_l_min: L_MIN_PER_M3_S * f64::from(law.leak_m3_s),
        sigma_percent: 100.0 * f64::from(law.sigma),
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
