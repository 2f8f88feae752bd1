//! The bookkeeping of a tank that several lifts feed: their sum.

use super::L_MIN_PER_M3_S;
use super::moment::Moment;
use super::outcome::SharedOutcome;
use super::windows::Windows;
use crate::scenario::{HostInstallation, Scenario};

/// Sums over time for the lifts of one tank.
#[derive(Clone, Debug)]
pub(super) struct SharedScore {
    tank: usize,
    lifts: Vec<usize>,
    counted_s: f64,
    target_m3: f64,
    delivered_m3: f64,
}

impl SharedScore {
    /// One for each tank that two or more lifts feed.
    pub fn all(told: &HostInstallation) -> Vec<Self> {
        let feeding = |tank: usize| {
            let lifts = told.lifts.iter().enumerate();
            lifts
                .filter(|(_, lift)| usize::from(lift.to) == tank)
                .map(|(index, _)| index)
                .collect::<Vec<_>>()
        };
        let tanks = (0..told.tanks.len()).map(|tank| (tank, feeding(tank)));
        let several = tanks.filter(|(_, lifts)| lifts.len() > 1);
        several
            .map(|(tank, lifts)| Self {
                tank,
                lifts,
                counted_s: 0.0,
                target_m3: 0.0,
                delivered_m3: 0.0,
            })
            .collect()
    }

    /// Counts while each lift that serves is settled on its target (stops to measure included) and at least one serves.
    pub fn note(&mut self, moment: &Moment<'_>) {
        let (mut target, mut delivered, mut serving) = (0.0, 0.0, false);
        for lift in &self.lifts {
            let (Some(job), Some(truth)) = (moment.jobs.lifts.get(*lift), moment.truth.lifts.get(*lift)) else {
                return;
            };
            delivered += truth.water_m3_s;
            if job.serves() {
                if !Windows::is_settled(moment, *lift) {
                    return;
                }
                serving = true;
                target += job.target_m3_s;
            }
        }
        if serving {
            self.counted_s += moment.period_s;
            self.target_m3 += moment.period_s * target;
            self.delivered_m3 += moment.period_s * delivered;
        }
    }

    pub fn outcome(&self, scenario: &Scenario) -> SharedOutcome {
        let name = |names: &[String], index: usize| names.get(index).cloned().unwrap_or_default();
        let mean_l_min = |m3: f64| (self.counted_s > 0.0).then(|| L_MIN_PER_M3_S * m3 / self.counted_s);
        SharedOutcome {
            tank: name(&scenario.tank_names, self.tank),
            lifts: self
                .lifts
                .iter()
                .map(|lift| name(&scenario.lift_names, *lift))
                .collect(),
            sum_target_l_min: mean_l_min(self.target_m3),
            sum_delivered_mean_l_min: mean_l_min(self.delivered_m3),
        }
    }
}
