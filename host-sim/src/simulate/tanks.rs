//! The bookkeeping of one tank.

use super::LITRES_PER_M3;
use super::moment::Moment;
use super::outcome::TankOutcome;
use crate::scenario::HostInstallation;

/// Sums and extremes over time for one tank.
#[derive(Clone, Debug)]
pub(super) struct TankScore {
    /// Lifts that touch the tank and the air each keeps for fish, m3/s; empty where no fish live.
    fish_air: Option<Vec<(usize, f64)>>,
    level_min_m: f64,
    level_max_m: f64,
    spilled_m3: f64,
    dry_s: f64,
    fish_without_air_s: f64,
    fish_lifts_shut_s: f64,
}

impl TankScore {
    pub fn new(told: &HostInstallation, tank: usize) -> Self {
        let fish = told.tanks.get(tank).is_some_and(|tank| tank.fish);
        let touches = || {
            let lifts = told.lifts.iter().enumerate();
            let own = lifts.filter(|(_, lift)| usize::from(lift.from) == tank || usize::from(lift.to) == tank);
            own.map(|(index, lift)| (index, f64::from(lift.air_floor.m3_s)))
                .collect()
        };
        Self {
            fish_air: fish.then(touches),
            level_min_m: f64::INFINITY,
            level_max_m: f64::NEG_INFINITY,
            spilled_m3: 0.0,
            dry_s: 0.0,
            fish_without_air_s: 0.0,
            fish_lifts_shut_s: 0.0,
        }
    }

    pub fn note(&mut self, moment: &Moment<'_>, index: usize) {
        let Some(truth) = moment.truth.tanks.get(index) else {
            return;
        };
        self.level_min_m = self.level_min_m.min(truth.level_m);
        self.level_max_m = self.level_max_m.max(truth.level_m);
        self.spilled_m3 = truth.spilled_m3;
        self.dry_s = truth.dry_s;
        if let Some(lifts) = &self.fish_air {
            let has_air = lifts.iter().any(|(lift, floor)| {
                let air = moment.truth.lifts.get(*lift).map_or(0.0, |lift| lift.air_m3_s);
                air > 0.0 && air >= *floor
            });
            if !has_air {
                self.fish_without_air_s += moment.period_s;
                // A lift shut by hand that nobody told of is still meant to bring them air.
                let meant = |lift: usize| moment.jobs.lifts.get(lift).is_some_and(|job| job.in_service);
                if !lifts.iter().any(|(lift, _)| meant(*lift)) {
                    self.fish_lifts_shut_s += moment.period_s;
                }
            }
        }
    }

    pub fn outcome(&self, name: &str) -> TankOutcome {
        TankOutcome {
            name: name.to_owned(),
            level_min_m: self.level_min_m,
            level_max_m: self.level_max_m,
            spilled_l: LITRES_PER_M3 * self.spilled_m3,
            dry_s: self.dry_s,
            fish_without_air_s: self.fish_without_air_s,
            fish_lifts_shut_s: self.fish_lifts_shut_s,
            fish: self.fish_air.is_some(),
        }
    }
}
