//! The outlet's law: fill, let it drain, fit, and again while that tells more.

use super::Basin;
use super::inflow::{Inflow, is_weir};
use super::look::{Look, Move, Phase};
use super::outlet_fit::{self, Setting};
use super::recession::Record;
use super::rest::{REST_AT_MOST_S, Rest};
use super::{CLEAR_OF_LIMIT_M, MOST_TRICKLE, OUTLET_SIGMA, Refusal};
use crate::installation::PooledLift;
use crate::math::seldom::{larger, limit, smaller};
use crate::outlet::{Drain, Law, OutletView};
use crate::time::Held;
use crate::units::{FreeAir, WaterFlow};

/// Least bins of a recession that are fitted: 130 s.
const LEAST_BINS: usize = 44;
/// Flow for the recession to start from, as a multiple of the target: more head, more to read.
const START_ABOVE_TARGET: f32 = 1.25;
/// Recessions through one law made at most.
const RECESSIONS: u8 = 5;
/// Recessions made at most with all airs together.
const ALL_RECESSIONS: u8 = 8;
/// A law surer than this needs no further recession.
const GOOD_SIGMA: f32 = 0.012;
/// A law as unsure as this after one recession is not worth another.
const HOPELESS_SIGMA: f32 = 0.035;
/// Misfit above which a recession is not one of this outlet: twice what readings and small waves account for.
const MOST_MISFIT: f32 = 2.0;
/// Trickle above which the lift is thought to run, share of its target.
const TRICKLE: f32 = 0.005;
/// Share of the onset the lift is held at: the source's rise while a tank drains into it halves the onset, and near its seat a
/// valve passes up to three times what it is thought to.
const OF_ONSET: f32 = 0.2;
/// Onset of a lift, least, as a share of the told one: its slip may be a third off.
const LEAST_ONSET: f32 = 0.7;
/// Part of what a valve is seen to pass beyond what it was thought to that is sure enough to lower a lift's air floor by: over weirs,
/// where a trickle can be fitted, and elsewhere, where it hides.
const SURE_OF_SEAT: (f32, f32) = (0.7, 0.88);
/// Lower airs tried.
const LOWERINGS: u8 = 3;
/// A lower air is worth a recession when it is at most this share of the one before.
const LOWER: f32 = 0.93;
/// Head over the crest at the end that a wrong zero may account for, m.
const ZERO_DOUBT_M: f32 = 0.005;
/// What a lift may trickle, as the number of [`Inflow`]: over weirs; elsewhere before and after it was seen to.
const INFLOW_SIGMA: (f32, f32, f32) = (0.4, 0.1, 0.25);

/// What a step of this stage comes to.
pub enum Next {
    /// It goes on.
    Move(Move),
    /// It found the law.
    Found {
        /// The law.
        law: outlet_fit::Found,
        /// Air and told flow of the last filling, through the told outlet.
        fill: (FreeAir, f32),
        /// What is left in doubt of its zero.
        doubt: outlet_fit::ZeroDoubt,
    },
    /// It ended without.
    Refused(Refusal),
}

/// The recessions of a trial.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ByRecession {
    phase: Phase,
    begun: bool,
    held: Held,
    rest: Rest,
    start_m: f32,
    fill: (FreeAir, f32),
    still_flow_m3_s: f32,
    held_air: FreeAir,
    record: Record,
    fit: outlet_fit::Fit,
    recessions: u8,
    all_recessions: u8,
    lowered: u8,
    /// Air the lift takes at the least over the air it is thought to get, near its valve's seat: known once it trickled.
    seat: f32,
    /// True when this record is fitted again with what comes in left open.
    open_inflow: bool,
}

impl ByRecession {
    pub fn new() -> Self {
        Self {
            phase: Phase::Filling,
            begun: false,
            held: Held::NONE,
            rest: Rest::default(),
            start_m: 0.0,
            fill: (FreeAir::ZERO, 0.0),
            still_flow_m3_s: 0.0,
            held_air: FreeAir::ZERO,
            record: Record::new(0.0, 0.0),
            fit: outlet_fit::Fit::new(0.0, None, (0.0, 1.0)),
            recessions: 0,
            all_recessions: 0,
            lowered: 0,
            seat: 1.0,
            open_inflow: false,
        }
    }

    pub fn phase(&self) -> Phase {
        self.phase
    }

    pub fn advance(
        &mut self,
        look: &Look,
        lift: &PooledLift,
        tank: &Basin<'_>,
        outlet: &OutletView<'_>,
        peak_share: f32,
    ) -> Next {
        self.held.add(look.step_ms);
        match self.phase {
            Phase::Filling => self.fill(look, lift, tank, peak_share),
            Phase::Draining => self.drain(look, lift, tank, outlet),
            _ => self.fit_outlet(look, lift, tank, outlet),
        }
    }

    fn enter(&mut self, phase: Phase) {
        self.phase = phase;
        self.begun = false;
        self.held.clear();
        self.rest = Rest::default();
    }

