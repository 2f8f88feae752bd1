//! Where every valve is to go: scheduled stops, orders, sharing of the air, moves.

use super::*;
use crate::air::Running;
use crate::guard::Doubt;
use crate::math::seldom::{larger, positive, smaller};

/// Air that one unit less of a bank must be able to give, of what is wanted, before it may stop.
const SPARE: f32 = 1.1;
/// The pressure is not lowered below this share of that of the water at the deepest air inlet: water would rise in its line.
const ABOVE_WATER: f32 = 1.1;
/// Air aimed at where too little would pass the blower, of the least it needs.
const ENOUGH: f32 = 1.02;
/// Seconds for which the lifts of a tank must have given too much or too little until each is stopped once more.
const ODD_AFTER_S: u32 = 120;
/// A lift whose stop takes less than this share of its usual water from its tank does not do as it is told.
const FALLS: f32 = 0.3;
/// A lift that gives less than this share of its usual at the air it is believed to get, while the gauge says that it gets less, does not
/// do as it is told either.
const FAR_LESS: f32 = 0.8;
/// Deviation of the factor of a lift that moves water again after it stood.
const WOKEN_SIGMA: f32 = 0.3;
/// The same of one that does again what it is told, and the most while a lift starts.
const ANSWERS_SIGMA: f32 = 0.1;

