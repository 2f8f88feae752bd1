//! All figures of a run, fed one moment at a time.

use super::alarms::AlarmLog;
use super::lifts::LiftScore;
use super::moment::{Moment, RefusedCommand};
use super::outcome::{AirOutcome, Outcome, RefusedOutcome};
use super::shared::SharedScore;
use super::tanks::TankScore;
use super::trials::TrialLog;
use super::windows::Windows;
use crate::scenario::Scenario;
use risertrim::Command;

/// Joules in a kilowatt hour.
const J_PER_KWH: f64 = 3.6e6;

/// Keeps the figures of a run. Works for whatever drives the valves.
#[derive(Clone, Debug)]
pub struct Score {
    windows: Windows,
    lifts: Vec<LiftScore>,
    tanks: Vec<TankScore>,
    shared: Vec<SharedScore>,
    alarms: AlarmLog,
    trials: TrialLog,
    refused: Vec<RefusedCommand>,
    time_s: f64,
    period_s: f64,
    air_m3: f64,
    energy_j: f64,
}

impl Score {
    /// Nothing counted yet.
    #[must_use]
    pub fn new(scenario: &Scenario) -> Self {
        let told = &scenario.told;
        Self {
            windows: Windows::new(scenario),
            lifts: (0..told.lifts.len()).map(|lift| LiftScore::new(told, lift)).collect(),
            tanks: (0..told.tanks.len()).map(|tank| TankScore::new(told, tank)).collect(),
            shared: SharedScore::all(told),
            alarms: AlarmLog::default(),
            trials: TrialLog::default(),
            refused: Vec::new(),
            time_s: 0.0,
            period_s: f64::from(told.settings.period_ms) * 1e-3,
            air_m3: 0.0,
            energy_j: 0.0,
        }
    }

    /// Counts one control period.
    pub fn note(&mut self, moment: &Moment<'_>) {
        self.windows.note(moment);
        for (index, lift) in self.lifts.iter_mut().enumerate() {
            lift.note(moment, index, &self.windows);
        }
        for (index, tank) in self.tanks.iter_mut().enumerate() {
            tank.note(moment, index);
        }
        for shared in &mut self.shared {
            shared.note(moment);
        }
        self.alarms.note(moment.time_s, &moment.step.alarms);
        if let Some(found) = moment.commissioned {
            self.trials.note(moment, found);
        }
        if let Some(new) = moment.refused.get(self.refused.len()..) {
            self.refused.extend_from_slice(new);
        }
        self.time_s = moment.time_s;
        self.air_m3 = moment.truth.air_m3;
        self.energy_j = moment.truth.energy_j;
    }

    /// The figures so far. `wall_s` is the time the run took on this machine.
    #[must_use]
    pub fn outcome(&self, scenario: &Scenario, seed: u64, wall_s: f64) -> Outcome {
        let sum = |of: fn(&LiftScore) -> f64| self.lifts.iter().map(of).sum::<f64>();
        let all_s = sum(LiftScore::time_s);
        let name = |names: &[String], index: usize| names.get(index).cloned().unwrap_or_default();
        let lifts = self.lifts.iter().enumerate();
        let tanks = self.tanks.iter().enumerate();
        Outcome {
            scenario: scenario.name.clone(),
            seed,
            simulated_s: self.time_s,
            wall_s,
            control_period_s: self.period_s,
            counted_share: if all_s > 0.0 {
                sum(LiftScore::counted_s) / all_s
            } else {
                0.0
            },
            lifts: lifts
                .map(|(index, lift)| lift.outcome(&name(&scenario.lift_names, index)))
                .collect(),
            tanks: tanks
                .map(|(index, tank)| tank.outcome(&name(&scenario.tank_names, index)))
                .collect(),
            shared: self.shared.iter().map(|shared| shared.outcome(scenario)).collect(),
            air: AirOutcome {
                free_air_m3: self.air_m3,
                blower_energy_kwh: self.energy_j / J_PER_KWH,
            },
            alarms: self.alarms.outcome(scenario),
            commissioned: self.trials.outcome(scenario),
            refused: self.refused.iter().map(|one| refused(one, scenario)).collect(),
        }
    }
}

/// A refused command in words.
fn refused(of: &RefusedCommand, scenario: &Scenario) -> RefusedOutcome {
    let lift = |index: u8| scenario.lift_names.get(usize::from(index)).map_or("?", String::as_str);
    let what = match of.command {
        Command::Target { lift: index, flow } => {
            format!("target of {:.0} L/min for lift {}", flow.l_min(), lift(index))
        }
        Command::Commission { lift: index } => format!("commissioning of lift {}", lift(index)),
        Command::Manual { lift: index, .. } => format!("a fixed opening for lift {}", lift(index)),
        _ => "command".to_owned(),
    };
    RefusedOutcome {
        at_s: of.at_s,
        line: of.line,
        what,
        why: of.why.to_string(),
    }
}
