//! Stops that prove what steady levels only hint at: a return that clogs, a level sensor that drifts.

use super::*;
use crate::guard::{Fall, Hint, Proven, ZERO_DOUBT_M};

/// Time until a stop that could not tell is made again, s.
const AGAIN_AFTER_S: u32 = 6 * 3600;
/// A lift that seems to give so much more than when it was clean hints at its outlet or sensor, and until it gives but so much more.
const CREPT_UP: (f32, f32) = (1.15, 1.05);

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Begins a stop where there is a hint that nothing has proven yet, and takes over what one has shown. Each hint is one stop, and
    /// another only where the last could not tell, so that they are as rare as can be.
    #[inline(never)]
    pub(super) fn prove(&mut self, (step_ms, seconds): (u32, f32), may: bool) {
        let settings = &self.installation.settings;
        let (every_s, for_s) = (settings.stop_every_s, settings.stop_for_s);
        if let Some(index) = self.place.proof.running() {
            let fall = self.fall(index);
            let shown = self.place.proof.advance(fall, for_s, seconds, step_ms);
            if shown.is_some() || !may || !self.others_steady(index) {
                self.place.proof.end();
            }
            if let (Some(proven), Some(run)) = (shown, self.lifts.get_mut(index)) {
                run.proven = proven;
                if matches!(proven, Proven::Outlet | Proven::Sensor) {
                    // What crept up over weeks is in the last look too.
                    let seemed = self.place.proof.hint();
                    let before = match seemed {
                        Hint::More => run.trend.clean(),
                        Hint::Less => run.trend.last(),
                    };
                    run.trust.hold(seemed, before);
                    run.trend.serve();
                    run.percent_of_clean = None;
                }
            }
            return;
        }
        let due = self.place.proof.wait(every_s, step_ms) && may && !self.place.stops.is_fresh();
        // One lift a step, each in its turn.
        let index = usize::from(self.place.hint_at);
        let last = index + 1 >= self.lifts.len();
        self.place.hint_at = if last { 0 } else { self.place.hint_at.saturating_add(1) };
        self.forget_what_crept_up(index);
        let proven = self.lifts.get(index).map_or(Proven::Nothing, |run| run.proven);
        let asks = match proven {
            Proven::Nothing => due,
            Proven::Undecided => due && self.place.proof.wait(AGAIN_AFTER_S, 0),
            _ => false,
        };
        if proven == Proven::Nothing && !asks {
            return;
        }
        match self.hint(index) {
            None => {
                if let Some(run) = self.lifts.get_mut(index) {
                    run.proven = Proven::Nothing;
                }
            }
            Some(hint) if asks && self.may_prove(index) => {
                if let Ok(index) = u8::try_from(index) {
                    self.place.proof.begin(index, hint);
                }
            }
            Some(_) => {}
        }
    }

    /// What steady levels hint at when a lift alone on its tank seems to deliver what it should not.
    fn hint(&self, index: usize) -> Option<Hint> {
        let run = self.lifts.get(index).filter(|run| !run.shares)?;
        let times = if run.proven == Proven::Nothing {
            CREPT_UP.0
        } else {
            CREPT_UP.1
        };
        let crept_up = run.trend.clean() > 0.0 && run.trust.usual() > times * run.trend.clean();
        let held = run.trust.is_held();
        if held.is_some() {
            held
        } else if run.trust.seems_more() || crept_up {
            Some(Hint::More)
        } else {
            run.trust.is_fouled().then_some(Hint::Less)
        }
    }

    /// Lifts of a tank that seem to give more and more within a day are taken for what they gave when they were clean, where no stop can
    /// show that they do: the outlet clogs, or the sensor drifts. All of the tank, for what each of several gives swings.
    fn forget_what_crept_up(&mut self, index: usize) {
        let Some(run) = self.lifts.get(index) else { return };
        let clean = run.trend.clean();
        if run.trust.usual() <= CREPT_UP.0 * clean || clean == 0.0 || self.may_ever_prove(index) {
            return;
        }
        let tank = self.installation.lifts.get(index).map_or(0, |lift| lift.to);
        if self.of_last_look(usize::from(tank), true) > CREPT_UP.0 {
            let lifts = self.lifts.iter_mut().zip(&self.installation.lifts);
            for (run, _) in lifts.filter(|(_, lift)| lift.to == tank) {
                run.trust.go_back_to(run.trend.clean());
            }
        }
    }

    /// True when stops of this lift are allowed, and leave nothing that flows into its tank.
    pub(super) fn may_ever_prove(&self, index: usize) -> bool {
        let (Some(lift), Some(run)) = (self.installation.lifts.get(index), self.lifts.get(index)) else {
            return false;
        };
        let tank = lift.to;
        let fed = self.installation.tanks.iter().any(|other| {
            let to = |outlet: &crate::outlet::Outlet<_>| matches!(outlet.to, Drain::Tank(to) if to == tank);
            other.outlets.iter().any(to)
        });
        let stills = air_to_stand_still(&run.curve, lift.air_floor).is_some();
        lift.may_stop && self.installation.settings.stop_every_s > 0 && !run.shares && !fed && stills
    }

    /// The same at this moment.
    fn may_prove(&self, index: usize) -> bool {
        self.may_ever_prove(index) && self.others_steady(index)
    }

    /// How the tank of a lift that stands still falls: as it is read, and by the laws of what leaves it.
    fn fall(&self, index: usize) -> Option<Fall> {
        let (lift, run) = (self.installation.lifts.get(index)?, self.lifts.get(index)?);
        let fed = usize::from(lift.to);
        let (tank, reads) = (self.installation.tanks.get(fed)?, self.tanks.get(fed)?);
        let level_m = reads.seen.level_m()?;
        // Its valve is where it is to be, and the column at rest.
        let still = run.state == LiftState::StoppedToMeasure && run.curve_m3_s <= 0.0;
        if !still || !(self.place.proof.has_begun() || run.still_for_s(levels::RISER_STOPS_S)) {
            return None;
        }
        let drawn = self.lifts.iter().zip(&self.installation.lifts);
        let drawn = drawn.filter(|(_, other)| usize::from(other.from) == fed);
        let drawn = drawn.fold(0.0f32, |sum, (run, _)| sum + run.flow.m3_s);
        let by_law_m_s = |at_m: f32| (drawn + self.runs_off_m3_s(fed, at_m)) / self.installation.area_m2(tank, level_m);
        let by_law_m_s = [0.0, -ZERO_DOUBT_M, ZERO_DOUBT_M].map(|off_m| by_law_m_s(level_m + off_m));
        Some(Fall { level_m, by_law_m_s })
    }
}
