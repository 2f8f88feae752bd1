//! From readings to believed levels: the balance carried on, the readings checked, the curves renewed, the guard asked.

use super::*;
use crate::guard::{TankView, doubt_m};
use crate::math::seldom;
use crate::outlet::Outflow;

/// Seconds in which a jump counts as new.
const JUST_NOW_S: u32 = 2;
/// Seconds after which a level that jumped tells whether it was water.
const JUMP_TOLD_AFTER_S: u32 = 60;
/// Deviation of the factors of lifts whose tank's sensor was put right.
const UNSURE_WHEN_PUT_RIGHT: f32 = 0.1;
/// How near a sensor must come to what another showed, m.
const SWAPPED_WITHIN_M: f32 = 0.02;
/// The same as a share of what lies between the two.
const SWAPPED_SHARE: f32 = 0.4;
/// Seconds for which two sensors must have changed places.
const SWAPPED_AFTER_S: u32 = 10;
/// Deviation of a level whose sensor was moved, m.
const UNSURE_AFTER_JUMP_M: f32 = 0.001;
/// Seconds in which a riser comes to rest once its air has.
pub(super) const RISER_STOPS_S: f32 = 5.0;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Carries levels and factors on with the flows of the moment.
    #[inline(never)]
    pub(super) fn predict(&mut self, doubts: &[f32; LIFTS], seconds: f32) {
        let mut balance = Balance::<LIFTS, TANKS>::still();
        for (index, (run, lift)) in self.lifts.iter().zip(&self.installation.lifts).enumerate() {
            // Out of service, a person may have shut it at once: what its valve still passes tells nothing of its factor.
            let point = if run.mode == Mode::OutOfService {
                Point::default()
            } else {
                run.curve.at_near(run.air, run.curve_m3_s)
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
            if self.trial.running().is_some() {
                unseen = seldom::larger(unseen, commissioning::DOUBT_IN_TRIAL_M3_S);
            }
            for outlet in self.installation.outlets_of(tank) {
                let to = match outlet.to {
                    Drain::Tank(to) => Some(usize::from(to)),
                    Drain::Away => None,
                };
                let downstream = to.map(|to| self.filter.level_m(to) + self.floor_difference_m(to, index));
                let flow = outlet.flows(level, downstream);
                if flow == Outflow::default() {
                    continue;
                }
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
                area_m2: self.installation.area_m2(tank, level),
                most_m: tank.rim_m + crate::level::ABOVE_RIM_M,
                unseen_m3_s: unseen,
            };
        }
        let tanks = tanks.get(..self.tanks.len()).unwrap_or(&[]);
        self.filter.predict(seconds, &balance, tanks);
        for (index, doubt) in doubts.iter().enumerate().take(self.lifts.len()) {
            self.filter.doubt(index, *doubt);
        }
    }

    /// Height of one tank's floor above another's, m.
    pub(super) fn floor_difference_m(&self, of: usize, above: usize) -> f32 {
        let floor = |tank: usize| self.installation.tanks.get(tank).map_or(0.0, |tank| tank.floor_m);
        floor(of) - floor(above)
    }

    /// Checks and takes the level readings, and puts into `worth` what each was worth: given back as a value it would be copied.
    #[inline(never)]
    pub(super) fn take_levels(
        &mut self,
        readings: &Readings<TANKS>,
        worth: &mut [Checked; TANKS],
        (step_ms, seconds): (u32, f32),
    ) {
        let mut believed = heapless::Vec::<LevelInput, TANKS>::new();
        let mut swapped_tanks = self.place.swapped_tanks;
        let mut odd = swapped_tanks;
        let rates = self.fastest_rates();
        let tanks = self
            .tanks
            .iter_mut()
            .zip(&self.installation.tanks)
            .zip(&rates)
            .zip(worth);
        for (index, (((run, tank), rate), worth)) in tanks.enumerate() {
            let swapped = swapped_tanks & 1 == 1;
            swapped_tanks >>= 1;
            let reading = readings.levels.get(index).copied().unwrap_or(Reading::Missing);
            let sensor = &tank.sensor;
            let before = self.filter.level_m(index);
            let mut checked = run.watch.check(reading, sensor, tank.rim_m, *rate, (step_ms, seconds));
            if swapped && matches!(checked, Checked::Level(_)) {
                checked = Checked::Implausible;
            }
            if let Checked::Level(level) = checked {
                let variance_m2 = run.watch.variance_m2(sensor);
                if run.watch.believed_jump() && self.filter.knows(index) {
                    run.set_jump_m(Some((before, level - before)));
                    run.since_jump.clear();
                }
                // As long as it is not known whether the water jumped or the sensor, the level teaches nothing.
                if run.jump_m().is_some() || !self.filter.knows(index) {
                    self.filter.restart_level(index, level, crate::math::sqrt(variance_m2));
                } else {
                    let _ = believed.push(LevelInput {
                        tank: index,
                        level_m: level,
                        variance_m2,
                    });
                }
            } else if checked != Checked::Missing {
                odd |= bit(index);
            }
            run.note(checked, step_ms);
            *worth = checked;
            let unseen = swapped || run.watch.is_stuck(sensor, step_ms);
            let seen = if unseen { Checked::Missing } else { checked };
            run.seen.note(seen, run.watch.believed_jump(), seconds);
        }
        if odd != 0 || !self.place.swapped.rests() {
            let crossed = self.find_swapped(readings, odd, step_ms);
            believed.retain(|reading| !is_set(crossed, reading.tank));
        }
        self.filter.update(&believed);
        self.settle_jumps();
    }

    /// Was it the water that jumped, or the sensor? Water that was poured in or taken runs off again, or comes again; a sensor
    /// that was moved goes on showing the other level. Its readings are taken as before then, unless believing them brings the
    /// lifts nearer to what they usually deliver: then it was put right.
    fn settle_jumps(&mut self) {
        for index in 0..self.tanks.len() {
            let (Some(run), Some(tank)) = (self.tanks.get(index), self.installation.tanks.get(index)) else {
                return;
            };
            let Some((before, first)) = run.jump_m() else { continue };
            let runs_off = !tank.outlets.is_empty();
            let fresh = !run.since_jump.reached_s(JUST_NOW_S);
            if runs_off && fresh && self.brings_nearer(index, before, before + first) {
                if let Some(run) = self.tanks.get_mut(index) {
                    run.set_jump_m(None);
                    run.watch.unshift();
                }
                continue;
            }
            let Some(run) = self.tanks.get(index) else { return };
            if runs_off && !run.since_jump.reached_s(JUMP_TOLD_AFTER_S) {
                continue;
            }
            let level = run.seen.level_m().unwrap_or(before + first);
            let came = level - before;
            let Some(run) = self.tanks.get_mut(index) else { return };
            run.set_jump_m(None);
            if came.abs() < 0.01 || (runs_off && came.abs() < 0.5 * first.abs()) {
                continue;
            }
            run.watch.shift_by(came);
            run.seen = crate::guard::Seen::NOTHING;
            self.filter.restart_level(index, before, UNSURE_AFTER_JUMP_M);
        }
    }

    /// What the outlets of a tank pass at a level, m3/s.
    pub(super) fn runs_off_m3_s(&self, tank: usize, level: f32) -> f32 {
        self.installation.tanks.get(tank).map_or(0.0, |told| {
            self.installation.outlets_of(told).fold(0.0f32, |sum, outlet| {
                let downstream = match outlet.to {
                    Drain::Tank(to) => {
                        let to = usize::from(to);
                        Some(self.filter.level_m(to) + self.floor_difference_m(to, tank))
                    }
                    Drain::Away => None,
                };
                sum + outlet.flows(level, downstream).flow_m3_s
            })
        })
    }

    /// What the lifts into a tank give, or usually give, of what they gave when they were last looked at, or of the most they ever gave
    /// before that: what a sensor that drifts for hours was taken for does not count.
    #[inline(never)]
    pub(super) fn of_last_look(&self, tank: usize, usually: bool) -> f32 {
        let mut sums = (0.0f32, 0.0f32);
        for (index, (run, lift)) in self.lifts.iter().zip(&self.installation.lifts).enumerate() {
            if usize::from(lift.to) == tank && run.is_trimmed() && run.trust.is_known() {
                let factor = if usually {
                    run.trust.usual()
                } else {
                    self.filter.factor(index)
                };
                sums.0 += run.curve_m3_s * factor;
                let before = run.trend.last();
                sums.1 += run.curve_m3_s * if before > 0.0 { before } else { run.trust.best() };
            }
        }
        if sums.1 > 0.0 { sums.0 / sums.1 } else { 1.0 }
    }

    /// True when the lifts into a tank, taken to deliver what its outlets pass at `level` and not at `before`, are nearer to what
    /// they gave before; they are taken so then.
    fn brings_nearer(&mut self, tank: usize, before_m: f32, level_m: f32) -> bool {
        let flow = |level: f32| self.runs_off_m3_s(tank, level);
        let times = seldom::larger(flow(level_m), 1.0e-7) / seldom::larger(flow(before_m), 1.0e-7);
        let now = self.of_last_look(tank, false);
        let off = |share: f32| seldom::larger(share, 1.0 / seldom::larger(share, 1.0e-6));
        if off(now * times) > 0.95 * off(now) {
            return false;
        }
        // At the level that is believed now a curve is another one too, where the tank stands above the lift's mouth.
        self.renew_curves();
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            if usize::from(lift.to) == tank {
                let curve_m3_s = run.curve.flow(run.air).m3_s;
                let same = seldom::larger(run.curve_m3_s, 1.0e-7) / seldom::larger(curve_m3_s, 1.0e-7);
                let factor = seldom::limit(self.filter.factor(index) * times * same, 0.1, 3.0);
                self.filter.restart_factor(index, factor, UNSURE_WHEN_PUT_RIGHT);
                if run.trust.is_known() {
                    run.trust.put_right(factor, run.trend.last());
                    run.trim.keep_air(curve_m3_s);
                }
                run.curve_m3_s = curve_m3_s;
            }
        }
        true
    }

    /// What the sensor of a tank shows, scaled, m.
    #[inline(never)]
    pub(super) fn read_m(&self, readings: &Readings<TANKS>, tank: usize) -> Option<f32> {
        match (readings.levels.get(tank), self.installation.tanks.get(tank)) {
            (Some(Reading::Value(raw)), Some(of)) => Some(of.sensor.scale.level_m(*raw) + of.sensor.zero_m),
            _ => None,
        }
    }

    /// Two sensors of which each shows what the other showed before, and whether they do so no more, one of them among those that are
    /// `odd`. A bit for each of them, from the first reading on: the smaller or slower tank may well show as much by itself, but not
    /// at the moment at which the other jumps.
    #[inline(never)]
    fn find_swapped(&mut self, readings: &Readings<TANKS>, odd: u32, step_ms: u32) -> u32 {
        let read = |index: usize| self.read_m(readings, index).filter(|level| level.is_finite());
        let mut pair = 0;
        let tanks = self.tanks.len();
        for one in 0..tanks {
            for other in (one + 1..tanks).filter(|other| odd & (bit(one) | bit(*other)) != 0) {
                let (Some(a), Some(b)) = (read(one), read(other)) else {
                    continue;
                };
                let (own, its) = (self.filter.level_m(one), self.filter.level_m(other));
                // Levels that are not far apart must be met the better: one that jumps beside one that stands is no swap.
                let within_m = smaller(SWAPPED_WITHIN_M, SWAPPED_SHARE * (own - its).abs());
                let near = |level: f32, other: f32| (level - other).abs() < within_m;
                let crossed = if is_set(self.place.swapped_tanks, one) {
                    (a - its).abs() + (b - own).abs() < (a - own).abs() + (b - its).abs()
                } else {
                    (own - its).abs() > SWAPPED_WITHIN_M && near(a, its) && near(b, own)
                };
                if crossed {
                    pair = bit(one) | bit(other);
                }
            }
        }
        let stood = self.place.swapped_tanks != 0;
        let stands = self.place.swapped.follow(pair != 0, SWAPPED_AFTER_S, step_ms);
        if !stands {
            self.place.swapped_tanks = 0;
        } else if !stood {
            self.place.swapped_tanks = pair;
            for (index, run) in self.tanks.iter_mut().enumerate() {
                if is_set(self.place.swapped_tanks, index) {
                    run.set_jump_m(None);
                }
            }
        }
        pair
    }

    /// The fastest each level can move by lifts and outlets, m/s: all lifts at their peak, and as much again through outlets.
    pub(super) fn fastest_rates(&self) -> [f32; TANKS] {
        let mut rates = [0.0f32; TANKS];
        for (run, lift) in self.lifts.iter().zip(&self.installation.lifts) {
            for tank in [lift.from, lift.to] {
                let index = usize::from(tank);
                if let Some(rate) = rates.get_mut(index) {
                    *rate += 2.0 * run.peak.flow.m3_s;
                }
            }
        }
        for (index, (rate, tank)) in rates.iter_mut().zip(&self.installation.tanks).enumerate() {
            *rate /= self.installation.area_m2(tank, self.filter.level_m(index));
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

    /// Puts into `verdicts` what the level of each tank asks for.
    #[inline(never)]
    pub(super) fn guard(&mut self, verdicts: &mut [TankVerdict; TANKS], step_ms: u32) {
        let settings = &self.installation.settings;
        // The slowest valve's way to where it holds, and some seconds for the riser.
        let lead_s = self
            .lifts
            .iter()
            .zip(&self.installation.lifts)
            .fold(0.0f32, |most, (run, lift)| {
                larger(most, run.valve.position().share() * lift.valve.stroke_s)
            })
            + RISER_STOPS_S;
        let tanks = self.tanks.iter_mut().zip(&self.installation.tanks).zip(verdicts);
        for (index, ((run, tank), verdict)) in tanks.enumerate() {
            let believed = self.filter.level_m(index);
            // A filter that reckons with an outlet that is clogged by now sees the level lower than it stands: limits are held
            // against the readings themselves.
            let view = match run.seen.level_m() {
                // A sensor that was moved may be right all the same.
                Some(seen) => TankView {
                    top_m: larger(seen, seen + run.watch.shift_m()),
                    bottom_m: smaller(seen, seen + run.watch.shift_m()),
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
    }
}
