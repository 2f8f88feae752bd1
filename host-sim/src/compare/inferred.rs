//! The flow of a lift from a level alone, as a plain controller gets it: what the outlets pass plus what the tank gains.

use super::gains::at_targets;
use crate::scenario::HostInstallation;
use crate::simulate::HostReadings;
use risertrim::Reading;
use risertrim::outlet::Drain;

/// Infers what flows into each tank, and from it what each lift delivers.
///
/// The level goes through a first-order filter whose own slope is used, and the flow through another: half the time constant
/// each, so that the noise of the slope does not move the valves. Lifts into one tank share its inflow in proportion to their
/// targets: a level shows no more.
#[derive(Clone, Debug)]
pub(super) struct Inferred {
    filter_s: f64,
    level_m: Vec<Option<f64>>,
    slope_m_s: Vec<f64>,
    flow_m3_s: Vec<f64>,
}

impl Inferred {
    pub fn new(told: &HostInstallation, filter_s: f64) -> Self {
        Self {
            filter_s,
            level_m: vec![None; told.tanks.len()],
            slope_m_s: vec![0.0; told.tanks.len()],
            flow_m3_s: told.lifts.iter().map(|lift| f64::from(lift.target.m3_s)).collect(),
        }
    }

    /// What each lift is thought to deliver, m3/s.
    pub fn flow_m3_s(&self, lift: usize) -> f64 {
        self.flow_m3_s.get(lift).copied().unwrap_or(0.0)
    }

    /// The filtered level of a tank, m.
    pub fn level_m(&self, tank: usize) -> f64 {
        self.level_m.get(tank).copied().flatten().unwrap_or(0.0)
    }

    /// Takes one set of readings. `targets_m3_s`: what each lift is to deliver, 0 for one that is shut.
    pub fn advance(&mut self, told: &HostInstallation, readings: &HostReadings, targets_m3_s: &[f64], period_s: f64) {
        let share = 1.0 - (-period_s / (0.5 * self.filter_s)).exp();
        for (index, tank) in told.tanks.iter().enumerate() {
            let Some(Reading::Value(raw)) = readings.levels.get(index) else {
                self.slope_m_s[index] = 0.0;
                continue;
            };
            let level = f64::from(tank.sensor.scale.level_m(*raw) + tank.sensor.zero_m);
            if !level.is_finite() {
                continue;
            }
            let before = self.level_m[index].unwrap_or(level);
            let moved = share * (level - before);
            self.level_m[index] = Some(before + moved);
            self.slope_m_s[index] = moved / period_s;
        }
        let into: Vec<f64> = (0..told.tanks.len()).map(|tank| self.inflow_m3_s(told, tank)).collect();
        for index in 0..self.flow_m3_s.len() {
            let Some(lift) = told.lifts.get(index) else { continue };
            let target = |lift: usize| targets_m3_s.get(lift).copied().unwrap_or(0.0);
            let shared = told.lifts.iter().enumerate().filter(|(_, other)| other.to == lift.to);
            let all: f64 = shared.map(|(other, _)| target(other)).sum();
            let part = if all > 0.0 { target(index) / all } else { 0.0 };
            let now = part * into.get(usize::from(lift.to)).copied().unwrap_or(0.0).max(0.0);
            self.flow_m3_s[index] += share * (now - self.flow_m3_s[index]);
        }
    }

    /// What lifts bring into a tank, m3/s: its balance solved for it.
    #[allow(clippy::cast_possible_truncation)] // the told laws are f32
    fn inflow_m3_s(&self, told: &HostInstallation, index: usize) -> f64 {
        let Some(tank) = told.tanks.get(index) else { return 0.0 };
        let gained = f64::from(tank.area_m2(self.level_m(index) as f32)) * self.slope_m_s[index];
        let passed = |from: usize| {
            let tank = told.tanks.get(from);
            let outlets = tank.map_or(&[][..], |tank| &tank.outlets);
            outlets.iter().map(move |outlet| {
                let below = match outlet.to {
                    Drain::Tank(to) => Some((usize::from(to), told.floor_m(to))),
                    Drain::Away => None,
                };
                let floor_m = tank.map_or(0.0, |tank| tank.floor_m);
                let downstream = below.map(|(to, floor)| floor - floor_m + self.level_m(to) as f32);
                (
                    below.map(|(to, _)| to),
                    f64::from(outlet.flow_m3_s(self.level_m(from) as f32, downstream)),
                )
            })
        };
        let out: f64 = passed(index).map(|(_, flow)| flow).sum();
        let back: f64 = (0..told.tanks.len())
            .filter(|from| *from != index)
            .flat_map(passed)
            .filter(|(to, _)| *to == Some(index))
            .map(|(_, flow)| flow)
            .sum();
        let drawn: f64 = told
            .lifts
            .iter()
            .enumerate()
            .filter(|(_, lift)| usize::from(lift.from) == index)
            .map(|(lift, _)| self.flow_m3_s(lift))
            .sum();
        gained + out - back + drawn
    }
}

/// Openings for the targets as told, to start from.
pub(super) fn told_openings(told: &HostInstallation) -> Vec<f64> {
    at_targets(told).iter().map(|at| at.opening).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;
    use crate::simulate::Simulation;

    /// On a place told as it is, without noise, the inferred flow is the true one once the filter has settled.
    #[test]
    fn on_an_exactly_told_place_the_inferred_flow_is_the_true_one() {
        let (name, text) = Scenario::shipped()[0];
        let Ok(mut scenario) = Scenario::parse(name, text) else {
            panic!("the default scenario does not read")
        };
        scenario.truth = crate::scenario::Truth {
            level_noise_mm: Some(0.0),
            level_resolution_mm: Some(0.0),
            ..crate::scenario::Truth::default()
        };
        scenario.timeline.clear();
        let targets: Vec<f64> = scenario
            .told
            .lifts
            .iter()
            .map(|lift| f64::from(lift.target.m3_s))
            .collect();
        let Ok(mut simulation) = Simulation::new(&scenario, 1) else {
            panic!("the default scenario does not start")
        };
        let mut inferred = Inferred::new(&scenario.told, 40.0);
        for _ in 0..3600 {
            let Ok(moment) = simulation.step() else {
                panic!("a step failed")
            };
            inferred.advance(&scenario.told, moment.readings, &targets, 1.0);
        }
        for (index, lift) in simulation.plant().state().lifts.iter().enumerate() {
            let off = inferred.flow_m3_s(index) / lift.water_m3_s - 1.0;
            // Plant and core have their own outlet laws: within 2 % of each other.
            assert!(off.abs() < 0.02, "lift {index}: {:+.2} %", 100.0 * off);
        }
    }
}