/// What every lift is to get in a step.
pub(super) struct Aimed<const LIFTS: usize> {
    /// Its air.
    pub air: [FreeAir; LIFTS],
    /// The opening that would give it.
    pub openings: [Opening; LIFTS],
}

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    #[inline(never)]
    pub(super) fn plan_stops(&mut self, verdicts: &[TankVerdict; TANKS], (step_ms, seconds): (u32, f32), fixed: bool) {
        let settings = &self.installation.settings;
        let (every_s, for_s) = (settings.stop_every_s, settings.stop_for_s);
        // While the air falls short, and for a while after, what a lift gives changes for other reasons.
        let allowed = !fixed && !self.place.essential && !self.place.reserve.is_on() && !self.place.air_short.stands();
        // With a weak blower the valve of a lift that stands passes less than is believed, and nobody else aerates its fish.
        self.prove((step_ms, seconds), allowed && !self.place.air_weak.stands());
        let running = self.place.stops.running();
        let wanted =
            |index: usize| self.place.proof.running().is_none() && (self.place.was_odd || self.is_unsure(index));
        // With its tank above the warning level overflows run that nobody knows well, or its outlet is clogged: a stop tells nothing.
        let stands_high = |index: usize| {
            let to = self.installation.lifts.get(index).map(|lift| usize::from(lift.to));
            to.and_then(|to| verdicts.get(to)).is_some_and(|fed| fed.high)
        };
        let may = |index: usize| {
            allowed
                && self.may_be_stopped(index)
                && (running == Some(index) || wanted(index))
                && !stands_high(index)
                && self.others_steady(index)
        };
        let told = self
            .place
            .stops
            .running()
            .is_some_and(|stopped| self.others_known(stopped));
        let mut stops = self.place.stops;
        stops.advance(self.lifts.len(), (every_s, for_s), step_ms, told, &may);
        let mut odd = false;
        self.place.lost_tanks = 0;
        let lifts = self.lifts.iter().zip(&self.installation.lifts);
        for (run, lift) in lifts.filter(|(run, _)| run.shares) {
            odd |= run.trust.is_odd();
            if run.trust.gives_no_answer() {
                self.place.lost_tanks |= bit(lift.to);
            }
        }
        if self.place.odd.follow(odd, ODD_AFTER_S, step_ms) && !self.place.was_odd {
            stops.again();
        }
        self.place.was_odd = self.place.odd.stands();
        let (before, now) = (self.place.stops.running(), stops.running());
        if let (None, Some(lift)) = (before, now) {
            let own = self
                .lifts
                .get(lift)
                .map_or(0.0, |run| run.trust.usual() * run.curve_m3_s);
            self.place.before_stop = (self.runs_off_below(lift), own);
        }
        if let (Some(lift), None) = (before, now) {
            let (ran_off, own) = self.place.before_stop;
            let known = self.lifts.get(lift).is_some_and(|run| run.trust.is_known());
            if known && stops.has_told() && ran_off - self.runs_off_below(lift) < FALLS * own {
                self.lose(lift);
            }
        }
        self.place.stops = stops;
        let gauge = &self.place.gauge;
        if (gauge.is_high() || gauge.is_wrong()) && self.place.lost_tanks == 0 && !stops.is_fresh() {
            self.lose_by_the_gauge();
        }
    }

    /// More air that brings no more water, while the gauge shows that less air passes than is believed: the one of the lifts that share a
    /// tank which seems to give far less than it usually does has a valve that does not follow. Levels alone show only their sum.
    #[inline(never)]
    fn lose_by_the_gauge(&mut self) {
        let mut lost = (0usize..).zip(&self.lifts).filter(|(index, run)| {
            let gives_less = || self.filter.factor(*index) < FAR_LESS * run.trust.usual();
            run.shares && run.is_trimmed() && run.trust.is_known() && !run.trust.stands() && gives_less()
        });
        // Where several do it is the gauge.
        if let (Some((lost, _)), None) = (lost.next(), lost.next()) {
            self.lose(lost);
        }
    }

    /// What runs off from the tank that this lift fills, by what its sensor shows, m3/s.
    fn runs_off_below(&self, lift: usize) -> f32 {
        let to = self.installation.lifts.get(lift).map_or(0, |lift| usize::from(lift.to));
        let level = self.tanks.get(to).and_then(|run| run.seen.level_m());
        self.runs_off_m3_s(to, level.unwrap_or(self.filter.level_m(to)))
    }

    /// A stop of this lift took next to no water from its tank: its valve does not follow, and what its neighbours seemed to give in
    /// the stop was its own.
    fn lose(&mut self, lost: usize) {
        self.begin_anew(self.installation.lifts.get(lost).map_or(0, |lift| bit(lift.to)));
        if let Some(run) = self.lifts.get_mut(lost) {
            run.trust.lose();
        }
    }

    /// A lift of these tanks does again what it is told: what was learned of it meanwhile was learned of air that it did not get, and of
    /// its neighbours what was its own.
    #[inline(never)]
    fn begin_anew(&mut self, tanks: u32) {
        for (index, (run, lift)) in self.lifts.iter().zip(&self.installation.lifts).enumerate() {
            if tanks & bit(lift.to) != 0 && run.trust.is_known() {
                self.filter.restart_factor(index, run.trust.usual(), ANSWERS_SIGMA);
            }
        }
    }

    /// True when what every other lift into this lift's tank delivers is known well.
    pub(super) fn others_known(&self, stopped: usize) -> bool {
        let Some(own) = self.installation.lifts.get(stopped) else {
            return true;
        };
        let others = self
            .installation
            .lifts
            .iter()
            .enumerate()
            .filter(|(other, lift)| *other != stopped && lift.to == own.to);
        others
            .map(|(other, _)| self.filter.factor_variance(other))
            .all(|variance| variance < KNOWN_WELL * KNOWN_WELL)
    }

    /// True when a lift into this lift's tank is known less well than the settings ask: as long as all are, no stop is made.
    fn is_unsure(&self, index: usize) -> bool {
        let (lifts, accuracy) = (&self.installation.lifts, self.installation.settings.share_accuracy);
        let to = lifts.get(index).map(|lift| lift.to);
        let mut own = lifts.iter().enumerate().filter(|(_, lift)| Some(lift.to) == to);
        let bound = 0.7 * accuracy;
        own.any(|(other, _)| self.filter.factor_variance(other) > bound * bound)
    }

    /// True when this lift shares its tank, may be stopped, and can stand still without leaving its air floor.
    pub(super) fn may_be_stopped(&self, index: usize) -> bool {
        let (Some(lift), Some(run)) = (self.installation.lifts.get(index), self.lifts.get(index)) else {
            return false;
        };
        lift.may_stop && run.shares && air_to_stand_still(&run.curve, lift.air_floor).is_some()
    }

    /// True when this lift and those it shares a tank with run in automatic, undisturbed by a level, and no lift of the place is being asked
    /// by its air whether its valve follows: a stop moves the pressure, and the answer with it.
    pub(super) fn others_steady(&self, index: usize) -> bool {
        let Some(own) = self.installation.lifts.get(index) else {
            return false;
        };
        self.lifts.iter().zip(&self.installation.lifts).all(|(run, lift)| {
            let steady = || {
                run.mode == Mode::Automatic
                    && !matches!(run.state, LiftState::HeldByLevel | LiftState::ShortOfAir)
                    && !run.trust.stands()
                    && !run.trust.gives_no_answer()
            };
            !run.trust.is_asking() && (lift.to != own.to || steady())
        })
    }

    /// The air each lift is to get, after guard, stops and sharing, and the opening for it.
    #[inline(never)]
    pub(super) fn aim(
        &mut self,
        verdicts: &[TankVerdict; TANKS],
        (step_ms, seconds): (u32, f32),
        fixed: bool,
        trial: Option<(usize, Move)>,
    ) -> Aimed<LIFTS> {
        let settings = &self.installation.settings;
        let stopped = self.place.stops.running().or(self.place.proof.running());
        let others_wait = self.trial.running().is_some_and(Trial::others_wait);
        let verdict = |tank: u8| verdicts.get(usize::from(tank)).copied().unwrap_or_default();
        let together = self.together();
        let lost_tanks = self.place.lost_tanks;
        let essential = self.is_essential();
        let mut gives_up = [(false, false); LIFTS];
        if self.place.reserve.is_on() {
            for (index, gives_up) in gives_up.iter_mut().enumerate() {
                *gives_up = self.gives_up(index);
            }
        }
        self.place.hurried = false;
        let mut answers = 0;
        let mut claims: heapless::Vec<Claim, LIFTS> = heapless::Vec::new();
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            let floor = floor_with_margin(lift.air_floor);
            let (fed, drawn) = (verdict(lift.to), verdict(lift.from));
            let held = fed.holds_feeders() || drawn.holds_drawers();
            if run.state == LiftState::HeldByLevel && !held {
                // From standing still to its target, not all at once.
                run.trim.return_from(run.flow);
            }
            let together = together.get(usize::from(lift.to)).copied().unwrap_or(1.0);
            let seen = (self.filter.factor(index), self.filter.factor_variance(index), together);
            // What a riser gives while it starts is not what its curve says: what is known too little is learned after that.
            let starts = run.way == Way::Starts;
            if starts {
                self.filter.restart_factor(index, run.trust.used(), ANSWERS_SIGMA);
            }
            let tells = if held || drawn.low || starts {
                Tells::Nothing
            } else if trial.is_some() {
                Tells::InTrial
            } else if fed.high {
                Tells::High
            } else {
                Tells::All
            };
            match run.judge(
                seen,
                lost_tanks != 0 && lost_tanks & bit(lift.to) != 0,
                tells,
                (seconds, step_ms),
            ) {
                Doubt::Nothing => {}
                // Of several into one tank what each gives cannot be seen: they begin from what they gave.
                Doubt::Woken => {
                    let from = if run.shares { run.trust.used() } else { seen.0 };
                    self.filter.restart_factor(index, from, WOKEN_SIGMA);
                }
                Doubt::Answers => answers |= bit(lift.to),
            }
            run.trim.advance(run.target, run.trust.used(), seconds, settings);
            let (all, above_floor) = gives_up.get(index).copied().unwrap_or_default();
            let order = match trial {
                _ if all => Order::GiveUp,
                Some((_, Move::End)) | None if held => Order::Hold,
                Some((tried, Move::Air(air))) if tried == index => Order::Try(Some(air)),
                Some((tried, Move::Keep)) if tried == index => Order::Try(None),
                Some((_, Move::Keep | Move::Air(_))) if others_wait => Order::Wait,
                _ if fixed => Order::Fix,
                _ if essential || above_floor => Order::EssentialAir,
                _ if stopped == Some(index) => Order::StandStill,
                _ => Order::Trim,
            };
            let claim = run.claim(order, floor, lift, settings);
            self.place.hurried |= run.is_under_way();
            let priority = if (essential || above_floor) && self.installation.serves_fish(lift) {
                0
            } else {
                lift.priority
            };
            let floor = FreeAir::from_m3_s(crate::math::smaller(floor.m3_s, claim.m3_s));
            let _ = claims.push(Claim {
                wanted: claim,
                floor,
                priority,
            });
        }
        if answers != 0 {
            self.begin_anew(answers);
        }
        self.feed_blower(&mut claims);
        let settings = &self.installation.settings;
        let (air, short, openings, demand) = {
            let manifold = self
                .manifold(self.place.gauge_pa.get())
                .shifted(self.place.above_curve_pa);
            let mut branches = heapless::Vec::new();
            self.branches(&mut branches);
            let (drive, most) = (&self.installation.air.drive, settings.most_opening);
            // What is shared is what the whole blower gives; as much of it runs as that takes.
            let whole = manifold.running(Running::FULL);
            let mut air = [FreeAir::ZERO; LIFTS];
            for (air, claim) in air.iter_mut().zip(&claims) {
                *air = claim.wanted;
            }
            let mut fed = whole.feed(&branches, &air);
            let short = !fed.serves(&branches, most);
            if short {
                air = share_out(&claims, &|air| whole.can_serve(&branches, air, most)).0;
                fed = whole.feed(&branches, &air);
            }
            if *drive != Drive::Fixed {
                fed = manifold.feed(&branches, &air);
            }
            let mut openings = fed.openings(&branches, (settings.least_opening, most));
            let mut demand = Demand::default();
            if *drive != Drive::Fixed {
                let run = openings.iter().zip(&air).filter(|(_, air)| air.m3_s > 0.0);
                let widest = run.fold(0.0, |widest, (opening, _)| larger(widest, opening.share()));
                let deepest = self
                    .lifts
                    .iter()
                    .fold(0.0, |deepest, run| larger(deepest, run.curve.injector_pa()));
                let fewer = self
                    .place
                    .blower
                    .one_less(drive)
                    .map(|running| manifold.running(running));
                let spare = air.map(|air| FreeAir::from_m3_s(SPARE * air.m3_s));
                demand = Demand {
                    most_open: widest / larger(most, 0.01),
                    short: short || !fed.serves(&branches, most),
                    fewer_serve: fewer.is_some_and(|fewer| fewer.can_serve(&branches, &spare, most)),
                    at_its_least: self.place.passes_m3_s < self.installation.air.least_air_m3_s
                        || self.manifold_pa < ABOVE_WATER * deepest,
                    all: fixed || self.place.no_air.stands(),
                };
            }
            if trial.is_none() && self.place.hurried {
                let now = if *drive == Drive::Fixed { &whole } else { &manifold };
                self.hold_meanwhile(now, &branches, &air, &mut openings, seconds);
            }
            (air, short, openings, demand)
        };
        self.place
            .blower
            .advance(&self.installation.air.drive, &demand, seconds, step_ms);
        let margin = |air: &FreeAir, claim: &Claim| air.m3_s < 0.995 * claim.wanted.m3_s;
        for ((run, air), claim) in self.lifts.iter_mut().zip(&air).zip(&claims) {
            run.short = short && margin(air, claim);
            if run.short && run.is_trimmed() {
                run.state = LiftState::ShortOfAir;
            }
        }
        Aimed { air, openings }
    }

    /// Where too little air would pass the blower, the lifts that are trimmed get more than they need, none of them beyond its peak:
    /// their water goes over its target then, and the guard holds the levels.
    fn feed_blower(&mut self, claims: &mut heapless::Vec<Claim, LIFTS>) {
        let (settings, least) = (&self.installation.settings, self.installation.air.least_air_m3_s);
        self.place.fed_on = false;
        if !(least > 0.0) {
            return;
        }
        let lifts = self.lifts.iter().fold(0.0f32, |sum, run| sum + run.air.m3_s);
        let bleed = positive(self.place.passes_m3_s - lifts);
        let asked = claims.iter().fold(bleed, |sum, claim| sum + claim.wanted.m3_s);
        let lacks = ENOUGH * least - asked;
        if !(lacks > 0.0) {
            return;
        }
        self.place.fed_on = true;
        let room = |run: &LiftRun, claim: &Claim| run.room_to_peak_m3_s(claim.wanted, settings);
        let all = self.lifts.iter().zip(claims.iter());
        let rooms = all.fold(0.0f32, |sum, (run, claim)| sum + room(run, claim));
        let share = smaller(lacks / larger(rooms, 1.0e-9), 1.0);
        for (run, claim) in self.lifts.iter().zip(claims.iter_mut()) {
            claim.wanted = FreeAir::from_m3_s(claim.wanted.m3_s + share * room(run, claim));
        }
    }

    /// A big lift that comes back from standing still opens its valve for half a minute, and meanwhile the pressure is still what it was
    /// without it: the others' valves go where they belong at the pressure of the moment, not at once where they belong in the end.
    #[inline(never)]
    fn hold_meanwhile(
        &self,
        manifold: &Manifold<'_>,
        branches: &heapless::Vec<Branch<'_>, LIFTS>,
        air: &[FreeAir; LIFTS],
        openings: &mut [Opening; LIFTS],
        seconds: f32,
    ) {
        let mut gets = *air;
        let lifts = self.lifts.iter().zip(&self.installation.lifts).zip(branches);
        for (((run, lift), branch), gets) in lifts.zip(&mut gets).filter(|(((run, _), _), _)| run.is_under_way()) {
            let soon = run.valve.position_after(lift.valve.stroke_s, seconds);
            *gets = FreeAir::from_m3_s(manifold.branch_m3_s(branch, soon, self.manifold_pa));
        }
        let settings = &self.installation.settings;
        let feed = manifold.feed_meanwhile(branches, air, &gets);
        let meanwhile = feed.openings(branches, (settings.least_opening, settings.most_opening));
        for ((opening, meanwhile), run) in openings.iter_mut().zip(meanwhile).zip(&self.lifts) {
            if !run.is_under_way() {
                *opening = meanwhile;
            }
        }
    }

    /// What the lifts into each tank together deliver, as a share of the most they ever did at such air; 1 where nothing is
    /// known yet.
    pub(super) fn together(&self) -> [f32; TANKS] {
        let mut together = [1.0f32; TANKS];
        let mut sums = [(0.0f32, 0.0f32); TANKS];
        for (index, (run, lift)) in self.lifts.iter().zip(&self.installation.lifts).enumerate() {
            if let (true, Some(sum)) = (run.is_trimmed(), sums.get_mut(usize::from(lift.to))) {
                let factor = self.filter.factor(index);
                let best = if run.trust.is_known() { run.trust.best() } else { factor };
                sum.0 += run.curve_m3_s * factor;
                sum.1 += run.curve_m3_s * best;
            }
        }
        for (share, (flow, most)) in together.iter_mut().zip(&sums) {
            if *most > 0.0 {
                *share = flow / most;
            }
        }
        together
    }

    #[inline(never)]
    pub(super) fn move_valves(&mut self, aimed: &Aimed<LIFTS>, step_ms: u32) {
        let settings = &self.installation.settings;
        let never_read = (0..self.tanks.len()).all(|tank| !self.filter.knows(tank));
        let hurried = self.place.hurried;
        for (run, opening) in self.lifts.iter_mut().zip(&aimed.openings) {
            run.move_valve(*opening, settings, never_read, hurried, step_ms);
        }
        let short = self.lifts.iter().any(|run| run.short);
        self.place
            .air_short
            .update_slow(short, !short, (20, AIR_SHORT_OFF_S), step_ms);
    }
}
