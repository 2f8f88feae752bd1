//! The step as others see it, and the alarms that stand.

use super::Controller;
use crate::alarm::{Figure, Kind, List, Subject};
use crate::guard::TankVerdict;
use crate::math::finite_or;
use crate::step::{BlowerStep, LiftState, LiftStep, Step, TankStep};
use crate::time::Millis;
use crate::units::{FreeAir, WaterFlow};

/// Delivery below this share of the curve for [`WEAK_AFTER_S`] is an alarm.
const WEAK_BELOW: f32 = 0.5;
/// Seconds of weak delivery before it is an alarm.
const WEAK_AFTER_S: u32 = 600;
/// Seconds for which a refused command stays on the list.
const REFUSED_SHOWN_S: u32 = 600;
/// With less than this share of what they gave at best, no lift of a tank moves.
const NONE_MOVES: f32 = 0.25;
/// With more than this share again, some move.
const SOME_MOVES: f32 = 0.5;
/// Seconds until no air is said, and until it is taken back.
const NO_AIR_S: (u32, u32) = (5, 120);
/// Seconds for which a leap of the clock stays on the list.
const LEAP_SHOWN_S: u32 = 60;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    #[inline(never)]
    pub(super) fn report(&mut self, now: Millis, step_ms: u32, verdicts: &[TankVerdict; TANKS]) -> Step<LIFTS, TANKS> {
        let mut lifts = heapless::Vec::new();
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            let factor = self.filter.factor(index);
            let sigma = self.filter.factor_sigma(index);
            let serving = run.state != LiftState::OutOfService;
            let curve = if serving {
                run.curve.flow(run.air)
            } else {
                WaterFlow::ZERO
            };
            run.curve_m3_s = curve.m3_s;
            run.note_sigma(sigma);
            run.flow = WaterFlow::from_m3_s(finite_or(factor * curve.m3_s, 0.0));
            let judged = run.is_trimmed() && sigma < 0.1;
            run.weak.update(
                judged && factor < WEAK_BELOW,
                !judged || factor > 1.1 * WEAK_BELOW,
                WEAK_AFTER_S,
                step_ms,
            );
            let _ = lifts.push(LiftStep {
                command: run.valve.command(lift.valve.backlash, &self.installation.settings),
                position: run.valve.position(),
                air: run.air,
                wanted_air: run.wanted_air,
                flow: run.flow,
                flow_sigma_m3_s: finite_or(sigma * curve.m3_s.abs(), 0.0),
                target: run.trim.ramped(),
                delivery: factor,
                delivery_sigma: sigma,
                state: run.state,
            });
        }
        let mut tanks = heapless::Vec::new();
        for (index, run) in self.tanks.iter().enumerate() {
            let _ = tanks.push(TankStep {
                level_m: self.filter.level_m(index),
                sigma_m: self.filter.level_sigma_m(index),
                reading: run.reading,
                oxygen_min: self.oxygen_min(index),
            });
        }
        self.watch_air(step_ms);
        self.raise_alarms(verdicts, step_ms);
        Step {
            now,
            step_ms,
            lifts,
            tanks,
            manifold_pa: self.manifold_pa,
            blower: BlowerStep {
                units: 1,
                speed: 1.0,
                air: FreeAir::ZERO,
                power_w: 0.0,
            },
            backup_min: None,
            alarms: self.alarms.sorted(),
        }
    }

    /// Raises the alarms that stand.
    #[inline(never)]
    fn raise_alarms(&mut self, verdicts: &[TankVerdict; TANKS], step_ms: u32) {
        let mut list = core::mem::replace(&mut self.alarms, List::NONE);
        list.begin();
        self.gather(&mut list, verdicts);
        let lifts = &self.installation.lifts;
        list.end(step_ms, &|lift| {
            lifts.get(usize::from(lift)).map(|lift| (lift.from, lift.to))
        });
        self.alarms = list;
    }

    fn gather(&self, list: &mut List, verdicts: &[TankVerdict; TANKS]) {
        if self.no_air.stands() {
            let oxygen = (0..self.tanks.len()).filter_map(|tank| self.oxygen_min(tank)).min();
            let figure = oxygen.map_or(Figure::None, Figure::OxygenMinutes);
            list.raise(Kind::BlowerStopped, Subject::Place, figure);
        }
        for (index, run) in (0u8..).zip(&self.lifts) {
            if run.trust.is_fouled() && !run.trust.stands() {
                let percent = run.trust.percent_of_best(self.filter.factor(usize::from(index)));
                list.raise(Kind::LiftFouling, Subject::Lift(index), Figure::Percent(percent));
            }
        }
        let mut add = |stands: bool, kind, subject| {
            if stands {
                list.raise(kind, subject, Figure::None);
            }
        };
        add(self.no_levels.stands(), Kind::NoLevels, Subject::Place);
        add(self.air_short.stands(), Kind::AirShort, Subject::Place);
        for (index, (run, verdict)) in (0u8..).zip(self.tanks.iter().zip(verdicts)) {
            let tank = Subject::Tank(index);
            add(verdict.too_high, Kind::LevelTooHigh, tank);
            add(verdict.high && !verdict.too_high, Kind::LevelHigh, tank);
            add(verdict.too_low, Kind::LevelTooLow, tank);
            add(verdict.low && !verdict.too_low, Kind::LevelLow, tank);
            add(verdict.rising_fast && !verdict.too_high, Kind::LevelRisingFast, tank);
            add(verdict.falling_fast && !verdict.too_low, Kind::LevelFallingFast, tank);
            add(run.silent.stands(), Kind::SensorSilent, tank);
            add(run.out_of_range.stands(), Kind::SensorOutOfRange, tank);
            let period_ms = self.installation.settings.period_ms;
            let sensor = self.installation.tanks.get(usize::from(index)).map(|tank| &tank.sensor);
            add(
                sensor.is_some_and(|sensor| run.watch.is_stuck(sensor, period_ms)),
                Kind::SensorStuck,
                tank,
            );
            add(run.watch.is_noisy(), Kind::SensorNoisy, tank);
            add(run.swapped, Kind::SensorsSwapped, tank);
            add(run.has_moved(), Kind::LevelJumped, tank);
        }
        for (index, run) in (0u8..).zip(&self.lifts) {
            let lift = Subject::Lift(index);
            add(run.out_of_reach.stands(), Kind::OutOfReach, lift);
            add(run.weak.stands(), Kind::LiftWeak, lift);
            add(run.trust.stands(), Kind::LiftStopped, lift);
            add(run.trust.gives_no_answer(), Kind::ValveNotFollowing, lift);
            let fed = self
                .installation
                .lifts
                .get(usize::from(index))
                .map_or(0, |lift| lift.to);
            add(run.trust.seems_more(), Kind::ReturnSuspect, Subject::Tank(fed));
            let apart = self.is_told_apart(usize::from(index));
            add(!apart, Kind::NotToldApart, lift);
        }
        add(
            !self.since_leap.reached_s(LEAP_SHOWN_S),
            Kind::ClockJumped,
            Subject::Place,
        );
        add(
            !self.since_refused.reached_s(REFUSED_SHOWN_S),
            Kind::CommandRefused,
            Subject::Place,
        );
        add(self.saved_rejected, Kind::SavedStateRejected, Subject::Place);
    }

    /// Watches for the moment when every lift that is meant to run stands still; those that are held, stopped or out of service
    /// do not count.
    fn watch_air(&mut self, step_ms: u32) {
        let mut running = self.lifts.iter().filter(|run| run.is_trimmed()).peekable();
        let all_stand = running.peek().is_some() && running.all(|run| run.trust.stands());
        let (mut none, mut some) = (all_stand, !all_stand);
        if all_stand || self.no_air.stands() {
            let together = self.together();
            none = all_stand && together.iter().all(|share| *share < NONE_MOVES || *share >= 1.0);
            some |= together.iter().any(|share| *share > SOME_MOVES && *share < 1.0);
        }
        self.no_air.update_slow(none, some, NO_AIR_S, step_ms);
    }

    /// About how long the oxygen of a tank lasts without air.
    fn oxygen_min(&self, index: usize) -> Option<u16> {
        let tank = self.installation.tanks.get(index)?;
        let volume = tank.volume_m3(self.filter.level_m(index));
        crate::guard::minutes_left(&tank.stock, volume, &self.installation.site)
    }

    /// False for a lift that shares its tank with others of which too few may be stopped: of n lifts into one tank, n - 1
    /// must have been stopped once (or n, to know each by itself).
    fn is_told_apart(&self, index: usize) -> bool {
        let Some(own) = self.installation.lifts.get(index) else {
            return true;
        };
        if !self.installation.shares_receiver(index) {
            return true;
        }
        let (mut sharing, mut stoppable) = (0usize, 0usize);
        for (other, lift) in self.installation.lifts.iter().enumerate() {
            if lift.to == own.to {
                sharing += 1;
                stoppable += usize::from(self.may_be_stopped(other));
            }
        }
        self.installation.settings.stop_every_s > 0 && stoppable + 1 >= sharing
    }
}
