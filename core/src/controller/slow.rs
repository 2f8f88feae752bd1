//! Once a day: what changes over weeks. One lift a step, so that no step is longer for it.

use super::*;
use crate::guard::{FOULING_COUNTS, Proven};
use crate::math::seldom::{larger, smaller};

/// Time between two looks at the same lift, s: the same hour every day, because targets and levels have their times of day.
const DAY_S: u32 = 86_400;
/// Time until the first look, s.
const FIRST_AFTER_S: u32 = 7200;
/// A lift falls under its target when it gives less than this share of it: what it gives is known no better.
const UNDER: f32 = 0.97;
/// The first of the binary digits of a number of days.
const FIRST_BIT: u8 = 0x80;
/// Variance of a factor that is known well enough for a look.
const KNOWN: f32 = 0.05 * 0.05;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Begins to look: soon where nothing is known yet, else in a day, because the last look was before the restart.
    pub(super) fn begin_looks(&mut self, known: bool) {
        self.look_at = u8::MAX;
        self.since_look.set_s(if known { 0 } else { DAY_S - FIRST_AFTER_S });
    }

    /// Looks at one lift, and after the last at the blower, when the day's look is due.
    #[inline(never)]
    pub(super) fn look_daily(&mut self, step_ms: u32) {
        self.since_look.add(step_ms);
        if self.since_look.reached_s(DAY_S) {
            self.since_look.clear();
            self.look_at = 0;
        }
        let index = usize::from(self.look_at);
        if self.look_at == u8::MAX {
            return;
        }
        if self.look_bit > 0 {
            self.foresee(index);
            return;
        }
        let Some(run) = self.lifts.get(index) else {
            self.look_at = u8::MAX;
            self.look_at_blower();
            return;
        };
        let tells = run.is_trimmed()
            && run.trust.is_known()
            && !run.trust.holds_back()
            && self.filter.factor_variance(index) < KNOWN;
        let factor = run.trust.usual();
        let sure = run.proven == Proven::Lift || !self.may_ever_prove(index);
        // Lifts that share a tank are told apart by what this leaves open, and it swings from stop to stop.
        let swing = 2.0 * self.installation.settings.share_accuracy;
        let counts = if run.shares && swing > FOULING_COUNTS {
            swing
        } else {
            FOULING_COUNTS
        };
        let Some(run) = self.lifts.get_mut(index) else { return };
        run.trend.look(tells.then_some(factor), sure, counts);
        run.percent_of_clean = run.trend.percent_of_clean();
        if run.trend.fouls(counts) {
            (self.look_bit, self.look_days) = (FIRST_BIT, 0);
        } else {
            run.trend.foresee(None);
            self.look_at += 1;
        }
    }

    /// One step of the search for the day up to which a lift that fouls can be given its target: one binary digit of it a step.
    fn foresee(&mut self, index: usize) {
        let days = self.look_days | self.look_bit;
        if self.is_served_in(index, f32::from(days)) {
            self.look_days = days;
        }
        self.look_bit >>= 1;
        if self.look_bit == 0 {
            self.look_at += 1;
            let days = self.look_days;
            if let Some(run) = self.lifts.get_mut(index) {
                run.trend.foresee(Some(days));
            }
        }
    }

    fn look_at_blower(&mut self) {
        let air = &self.installation.air;
        let most_m3_s = air
            .curve
            .iter()
            .fold(1.0e-6, |most, point| larger(most, point.air_m3_s));
        if let Some(usual_pa) = self.place.gauge.undisturbed_pa() {
            let highest_pa = larger(air.shut_off_pa(), 1.0);
            self.ageing
                .look(usual_pa / highest_pa, self.place.passes_m3_s / most_m3_s);
        }
    }

    /// True when this lift can be given its target in so many days: below what its curve allows, when the lifts served before it or
    /// with it have what they will need by then, at the pressure they need, and those after it give way to it.
    #[inline(never)]
    fn is_served_in(&self, index: usize, days: f32) -> bool {
        let (Some(run), Some(lift)) = (self.lifts.get(index), self.installation.lifts.get(index)) else {
            return false;
        };
        let settings = &self.installation.settings;
        if UNDER * run.target.m3_s > run.most_m3_s(settings) * run.factor_in(days) {
            return false;
        }
        let mut airs = [FreeAir::ZERO; LIFTS];
        let all = self.lifts.iter().zip(&self.installation.lifts).enumerate();
        for (air, (other, (run, of))) in airs.iter_mut().zip(all) {
            *air = if other == index {
                run.air_in(days, UNDER, settings)
            } else if !run.is_trimmed() {
                run.air
            } else if of.priority > lift.priority {
                FreeAir::from_m3_s(smaller(run.air.m3_s, floor_with_margin(of.air_floor).m3_s))
            } else {
                run.air_in(days, 1.0, settings)
            };
        }
        let mut branches = heapless::Vec::new();
        self.branches(&mut branches);
        self.manifold(None)
            .shifted(self.place.above_curve_pa)
            .running(Running::FULL)
            .can_serve(&branches, &airs, settings.most_opening)
    }
}
