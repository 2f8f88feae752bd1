//! Running a trial of one lift inside the controller, and taking over what it finds.

use super::Controller;
use super::run::Mode;
use super::start::prior_sigma;
use crate::air::Manifold;
use crate::command::Refused;
use crate::commission::{Basin, Look, Move, Outcome, Refusal, Trial, possible};
use crate::guard::{TankVerdict, Trend};
use crate::installation::Installed;
use crate::level::{ABOVE_RIM_M, LOWEST_M};
use crate::lift::Calibration;
use crate::math::seldom::{larger, limit, positive, smaller};
use crate::outlet::{Drain, Outlet};
use crate::step::Readings;
use crate::units::{FreeAir, Opening, WaterFlow};

/// Level of water that an outlet falls free into, m: far below any crest.
const FALLS_FREE_M: f32 = -100.0;
/// Flow that may come and go unseen while a trial runs, m3/s in one second: the law itself is in doubt.
pub(super) const DOUBT_IN_TRIAL_M3_S: f32 = 5.0e-4;
/// Change of a valve's figure beyond which what the other lifts gave before is compared with nothing: the pressure worked out then
/// was another one at every opening.
const VALVE_MOVED: f32 = 0.05;

/// A trial, or what came of it: one after the other, in the same memory.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(clippy::large_enum_variant)] // it lies in place
pub(super) enum Trying {
    /// No trial, or one whose outcome was taken.
    Nothing,
    /// It runs.
    Running(Trial),
    /// It ended.
    Ended(Outcome),
}

impl Trying {
    pub fn running(&self) -> Option<&Trial> {
        match self {
            Self::Running(trial) => Some(trial),
            _ => None,
        }
    }