    fn fill(&mut self, look: &Look, lift: &PooledLift, tank: &Basin<'_>, peak_share: f32) -> Next {
        if !self.begun {
            self.begun = true;
            if self.fill.0 > FreeAir::ZERO {
                // As before: the filter's factor means little while the lift trickles.
                return Next::Move(Move::Air(self.fill.0));
            }
            let wanted = START_ABOVE_TARGET * lift.target.m3_s / limit(look.factor, 0.3, 3.0);
            let most = peak_share * look.peak.flow.m3_s;
            let air = look.curve.air_for(WaterFlow::from_m3_s(smaller(wanted, most)));
            return Next::Move(Move::Air(air.unwrap_or(look.peak.air)));
        }
        let full = look.receiver_m > tank.limits.high_warn_m - CLEAR_OF_LIMIT_M;
        if full || self.rest.note(look.receiver_m, look.step_ms) {
            self.start_m = look.receiver_m;
            self.still_flow_m3_s = look.curve.flow(look.air).m3_s;
            self.fill = (look.air, look.factor * self.still_flow_m3_s);
            self.record = Record::new(look.receiver_m, look.below_m);
            self.enter(Phase::Draining);
        } else if self.held.reached_s(REST_AT_MOST_S) {
            return Next::Refused(Refusal::NeverSteady);
        }
        Next::Move(Move::Keep)
    }

    fn drain(&mut self, look: &Look, lift: &PooledLift, tank: &Basin<'_>, outlet: &OutletView<'_>) -> Next {
        if !self.begun {
            self.begun = true;
            self.held_air = self.still_air(look, lift, is_weir(outlet));
            return Next::Move(Move::Air(self.held_air));
        }
        let flow = look.curve.flow(look.air).m3_s;
        if look.receiver_m > look.riser_outlet_m && flow <= 0.0 {
            // Water runs back through the drowned riser: what counts begins when it has come clear.
            self.start_m = look.receiver_m;
            self.still_flow_m3_s = 0.0;
            self.record = Record::new(look.receiver_m, look.below_m);
        }
        let tail = if self.still_flow_m3_s > 0.0 {
            limit(flow / self.still_flow_m3_s, 0.0, 1.0)
        } else {
            0.0
        };
        let below_m = look.below_reading_m.unwrap_or(look.below_m);
        self.record.add(look.seconds, look.reading_m, below_m, tail);
        let low = look.receiver_m < tank.limits.low_act_m + CLEAR_OF_LIMIT_M;
        if self.record.is_full() || low {
            if self.record.len() < LEAST_BINS {
                return Next::Refused(Refusal::NoRoomToDrain);
            }
            self.open_inflow = is_weir(outlet);
            self.begin_fit(lift, outlet);
        }
        Next::Move(Move::Keep)
    }

    fn begin_fit(&mut self, lift: &PooledLift, outlet: &OutletView<'_>) {
        let (weir, narrow, wide) = INFLOW_SIGMA;
        let inflow = if is_weir(outlet) {
            // What stands above the crest at the end may be a trickle.
            let end = self.record.bin(self.record.len().saturating_sub(1));
            let left = end.map_or(0.0, |bin| outlet.flows_m3_s(bin.level_m, Some(bin.below_m)));
            let number = self.inflow(lift, None).number_of(outlet, left);
            (limit(number, 0.0, 1.0), weir)
        } else {
            (0.0, if self.open_inflow { wide } else { narrow })
        };
        self.fit = outlet_fit::Fit::new(self.start_m, self.fit.told(), inflow);
        self.enter(Phase::FittingOutlet);
    }

    /// What the number of the inflow means here; `look` for the slope of the lift's curve near its onset.
    fn inflow(&self, lift: &PooledLift, look: Option<&Look>) -> Inflow {
        let end = self.record.bin(self.record.len().saturating_sub(1));
        let slope = look.map_or(0.0, |look| {
            let little = look
                .curve
                .air_for(WaterFlow::from_m3_s(0.05 * lift.target.m3_s))
                .unwrap_or(FreeAir::ZERO);
            look.curve.at(little).per_source_m
        });
        Inflow {
            target_m3_s: lift.target.m3_s,
            by_source_m2_s: slope,
            end_below_m: end.map_or(0.0, |bin| bin.below_m),
        }
    }

    /// Air with which the lift is to stand still: never below its floor, as far as is known of what its valve passes.
    fn still_air(&self, look: &Look, lift: &PooledLift, weir: bool) -> FreeAir {
        // The floor gives way only as far as the valve surely passes more, and never where fish live on it.
        let part = if weir { SURE_OF_SEAT.0 } else { SURE_OF_SEAT.1 };
        let sure = if look.fish { 1.0 } else { larger(part * self.seat, 1.0) };
        let floor = lift.air_floor.m3_s / sure;
        let wanted = look
            .curve
            .onset()
            .map_or(floor, |onset| OF_ONSET * onset.m3_s / self.seat);
        FreeAir::from_m3_s(larger(wanted, floor))
    }

