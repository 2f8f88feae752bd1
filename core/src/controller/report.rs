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
            add(run.jumped_lately(), Kind::LevelJumped, tank);
        }
        for (index, run) in (0u8..).zip(&self.lifts) {
            let lift = Subject::Lift(index);
            add(run.out_of_reach.stands(), Kind::OutOfReach, lift);
            add(run.weak.stands(), Kind::LiftWeak, lift);
            let apart = self.is_told_apart(usize::from(index));
            add(!apart, Kind::NotToldApart, lift);
        }
        add(
            !self.since_leap.reached_s(LEAP_SHOWN_S),
            Kind::ClockJumped,
            Subject::Place,
        );
        add(self.saved_rejected, Kind::SavedStateRejected, Subject::Place);
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
