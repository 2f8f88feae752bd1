//! The bookkeeping of one lift.

use super::moment::Moment;
use super::outcome::LiftOutcome;
use super::settle::Settle;
use super::{L_MIN_PER_M3_S, windows::Windows};
use crate::scenario::HostInstallation;

/// Sums over time for one lift.
#[derive(Clone, Debug)]
pub(super) struct LiftScore {
    air_floor_m3_s: f64,
    counted_s: f64,
    target_m3: f64,
    delivered_m3: f64,
    estimated_m3: f64,
    delivered_error_squared: f64,
    estimate_error_squared: f64,
    settle: Settle,
    past_peak_s: f64,
    without_air_s: f64,
    travel: f64,
    opening: f64,
    delivery: f64,
    fouling: (Option<u8>, Option<u8>),
    air_m3: f64,
    time_s: f64,
}

impl LiftScore {
    pub fn new(told: &HostInstallation, lift: usize) -> Self {
        Self {
            air_floor_m3_s: told.lifts.get(lift).map_or(0.0, |lift| f64::from(lift.air_floor.m3_s)),
            counted_s: 0.0,
            target_m3: 0.0,
            delivered_m3: 0.0,
            estimated_m3: 0.0,
            delivered_error_squared: 0.0,
            estimate_error_squared: 0.0,
            settle: Settle::default(),
            past_peak_s: 0.0,
            without_air_s: 0.0,
            travel: 0.0,
            opening: f64::from(told.settings.preset_opening),
            delivery: 1.0,
            fouling: (None, None),
            air_m3: 0.0,
            time_s: 0.0,
        }
    }

    pub fn note(&mut self, moment: &Moment<'_>, index: usize, windows: &Windows) {
        let (Some(truth), Some(believed), Some(job)) = (
            moment.truth.lifts.get(index),
            moment.step.lifts.get(index),
            moment.jobs.lifts.get(index),
        ) else {
            return;
        };
        let dt = moment.period_s;
        self.time_s += dt;
        self.travel += (truth.opening - self.opening).abs();
        self.opening = truth.opening;
        self.delivery = f64::from(believed.delivery);
        self.fouling = (believed.percent_of_clean, believed.cleaning_days);
        self.air_m3 = truth.air_m3;
        if truth.past_peak {
            self.past_peak_s += dt;
        }
        if job.serves() && moment.jobs.air_to_give && truth.air_m3_s < self.air_floor_m3_s {
            self.without_air_s += dt;
        }
        let on_target = Windows::is_on_target(moment, index);
        self.settle.note(moment.time_s, job, on_target, truth.water_m3_s);
        if windows.counts(moment, index) {
            let estimated = f64::from(believed.flow.m3_s);
            let delivered_error = truth.water_m3_s - job.target_m3_s;
            let estimate_error = estimated - truth.water_m3_s;
            self.counted_s += dt;
            self.target_m3 += dt * job.target_m3_s;
            self.delivered_m3 += dt * truth.water_m3_s;
            self.estimated_m3 += dt * estimated;
            self.delivered_error_squared += dt * delivered_error * delivered_error;
            self.estimate_error_squared += dt * estimate_error * estimate_error;
        }
    }

    /// Time that counted, s.
    pub fn counted_s(&self) -> f64 {
        self.counted_s
    }

    /// All time, s.
    pub fn time_s(&self) -> f64 {
        self.time_s
    }

    pub fn outcome(&self, name: &str) -> LiftOutcome {
        let mean_l_min = |m3: f64| (self.counted_s > 0.0).then(|| L_MIN_PER_M3_S * m3 / self.counted_s);
        let target_l_min = mean_l_min(self.target_m3);
        let rms_percent = |squared: f64| {
            let target = self.target_m3 / self.counted_s;
            (target > 0.0).then(|| 100.0 * (squared / self.counted_s).sqrt() / target)
        };
        let settle = self.settle.longest(self.time_s);
        LiftOutcome {
            name: name.to_owned(),
            target_l_min,
            delivered_mean_l_min: mean_l_min(self.delivered_m3),
            delivered_rms_error_percent: rms_percent(self.delivered_error_squared),
            estimate_rms_error_percent: rms_percent(self.estimate_error_squared),
            settle_s: settle.map(|(seconds, _)| seconds),
            past_peak_s: self.past_peak_s,
            without_air_s: self.without_air_s,
            air_mean_l_min: if self.time_s > 0.0 {
                L_MIN_PER_M3_S * self.air_m3 / self.time_s
            } else {
                0.0
            },
            valve_travel_strokes: self.travel,
            delivery_factor: self.delivery,
            percent_of_clean: self.fouling.0,
            cleaning_days: self.fouling.1,
            estimated_mean_l_min: mean_l_min(self.estimated_m3),
            not_settled: settle.is_some_and(|(_, cut_short)| cut_short),
        }
    }
}
