//! What lifts that stand tell of the air: of the blower where none of them moves, of the fish where their only one does not.

use super::Controller;
use super::run::{LiftRun, Mode};
use crate::alarm::{Figure, Kind, Subject};
use crate::math::seldom;
use crate::possibly::Possibly;

/// With less than this share of what they gave at best, no lift of a tank moves.
const NONE_MOVES: f32 = 0.25;
/// With more than this share again, some move.
const SOME_MOVES: f32 = 0.5;
/// No lift gives twice what its curve says: one that was never told apart from its neighbour is taken for another.
const BEYOND_BELIEF: f32 = 2.0;
/// Every tank gets less than this share of the usual: the air is weak ...
const WEAKER: f32 = 0.965;
/// ... and where a single tank shows it, less than this.
const ONE_WEAKER: f32 = 0.9;
/// Seconds for which it must be so, and be over.
const AIR_WEAK_S: (u32, u32) = (300, 300);
/// Seconds after a trial for which what is usual is not known.
const AFTER_TRIAL_S: u32 = 900;
/// Time over which the usual share follows, s.
const USUAL_SHARE_S: f32 = 3600.0;
/// Seconds until no air is said, and until it is taken back.
const NO_AIR_S: (u32, u32) = (5, 120);
/// Seconds of too little air through the blower, or to the fish, before it is an alarm.
const AIR_NEEDED_S: u32 = 60;
/// Below this share of its floor fish get too little air.
const BELOW_FLOOR: f32 = 0.9;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Keeps which lifts stand beside others that run, and raises what it means for fish.
    #[inline(never)]
    pub(super) fn note_standing(&mut self) {
        let (mut standing, mut bit, mut some_run) = (0u32, 1u32, false);
        for run in &self.lifts {
            if run.trust.stands() {
                standing |= bit;
            } else {
                some_run |= run.is_trimmed();
            }
            bit <<= 1;
        }
        if some_run {
            self.place.stood = standing;
        }
        let together = self.together();
        for (index, tank) in (0u8..).zip(&self.installation.tanks) {
            let serving = || {
                let lifts = self.lifts.iter().zip(&self.installation.lifts);
                lifts.filter(|(run, _)| run.mode != Mode::OutOfService)
            };
            // What brings air is what fills the tank; where nothing does, what draws from it.
            let is_fed = serving().any(|(_, lift)| lift.to == index);
            let mut airs = serving()
                .filter(|(_, lift)| if is_fed { lift.to == index } else { lift.from == index })
                .peekable();
            // Of lifts that share a tank only the sum is seen: all of them stand, or one may.
            let none_of = |to: u8| together.get(usize::from(to)).is_some_and(|share| *share < NONE_MOVES);
            let stands = |run: &LiftRun, to: u8| if run.shares { none_of(to) } else { run.trust.stands() };
            let lost = airs.peek().is_some() && airs.all(|(run, lift)| stands(run, lift.to));
            if tank.fish && lost {
                let left = self.oxygen_min(usize::from(index));
                let figure = left.map_or(Figure::None, Figure::OxygenMinutes);
                self.alarms.raise(Kind::FishAirLost, Subject::Tank(index), figure);
            }
        }
    }

    /// True when one of the lifts that the trim serves ran beside others before it came to stand. One that stood while others ran has
    /// its own reasons: when the others are then stopped on purpose, it tells nothing of the blower.
    fn is_new_that_they_stand(&self) -> bool {
        let mut bit = 1u32;
        self.lifts.iter().any(|run| {
            let new = run.is_trimmed() && self.place.stood & bit == 0;
            bit <<= 1;
            new
        })
    }

    /// Parts lifts that seem to give what none can from those that they were never told apart from.
    #[inline(never)]
    fn part_beyond_belief(&mut self) {
        for (index, run) in self.lifts.iter().enumerate() {
            if !run.trust.is_known() && self.filter.factor(index) > BEYOND_BELIEF {
                self.filter.part(index);
            }
        }
    }

    /// Watches the air by what all lifts give: none of them moves, or every one gives less at once. Those that are held, stopped
    /// or out of service do not count.
    pub(super) fn watch_air(&mut self, seconds: f32, step_ms: u32) {
        let together = self.together();
        let mut running = (0usize..).zip(&self.lifts).filter(|(_, run)| run.is_trimmed());
        let mut any_stands = false;
        // One of which too little is known to say that it stands counts by what it seems to give.
        let all_stand = running.all(|(index, run)| {
            any_stands |= run.trust.stands();
            run.trust.stands() || (!run.trust.is_known() && self.filter.factor(index) < NONE_MOVES)
        }) && any_stands;
        if self.place.stood != 0 {
            self.part_beyond_belief();
        }
        // Exactly 1: nothing is known of that tank.
        let known = || together.iter().filter(|share| **share != 1.0);
        let none = all_stand && known().all(|share| *share < NONE_MOVES) && self.is_new_that_they_stand();
        let some = !all_stand || known().any(|share| *share > SOME_MOVES);
        let gone = self.place.gauge.is_gone();
        self.place
            .no_air
            .update_slow(none || gone, some && !gone, NO_AIR_S, step_ms);

        let passes = self.place.passes_m3_s;
        let least = self.installation.air.least_air_m3_s;
        let dead = (passes < 0.95 * least || self.place.fed_on) && !self.place.no_air.stands();
        let alive = passes > least && !self.place.fed_on;
        self.place
            .dead_headed
            .update(dead, alive || self.place.no_air.stands(), AIR_NEEDED_S, step_ms);
        let below = !self.place.no_air.stands()
            && self.lifts.iter().zip(&self.installation.lifts).any(|(run, lift)| {
                run.air.m3_s < BELOW_FLOOR * lift.air_floor.m3_s
                    && self.installation.serves_fish(lift)
                    && !run.is_kept_low()
            });
        self.place.below_floor.follow(below, AIR_NEEDED_S, step_ms);

        if self.trial.running().is_some() {
            self.place.since_trial.clear();
        } else {
            self.place.since_trial.add(step_ms);
        }
        if !self.place.since_trial.reached_s(AFTER_TRIAL_S) {
            // A trial takes the pressure where it never was: what is usual is learned anew once all have come back.
            for run in &mut self.tanks {
                run.usual_share = Possibly::NONE;
            }
            return;
        }
        let share = seldom::smaller(seconds / USUAL_SHARE_S, 1.0);
        let frozen = self.place.air_weak.stands() || all_stand;
        let (mut tanks, mut all_weaker, mut all_back) = (0u8, true, true);
        for (run, now) in self.tanks.iter_mut().zip(&together).filter(|(_, now)| **now != 1.0) {
            let usual = run.usual_share.get().unwrap_or(*now);
            tanks = tanks.saturating_add(1);
            all_weaker &= *now < WEAKER * usual;
            all_back &= *now > 0.5 * (1.0 + WEAKER) * usual;
            run.usual_share = Possibly::some(if frozen { usual } else { usual + share * (*now - usual) });
        }
        // One lift alone may have its own reasons for a few percent.
        let one_weaker =
            tanks == 1
                && self.tanks.iter().zip(&together).any(|(run, now)| {
                    *now != 1.0 && run.usual_share.get().is_some_and(|usual| *now < ONE_WEAKER * usual)
                });
        let weaker = !all_stand && ((tanks > 1 && all_weaker) || one_weaker);
        self.place
            .air_weak
            .update_slow(weaker, tanks > 0 && all_back, AIR_WEAK_S, step_ms);
    }
}
