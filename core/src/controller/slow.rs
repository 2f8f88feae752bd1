//! Once a day: what changes over weeks. One lift a step, so that no step is longer for it.

use super::*;
use crate::guard::Proven;

/// Time between two looks at the same lift, s: the same hour every day, because targets and levels have their times of day.
const DAY_S: u32 = 86_400;
/// Time until the first look, s.
const FIRST_AFTER_S: u32 = 7200;
/// Rounds in which the air of a wide open valve is found.
const ROUNDS: u32 = 4;
/// How many times as much air, in relative terms, as the water it is to make up for: near where lifts run, water grows with about the
/// 0.4th power of the air (the slope of the curves of the shipped places at their targets).
const AIR_FOR_WATER: f32 = 2.5;
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
        self.look_at += 1;
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
        let target = run.target.m3_s;
        let sure = run.proven == Proven::Lift || !self.may_ever_prove(index);
        if let Some(run) = self.lifts.get_mut(index) {
            run.trend.look(tells.then_some(factor), sure);
            run.percent_of_clean = run.trend.percent_of_clean();
        }
        // With the airs of today, and then with those that the others will need by that day.
        let mut days = 0.0;
        for _ in 0..2 {
            let due = target / larger(self.reach_m3_s(index, days), 1.0e-9);
            let Some(run) = self.lifts.get_mut(index) else { return };
            run.trend.foresee(due);
            let Some(foreseen) = run.trend.due_days() else { return };
            days = f32::from(foreseen);
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

    /// The most water of its curve that a lift can reach: what its learned peak allows, and what its valve passes wide open at the
    /// pressure that is left then, m3/s; `days` from now, when the others need more air if they foul as they do.
    fn reach_m3_s(&self, index: usize, days: f32) -> f32 {
        let (Some(run), Some(lift)) = (self.lifts.get(index), self.installation.lifts.get(index)) else {
            return 0.0;
        };
        let settings = &self.installation.settings;
        let manifold = self
            .manifold(None)
            .shifted(self.place.above_curve_pa)
            .running(Running::FULL);
        let mut others = 0.0;
        for (_, other) in self.lifts.iter().enumerate().filter(|(other, _)| *other != index) {
            let more = limit(AIR_FOR_WATER * days * other.trend.loses_a_day(), 0.0, 2.0);
            others += smaller(
                other.air.m3_s * (1.0 + more),
                larger(other.peak.air.m3_s, other.air.m3_s),
            );
        }
        let branch = (&lift.valve, run.path);
        let mut air = run.air.m3_s;
        for _ in 0..ROUNDS {
            let pressure = manifold.pressure_at_pa(others + air);
            air = 0.5 * (air + manifold.branch_m3_s(&branch, Opening::new(settings.most_opening), pressure));
        }
        let most = smaller(settings.peak_share, run.trust.most_share()) * run.peak.flow.m3_s;
        if air < run.peak.air.m3_s {
            smaller(run.curve.flow(FreeAir::from_m3_s(air)).m3_s, most)
        } else {
            most
        }
    }
}