    fn take_outcome(&mut self) -> Option<Outcome> {
        let Self::Ended(outcome) = self else { return None };
        let outcome = *outcome;
        *self = Self::Nothing;
        Some(outcome)
    }
}

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// The trial that is running.
    #[must_use]
    pub fn trial(&self) -> Option<&Trial> {
        self.trial.running()
    }

    /// The outcome of the last trial that ended, once, and until the next one begins. What it accepted is already in [`Controller::installation`].
    pub fn take_outcome(&mut self) -> Option<Outcome> {
        self.trial.take_outcome()
    }

    /// Puts a lift on the list of trials.
    pub(super) fn ask_for_trial(&mut self, lift: u8) -> Result<(), Refused> {
        let index = usize::from(lift);
        let Some(run) = self.lifts.get(index) else {
            return Err(Refused::NoSuchLift);
        };
        if run.mode != Mode::Automatic {
            return Err(Refused::NotPossible(Refusal::NotAutomatic));
        }
        possible(&self.installation, index, &run.curve).map_err(Refused::NotPossible)?;
        self.place.asked |= 1u32.checked_shl(u32::from(lift)).unwrap_or(0);
        Ok(())
    }

    /// Starts the next trial asked for, moves the running one on, ends it. The move it wants.
    #[inline(never)]
    pub(super) fn run_trial(
        &mut self,
        readings: &Readings<TANKS>,
        verdicts: &[TankVerdict; TANKS],
        (step_ms, seconds): (u32, f32),
    ) -> Option<(usize, Move)> {
        if self.trial.running().is_none() {
            self.start_next_trial();
        }
        let index = self.trial.running()?.lift.into();
        let look = self.look(index, readings, verdicts, step_ms, seconds)?;
        match self.advance_trial(index, &look)? {
            Ok(wanted) => Some((index, wanted)),
            Err(outcome) => {
                self.take_over(index, &outcome);
                self.trial = Trying::Ended(outcome);
                Some((index, Move::End))
            }
        }
    }

    #[inline(never)]
    fn advance_trial(&mut self, index: usize, look: &Look) -> Option<Result<Move, Outcome>> {
        let lift = self.installation.lifts.get(index)?;
        let Trying::Running(trial) = &mut self.trial else {
            return None;
        };
        let basin = basin(&self.installation, lift.to, trial.outlet())?;
        let share = self.installation.settings.peak_share;
        Some(trial.advance(look, lift, &basin, &self.conditions, share))
    }

    fn start_next_trial(&mut self) {
        if self.place.asked == 0 {
            return;
        }
        let index = self.place.asked.trailing_zeros();
        self.place.asked &= !1u32.checked_shl(index).unwrap_or(0);
        let index = usize::try_from(index).unwrap_or(usize::MAX);
        let Some(run) = self.lifts.get(index) else {
            return;
        };
        let lift = u8::try_from(index).unwrap_or(u8::MAX);
        let possible = if run.mode == Mode::Automatic {
            possible(&self.installation, index, &run.curve)
        } else {
            // Taken by hand or out of service while it waited for its turn.
            Err(Refusal::NotAutomatic)
        };
        match possible {
            Ok(outlet) => self.trial = Trying::Running(Trial::new(lift, outlet)),
            Err(why) => {
                self.trial = Trying::Ended(Outcome {
                    lift,
                    outlet: 0,
                    outlet_law: Err(why),
                    curve: Err(why),
                });
            }
        }
    }

    fn look(
        &self,
        index: usize,
        readings: &Readings<TANKS>,
        verdicts: &[TankVerdict; TANKS],
        step_ms: u32,
        seconds: f32,
    ) -> Option<Look> {
        let lift = self.installation.lifts.get(index)?;
        let run = self.lifts.get(index)?;
        let (from, to) = (usize::from(lift.from), usize::from(lift.to));
        let tank = self.installation.tanks.get(to)?;
        let read_m = |tank: usize| {
            let most_m = self.installation.tanks.get(tank)?.rim_m + ABOVE_RIM_M;
            self.read_m(readings, tank)
                .filter(|level| *level > LOWEST_M && *level < most_m)
        };
        let dry_below_m = |outlet: &Outlet<_>| self.installation.dry_below_m(outlet);
        let working = tank
            .outlets
            .iter()
            .min_by(|a, b| dry_below_m(a).total_cmp(&dry_below_m(b)))?;
        let (below_m, below_reading_m) = match working.to {
            Drain::Tank(below) => {
                let below = usize::from(below);
                let up_m = self.floor_difference_m(below, to);
                (
                    self.filter.level_m(below) + up_m,
                    read_m(below).map(|level| level + up_m),
                )
            }
            Drain::Away => (FALLS_FREE_M, None),
        };
        let limit = verdicts
            .iter()
            .any(|verdict| verdict.holds_feeders() || verdict.holds_drawers());
        let lost = [from, to].iter().any(|tank| {
            self.tanks
                .get(*tank)
                .is_none_or(|run| run.silent.stands() || run.out_of_range.stands())
        });
        let stop = if self.place.essential
            || self.place.reserve.is_on()
            || run.mode != Mode::Automatic
            || self.place.no_levels.stands()
        {
            Some(Refusal::Stopped)
        } else if limit {
            Some(Refusal::LevelLimit)
        } else if lost {
            Some(Refusal::SensorLost)
        } else {
            None
        };
        Some(Look {
            step_ms,
            seconds,
            reading_m: read_m(to),
            receiver_m: self.filter.level_m(to),
            source_m: self.filter.level_m(from),
            receiver_floor_m: self.floor_difference_m(to, from),
            below_m,
            below_reading_m,
            fish: self.installation.serves_fish(lift),
            riser_outlet_m: lift.riser.outlet_m - self.floor_difference_m(to, from),
            air: run.air,
            factor: self.filter.factor(index),
            curve: run.curve,
            peak: run.peak,
            stop,
        })
    }

    /// A corrected valve changes the manifold pressure that is worked out for all. Lifts measured before were fitted at the
    /// pressure thought then: their valves are rescaled so that they are still thought to pass the same air.
    fn keep_airs_of_measured(&mut self, just_measured: usize) {
        let mut openings = [Opening::SHUT; LIFTS];
        let mut before = [FreeAir::ZERO; LIFTS];
        for ((opening, before), run) in openings.iter_mut().zip(&mut before).zip(&self.lifts) {
            *opening = run.valve.position();
            *before = run.air;
        }
        for _ in 0..3 {
            let settled = {
                let manifold = Manifold::new(
                    &self.installation.air,
                    self.conditions.atmosphere_pa,
                    self.place.gauge_pa.get(),
                );
                let mut branches = heapless::Vec::new();
                self.branches(&mut branches);
                manifold.settle(&branches, &openings, self.manifold_pa)
            };
            let lifts = self
                .installation
                .lifts
                .iter_mut()
                .zip(settled.air.iter().zip(&before))
                .enumerate();
            for (index, (lift, (after, before))) in lifts {
                let measured = lift.calibration.fit.is_some() && index != just_measured;
                if measured && after.m3_s > 0.0 && before.m3_s > 0.0 {
                    lift.valve.conductance_m3_s_pa *= limit(before.m3_s / after.m3_s, 0.7, 1.4);
                }
            }
        }
    }

    /// Takes what a trial accepted into the installation and starts the lift's factor afresh; the valve does not jump, because
    /// the lift returns from the flow it has.
    #[inline(never)]
    fn take_over(&mut self, index: usize, outcome: &Outcome) {
        let Some(lift) = self.installation.lifts.get_mut(index) else {
            return;
        };
        let to = usize::from(lift.to);
        if let Ok(found) = &outcome.curve {
            // What the riser gets beyond what the valve was thought to pass is mostly the valve's own error: giving it to the
            // valve makes the manifold's pressure truer for all lifts.
            lift.calibration = Calibration {
                air: 1.0,
                ..found.calibration
            };
            lift.valve.conductance_m3_s_pa *= found.calibration.air;
            self.keep_airs_of_measured(index);
        }
        if let (Ok(law), Some(tank)) = (&outcome.outlet_law, self.installation.tanks.get_mut(to)) {
            if let Some(outlet) = tank.outlets.get_mut(usize::from(outcome.outlet)) {
                outlet.coefficient *= law.coefficient;
            }
            tank.sensor.zero_m -= law.zero_m;
            let level = positive(self.filter.level_m(to) - law.zero_m);
            self.filter.restart_level(to, level, 0.005);
        }
        let sigma = match self.installation.lifts.get(index) {
            Some(lift) if outcome.curve.is_ok() => prior_sigma(&self.installation, lift, &self.conditions),
            _ => self.installation.settings.delivery_spread,
        };
        let factor = match (&outcome.curve, &outcome.outlet_law) {
            (Ok(_), _) => 1.0,
            // The same level is so much more water now.
            (Err(_), Ok(law)) => self.filter.factor(index) * law.coefficient,
            _ => self.filter.factor(index),
        };
        self.filter.restart_factor(index, factor, sigma);
        let moved = outcome
            .curve
            .is_ok_and(|found| (found.calibration.air - 1.0).abs() > VALVE_MOVED);
        self.renew_drifts();
        self.renew_curves();
        let _ = self.settle_air(0.0);
        for (other, run) in self.lifts.iter_mut().enumerate() {
            let flow = run.curve.flow(run.air).m3_s;
            run.trend = Trend::NEW;
            run.percent_of_clean = None;
            if other == index {
                if outcome.outlet_law.is_ok() {
                    run.trust.forget(factor);
                }
                // From what it has, but not on at the last opening of the trial.
                let delivers = WaterFlow::from_m3_s(smaller(factor * flow, run.target.m3_s));
                run.trim.restart(delivers, factor);
            } else if flow > 0.0 && run.curve_m3_s > 0.0 {
                // The corrected valve moved the pressure that is worked out for all, and with it the airs of the others; their
                // water is what it was.
                let times = limit(run.curve_m3_s / flow, 0.5, 2.0);
                let factor = limit(self.filter.factor(other) * times, 0.1, 3.0);
                self.filter
                    .restart_factor(other, factor, larger(self.filter.factor_sigma(other), 0.01));
                if moved {
                    run.trust.forget(factor);
                } else {
                    run.trust.rescale(times);
                }
            }
        }
    }
}

/// What a trial looks at of a tank and one of its outlets.
fn basin<const LIFTS: usize, const TANKS: usize>(
    installation: &Installed<LIFTS, TANKS>,
    tank: u8,
    outlet: usize,
) -> Option<Basin<'_>> {
    let tank = installation.tanks.get(usize::from(tank))?;
    Some(Basin {
        area: installation.surface(tank),
        limits: tank.limits,
        rim_m: tank.rim_m,
        reading_m2: tank.sensor.variance_m2(),
        outlet: tank.outlets.get(outlet).map(|outlet| installation.outlet(outlet)),
    })
}
