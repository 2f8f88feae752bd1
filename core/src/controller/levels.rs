//! From readings to believed levels: the balance carried on, the readings checked, the curves renewed, the guard asked.

use super::*;
use crate::guard::{TankView, doubt_m};

/// Seconds in which a riser comes to rest once its air has.
const RISER_STOPS_S: f32 = 5.0;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Carries levels and factors on with the flows of the moment.
    #[inline(never)]
    pub(super) fn predict(&mut self, seconds: f32) {
        let mut balance = Balance::<LIFTS, TANKS>::still();
        for (index, (run, lift)) in self.lifts.iter().zip(&self.installation.lifts).enumerate() {
            // Out of service, a person may have shut it at once: what its valve still passes tells nothing of its factor.
            let point = if run.mode == Mode::OutOfService {
                Point::default()
            } else {
                run.curve.at(run.air)
            };
            let input = LiftInput {
                from: usize::from(lift.from),
                to: usize::from(lift.to),
                curve_m3_s: point.flow.m3_s,
                per_source: point.per_source_m,
                per_receiver: point.per_receiver_m,
            };
            balance.lift(index, self.filter.factor(index), &input);
        }
        let mut tanks = [TankInput::default(); TANKS];
        for (index, (tank, input)) in self.installation.tanks.iter().zip(&mut tanks).enumerate() {
            let level = self.filter.level_m(index);
            let mut unseen = self.installation.settings.unseen_flow_m3_s;
            if self.trial.is_some() {
                unseen = larger(unseen, commissioning::DOUBT_IN_TRIAL_M3_S);
            }
            for outlet in &tank.outlets {
                let to = match outlet.to {
                    Drain::Tank(to) => Some(usize::from(to)),
                    Drain::Away => None,
                };
                let downstream = to.map(|to| self.filter.level_m(to) + self.floor_difference_m(to, index));
                let flow = outlet.at(level, downstream);
                if flow.doubtful {
                    // Outside the law's range: what it says may be a tenth wrong, differently from one head to the next.
                    unseen += 0.02 * flow.flow_m3_s.abs();
                }
                balance.outlet(&OutletInput {
                    from: index,
                    to,
                    flow_m3_s: flow.flow_m3_s,
                    per_level: flow.per_level,
                    per_downstream: flow.per_downstream,
                });
            }
            *input = TankInput {
                area_m2: tank.area_m2(level),
                most_m: tank.rim_m + 0.25,
                unseen_m3_s: unseen,
            };
        }
        let tanks = tanks.get(..self.tanks.len()).unwrap_or(&[]);
        self.filter.predict(seconds, &balance, tanks);
        for (index, run) in self.lifts.iter().enumerate() {
            self.filter.doubt(index, run.doubt);
        }
    }

    /// Height of one tank's floor above another's, m.
    pub(super) fn floor_difference_m(&self, of: usize, above: usize) -> f32 {
        let floor = |tank: usize| self.installation.tanks.get(tank).map_or(0.0, |tank| tank.floor_m);
        floor(of) - floor(above)
    }

    /// Checks and takes the level readings; true when at least one could be used.
    #[inline(never)]
    pub(super) fn take_levels(&mut self, readings: &Readings<TANKS>, step_ms: u32, seconds: f32) -> bool {
        let mut believed = heapless::Vec::<LevelInput, TANKS>::new();
        let mut any = false;
        let rates = self.fastest_rates();
        let tanks = self.tanks.iter_mut().zip(&self.installation.tanks).zip(rates);
        for (index, ((run, tank), rate)) in tanks.enumerate() {
            let reading = readings.levels.get(index).copied().unwrap_or(Reading::Missing);
            let sensor = &tank.sensor;
            let checked = run.watch.check(reading, sensor, tank.rim_m, rate, (step_ms, seconds));
            if let Checked::Level(level_m) = checked {
                any = true;
                let variance_m2 = sensor.variance_m2();
                if run.watch.believed_jump() || !self.filter.knows(index) {
                    self.filter
                        .restart_level(index, level_m, crate::math::sqrt(variance_m2));
                } else {
                    let _ = believed.push(LevelInput {
                        tank: index,
                        level_m,
                        variance_m2,
                    });
                }
            }
            run.note(checked, step_ms);
            run.seen.note(checked, run.watch.believed_jump(), seconds);
        }
        self.filter.update(&believed);
        any
    }

    /// The fastest each level can move by lifts and outlets, m/s: all lifts at their peak, and as much again through outlets.
    pub(super) fn fastest_rates(&self) -> [f32; TANKS] {
        let mut rates = [0.0f32; TANKS];
        for (run, lift) in self.lifts.iter().zip(&self.installation.lifts) {
            for tank in [lift.from, lift.to] {
                let index = usize::from(tank);
                if let (Some(rate), Some(tank)) = (rates.get_mut(index), self.installation.tanks.get(index)) {
                    *rate += 2.0 * run.peak.flow.m3_s / tank.area_m2(self.filter.level_m(index));
                }
            }
        }
        rates
    }

    /// The curves at the levels of the moment.
    #[inline(never)]
    pub(super) fn renew_curves(&mut self) {
        for (run, lift) in self.lifts.iter_mut().zip(&self.installation.lifts) {
            let source = self.filter.level_m(usize::from(lift.from));
            let receiver = self.filter.level_m(usize::from(lift.to));
            let receiver = self.installation.receiver_above_source_floor_m(lift, receiver);
            run.renew_curve(lift, &self.conditions, source, receiver);
        }
    }

    #[inline(never)]
    pub(super) fn guard(&mut self, step_ms: u32) -> [TankVerdict; TANKS] {
        let settings = self.installation.settings;
        let mut verdicts = [TankVerdict::default(); TANKS];
        // The slowest valve's way to where it holds, and some seconds for the riser.
        let lead_s = self
            .lifts
            .iter()
            .zip(&self.installation.lifts)
            .fold(0.0f32, |most, (run, lift)| {
                larger(most, run.valve.position().share() * lift.valve.stroke_s)
            })
            + RISER_STOPS_S;
        let tanks = self.tanks.iter_mut().zip(&self.installation.tanks).zip(&mut verdicts);
        for (index, ((run, tank), verdict)) in tanks.enumerate() {
            let believed = self.filter.level_m(index);
            // A filter that reckons with an outlet that is clogged by now sees the level lower than it stands: limits are held
            // against the readings themselves.
            let view = match run.seen.level_m() {
                Some(seen) => TankView {
                    top_m: seen,
                    bottom_m: seen,
                    rate_m_s: run.seen.rate_m_s(),
                    lead_s,
                    rim_m: tank.rim_m,
                },
                None => {
                    let doubt = doubt_m(self.filter.level_sigma_m(index));
                    TankView {
                        top_m: believed + doubt,
                        bottom_m: believed - doubt,
                        rate_m_s: 0.0,
                        lead_s,
                        rim_m: tank.rim_m,
                    }
                }
            };
            let (delay_s, deadband_m) = (settings.level_delay_s, settings.level_deadband_m);
            *verdict = run.guard.update(&view, &tank.limits, delay_s, deadband_m, step_ms);
        }
        verdicts
    }
}
