//! The step as others see it, and the alarms that stand.

use super::Controller;
use super::aim::Aimed;
use super::bit;
use super::run::LiftRun;
use crate::alarm::{Figure, Kind, List, Subject};
use crate::guard::{Gauge, Proven, TankVerdict};
use crate::math::{finite_or, larger};
use crate::reading::Checked;
use crate::step::{BlowerStep, LiftState, LiftStep, Step, TankStep};
use crate::tank::{area_m2, volume_m3};
use crate::units::FreeAir;

/// Seconds for which a refused command stays on the list.
const REFUSED_SHOWN_S: u32 = 600;
/// Seconds after a start or an exchange for which an overflow that is too small stays on the list.
const SMALL_OVERFLOW_SHOWN_S: u32 = 3600;
/// From this much of the best it ever gave a lift is not said to foul, %.
const NOT_FOULED: u16 = 95;
/// Days before a cleaning is due from which on it is an alarm, and up to which it stays one.
const DUE_DAYS: (u8, u8) = (21, 28);
/// Seconds for which a leap of the clock stays on the list.
const LEAP_SHOWN_S: u32 = 60;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    #[inline(never)]
    pub(super) fn report(
        &mut self,
        step: &mut Step<LIFTS, TANKS>,
        aimed: &Aimed<LIFTS>,
        verdicts: &[TankVerdict; TANKS],
        checked: &[Checked; TANKS],
    ) {
        let step_ms = step.step_ms;
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            let factor = self.filter.factor(index);
            let sigma = self.filter.factor_sigma(index);
            let curve_m3_s = run.note_flow(factor, sigma, step_ms);
            let _ = step.lifts.push(LiftStep {
                command: run.valve.command(lift.valve.backlash, &self.installation.settings),
                position: run.valve.position(),
                air: run.air,
                wanted_air: aimed.air.get(index).copied().unwrap_or_default(),
                flow: run.flow,
                flow_sigma_m3_s: finite_or(sigma * curve_m3_s.abs(), 0.0),
                target: run.trim.ramped(),
                delivery: factor,
                delivery_sigma: sigma,
                percent_of_clean: run.percent_of_clean,
                cleaning_days: run.trend.due_days(),
                state: run.state,
            });
        }
        for (index, reading) in checked.iter().enumerate().take(self.tanks.len()) {
            let _ = step.tanks.push(TankStep {
                level_m: self.filter.level_m(index),
                sigma_m: self.filter.level_sigma_m(index),
                reading: *reading,
                oxygen_min: self.oxygen_min(index),
            });
        }
        #[allow(clippy::cast_precision_loss)] // at most 100 000 ms: exact in f32
        let seconds = step_ms as f32 * 0.001;
        self.watch_air(seconds, step_ms);
        self.watch_water(checked, seconds, step_ms);
        self.raise_alarms(verdicts, step_ms);
        step.manifold_pa = self.manifold_pa;
        step.blower = BlowerStep {
            units: self.place.blower.units(),
            speed: self.place.blower.speed(),
            air: FreeAir::from_m3_s(self.place.passes_m3_s),
            power_w: finite_or(self.power_w(), 0.0),
        };
        step.backup_min = self.battery_min();
        self.alarms.sort_into(&mut step.alarms);
    }

    /// Power that the blower is believed to take, W.
    pub(super) fn power_w(&self) -> f32 {
        let efficiency = self.installation.air.efficiency;
        crate::air::power_w(
            self.place.passes_m3_s,
            self.manifold_pa,
            self.conditions.atmosphere_pa,
            efficiency,
        )
    }

    /// Raises the alarms that stand.
    #[inline(never)]
    fn raise_alarms(&mut self, verdicts: &[TankVerdict; TANKS], step_ms: u32) {
        if self.ageing.is_aged() && (self.place.gauge.is_high() || self.place.gauge.is_wrong()) {
            // A blower that had aged and holds more now was mended: what is usual is learned anew.
            self.place.gauge = Gauge::NEW;
        }
        self.alarms.begin();
        self.gather(verdicts);
        let lifts = &self.installation.lifts;
        self.alarms.end(step_ms, &|lift| {
            lifts.get(usize::from(lift)).map(|lift| (lift.from, lift.to))
        });
    }

    /// Goes through all that is judged. What is asked of the whole controller comes first: the list is part of it.
    fn gather(&mut self, verdicts: &[TankVerdict; TANKS]) {
        let no_air = self.place.no_air.stands();
        let oxygen = if no_air {
            (0..self.tanks.len()).filter_map(|tank| self.oxygen_min(tank)).min()
        } else {
            None
        };
        let mut together = [false; LIFTS];
        for (index, (together, run)) in together.iter_mut().zip(&self.lifts).enumerate() {
            *together = run.shares && !self.place.reserve.is_on() && !self.is_told_apart(index);
        }
        let battery = self.battery_min().map_or(Figure::None, Figure::BatteryMinutes);
        let list = &mut self.alarms;
        if no_air {
            let figure = oxygen.map_or(Figure::None, Figure::OxygenMinutes);
            list.raise(Kind::BlowerStopped, Subject::Place, figure);
        }
        if self.place.reserve.is_on() {
            let figure = battery;
            list.raise(Kind::PowerOnBackup, Subject::Place, figure);
            if self
                .installation
                .air
                .backup
                .is_some_and(|of| self.place.reserve.is_ending(&of))
            {
                list.raise(Kind::BackupEnding, Subject::Place, figure);
            }
        }
        for (index, run) in (0u8..).zip(&self.lifts) {
            let lift = Subject::Lift(index);
            let due = run.trend.due_days();
            if due.is_none() && !run.trust.is_fouled() {
                continue;
            }
            let soon = due
                .is_some_and(|days| days <= DUE_DAYS.0 || (days <= DUE_DAYS.1 && list.stands(Kind::LiftFouling, lift)));
            let fouled = run.trust.is_fouled() || soon;
            let percent = run.trust.percent_of_best(self.filter.factor(usize::from(index)));
            // The condition takes its time to go off: that a lift fouls is not first said when it gives nearly all it did again.
            let fouls = percent < NOT_FOULED;
            if fouled && !run.trust.stands() && (soon || fouls || list.stands(Kind::LiftFouling, lift)) {
                let percent = if fouls { Figure::Percent(percent) } else { Figure::None };
                let figure = due.map_or(percent, |days| Figure::Days(u16::from(days)));
                list.raise(Kind::LiftFouling, lift, figure);
            }
        }
        let litres = Figure::Litres(self.place.balance.litres());
        if self.place.balance.is_lost() {
            list.raise(Kind::WaterLost, Subject::Place, litres);
        }
        if self.place.balance.is_gained() {
            list.raise(Kind::WaterGained, Subject::Place, litres);
        }
        add(list, self.place.air_weak.stands(), Kind::AirWeak, Subject::Place);
        add(
            list,
            self.place.gauge.is_doubtful(),
            Kind::GaugeDoubtful,
            Subject::Place,
        );
        add(list, self.place.gauge.is_low(), Kind::PressureLow, Subject::Place);
        add(list, self.place.gauge.is_high(), Kind::PressureHigh, Subject::Place);
        add(list, self.ageing.is_aged(), Kind::BlowerAgeing, Subject::Place);
        add(list, self.place.dead_headed.stands(), Kind::DeadHeaded, Subject::Place);
        add(
            list,
            self.place.below_floor.stands(),
            Kind::AirBelowFloor,
            Subject::Place,
        );
        add(
            list,
            self.place.gauge.is_unsteady(),
            Kind::PressureUnsteady,
            Subject::Place,
        );
        add(list, self.place.no_levels.stands(), Kind::NoLevels, Subject::Place);
        add(list, self.place.air_short.stands(), Kind::AirShort, Subject::Place);
        let shown = !self.place.since_begin.reached_s(SMALL_OVERFLOW_SHOWN_S);
        let mut small_overflows = if shown { self.small_overflows } else { 0 };
        let mut swapped_tanks = self.place.swapped_tanks;
        let period_ms = self.installation.settings.period_ms;
        let mut unread = 0u32;
        let installed = self.tanks.iter().zip(&self.installation.tanks);
        for (index, ((run, installed), verdict)) in (0u8..).zip(installed.zip(verdicts)) {
            let tank = Subject::Tank(index);
            add(list, verdict.too_high, Kind::LevelTooHigh, tank);
            add(list, verdict.high && !verdict.too_high, Kind::LevelHigh, tank);
            add(list, verdict.too_low, Kind::LevelTooLow, tank);
            add(list, verdict.low && !verdict.too_low, Kind::LevelLow, tank);
            add(
                list,
                verdict.rising_fast && !verdict.too_high,
                Kind::LevelRisingFast,
                tank,
            );
            add(
                list,
                verdict.falling_fast && !verdict.too_low,
                Kind::LevelFallingFast,
                tank,
            );
            if !run.silent.or(run.out_of_range).rests() {
                add(list, run.silent.stands(), Kind::SensorSilent, tank);
                unread |= bit(index);
                add(list, run.out_of_range.stands(), Kind::SensorOutOfRange, tank);
            }
            let stuck = run.watch.is_stuck(&installed.sensor, period_ms);
            add(list, stuck, Kind::SensorStuck, tank);
            add(list, run.watch.is_noisy(), Kind::SensorNoisy, tank);
            add(list, swapped_tanks & 1 == 1, Kind::SensorsSwapped, tank);
            swapped_tanks >>= 1;
            add(list, small_overflows & 1 == 1, Kind::OverflowTooSmall, tank);
            small_overflows >>= 1;
            add(list, run.has_moved(), Kind::LevelJumped, tank);
        }
        let installed = self.lifts.iter().zip(&self.installation.lifts);
        for (index, ((run, installed_lift), together)) in (0u8..).zip(installed.zip(&together)) {
            let lift = Subject::Lift(index);
            let rests = run.out_of_reach.or(run.weak).or(run.astray).rests();
            if !rests || !run.trust.is_calm() || run.proven != Proven::Nothing {
                let read = unread & bit(installed_lift.to) == 0;
                raise_of_a_lift(list, run, lift, (Subject::Tank(installed_lift.to), read));
            }
            add(list, *together, Kind::NotToldApart, lift);
        }
        add(
            list,
            !self.place.since_leap.reached_s(LEAP_SHOWN_S),
            Kind::ClockJumped,
            Subject::Place,
        );
        add(
            list,
            !self.place.since_refused.reached_s(REFUSED_SHOWN_S),
            Kind::CommandRefused,
            Subject::Place,
        );
        add(
            list,
            self.place.saved_rejected,
            Kind::SavedStateRejected,
            Subject::Place,
        );
        if self.alarms.may_hold(Kind::LiftStopped) {
            self.note_standing();
        } else {
            self.place.stood = 0;
        }
    }

    /// Watches the water of all tanks together.
    fn watch_water(&mut self, checked: &[Checked; TANKS], seconds: f32, step_ms: u32) {
        let mut water = Some(0.0f32);
        let mut largest = 0.0f32;
        let tanks = self.tanks.iter().zip(&self.installation.tanks).zip(checked);
        for (index, ((run, tank), checked)) in tanks.enumerate() {
            let level = self.filter.level_m(index);
            let surface = self.installation.surface(tank);
            largest = larger(largest, area_m2(surface, level));
            let read = matches!(checked, Checked::Level(_)) && run.jump_m().is_none();
            water = water.filter(|_| read).map(|sum| sum + volume_m3(surface, level));
        }
        self.place.balance.update(water, largest, seconds, step_ms);
    }

    /// About how long the battery lasts, minutes; only while it is used, and where its energy is told.
    fn battery_min(&self) -> Option<u16> {
        let told = self.place.reserve.is_on() && self.installation.air.backup.is_some();
        told.then(|| self.place.reserve.minutes())
    }

    /// About how long the oxygen of a tank lasts without air.
    pub(super) fn oxygen_min(&self, index: usize) -> Option<u16> {
        let tank = self.installation.tanks.get(index)?;
        let volume = || volume_m3(self.installation.surface(tank), self.filter.level_m(index));
        crate::guard::minutes_left(&tank.stock, volume, self.oxygen_mg_l)
    }

    /// False for a lift that shares its tank with others of which too few may be stopped: of n lifts into one tank, n - 1
    /// must have been stopped once (or n, to know each by itself).
    fn is_told_apart(&self, index: usize) -> bool {
        let Some(own) = self.installation.lifts.get(index) else {
            return true;
        };
        if self.lifts.get(index).is_none_or(|run| !run.shares) {
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

/// Raises what stands of a lift that does not do as it is told, and what it tells of the tank it fills.
#[inline(never)]
fn raise_of_a_lift(list: &mut List, run: &LiftRun, lift: Subject, (fed, read): (Subject, bool)) {
    add(list, run.out_of_reach.stands(), Kind::OutOfReach, lift);
    let past_peak = run.out_of_reach.stands() && run.trust.most_share() < 1.0;
    add(list, past_peak, Kind::PastPeak, lift);
    add(list, run.weak.stands(), Kind::LiftWeak, lift);
    let strays = if run.state == LiftState::HeldByLevel {
        Kind::CannotBeHeld
    } else {
        Kind::RunsBack
    };
    add(list, run.astray.stands(), strays, lift);
    add(list, run.trust.stands(), Kind::LiftStopped, lift);
    add(list, run.trust.gives_no_answer(), Kind::ValveNotFollowing, lift);
    // Of a tank that is not read, nothing is told of what runs off.
    add(list, run.trust.seems_more() && read, Kind::ReturnSuspect, fed);
    add(list, run.proven == Proven::Outlet, Kind::ReturnRestricted, fed);
    add(list, run.proven == Proven::Sensor, Kind::SensorDrifting, fed);
}

/// Raises an alarm without a figure that stands. Asked in place, two hundred times a step; the call is for the few that do.
#[inline(always)]
fn add(list: &mut List, stands: bool, kind: Kind, subject: Subject) {
    if stands {
        raise(list, kind, subject);
    }
}

#[inline(never)]
fn raise(list: &mut List, kind: Kind, subject: Subject) {
    list.raise(kind, subject, Figure::None);
}