    /// Water was seen to come at this air, so the lift got its onset at the least: lowers the air for another recession by what
    /// its valve thus passes more than it was thought to. False when that is not worth a recession.
    fn lower_air(&mut self, look: &Look, lift: &PooledLift, weir: bool, trickle_m3_s: f32) -> bool {
        let before = self.still_air(look, lift, weir);
        let taken = look.curve.air_for(WaterFlow::from_m3_s(trickle_m3_s));
        if let Some(taken) = taken.filter(|_| look.air.m3_s > 0.0) {
            self.seat = limit(LEAST_ONSET * taken.m3_s / look.air.m3_s, self.seat, 5.0);
        }
        self.lowered = self.lowered.saturating_add(1);
        let further = self.lowered <= LOWERINGS && self.all_recessions < ALL_RECESSIONS;
        further && self.still_air(look, lift, weir).m3_s < LOWER * before.m3_s
    }

    /// Flow that still came at the end, by the head that stood over the crest beyond what a wrong zero accounts for; nothing
    /// when the level had not come to rest.
    fn stood_m3_s(&self, outlet: &OutletView<'_>) -> f32 {
        let back = |bins: usize| self.record.bin(self.record.len().saturating_sub(bins));
        match (back(1), back(4)) {
            (Some(last), Some(before)) if (before.level_m - last.level_m) < 0.001 => {
                0.7 * outlet.flows_m3_s(last.level_m - ZERO_DOUBT_M, Some(last.below_m))
            }
            _ => 0.0,
        }
    }

    fn fit_outlet(&mut self, look: &Look, lift: &PooledLift, tank: &Basin<'_>, outlet: &OutletView<'_>) -> Next {
        let below = self.record.bin(0).map(|bin| bin.below_m);
        let drains_into_source = outlet.to == Drain::Tank(lift.from);
        let setting = Setting {
            outlet,
            area_m2: tank.area_m2(self.start_m),
            reading_m2: tank.reading_m2,
            working_m: working_level(outlet, lift.target.m3_s, below, tank.rim_m),
            inflow: self.inflow(lift, drains_into_source.then_some(look)),
        };
        let Some(found) = self.fit.advance(&self.record, &setting) else {
            return Next::Move(Move::Keep);
        };
        let Some((found, told)) = found else {
            return Next::Refused(Refusal::TooUnsure);
        };
        let trickle = -found.leak_m3_s;
        let runs = trickle > larger(TRICKLE * lift.target.m3_s, 2.0 * found.leak_sigma_m3_s);
        let fits = found.misfit <= MOST_MISFIT;
        let seen = match (is_weir(outlet), runs && fits) {
            (true, true) => larger(self.stood_m3_s(outlet), trickle),
            (true, false) => 0.0,
            (false, _) => self.stood_m3_s(outlet),
        };
        if seen > TRICKLE * lift.target.m3_s && self.lower_air(look, lift, is_weir(outlet), seen) {
            // Once more with less air; what this one told is in doubt.
            self.all_recessions = self.all_recessions.saturating_add(1);
            self.fit.tell(None);
            self.recessions = 0;
            self.enter(Phase::Filling);
            return Next::Move(Move::Keep);
        }
        if (found.zero_m > ZERO_DOUBT_M || !fits) && !self.open_inflow {
            // The same record again, with what comes in left open.
            self.open_inflow = true;
            self.begin_fit(lift, outlet);
            return Next::Move(Move::Keep);
        }
        self.recessions = self.recessions.saturating_add(1);
        self.all_recessions = self.all_recessions.saturating_add(1);
        if !fits {
            return Next::Refused(Refusal::DoesNotFit);
        }
        let again = self.recessions < RECESSIONS && self.all_recessions < ALL_RECESSIONS;
        if found.sigma > GOOD_SIGMA && found.sigma < HOPELESS_SIGMA && again {
            // Another recession through the same law adds to what this one told.
            self.fit.tell(Some(told));
            self.enter(Phase::Filling);
            Next::Move(Move::Keep)
        } else if is_hole(outlet) && trickle > MOST_TRICKLE * lift.target.m3_s {
            // The way a hole runs dry bends the recession's end: with a trickle on top of it not even the outlet is told.
            Next::Refused(Refusal::LiftRuns)
        } else if found.sigma <= OUTLET_SIGMA {
            Next::Found {
                law: found,
                fill: self.fill,
                doubt: told.zero_doubt(found.misfit),
            }
        } else if runs {
            Next::Refused(Refusal::LiftRuns)
        } else {
            Next::Refused(Refusal::TooUnsure)
        }
    }
}

fn is_hole(outlet: &OutletView<'_>) -> bool {
    matches!(outlet.law, Law::Orifice { .. })
}

/// The level at which the outlet, as told, passes a flow: by halving between its crest and the rim.
fn working_level(outlet: &OutletView<'_>, flow_m3_s: f32, below_m: Option<f32>, rim_m: f32) -> f32 {
    let (mut low, mut high) = (outlet.law.is_dry_below_m(), rim_m);
    for _ in 0..14 {
        let middle = 0.5 * (low + high);
        if outlet.flows_m3_s(middle, below_m) < flow_m3_s {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
