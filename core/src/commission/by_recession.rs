//! The outlet's law: fill, let it drain, fit, and again while that tells more.

use super::look::{Look, Move, Phase};
use super::outlet_fit::{self, Setting};
use super::recession::Record;
use super::rest::{REST_AT_MOST_S, Rest};
use super::{CLEAR_OF_LIMIT_M, OUTLET_SIGMA, Refusal};
use crate::installation::Lift;
use crate::math::{larger, limit, smaller};
use crate::outlet::Outlet;
use crate::tank::Tank;
use crate::time::Held;
use crate::trim::air_when_held;
use crate::units::{FreeAir, WaterFlow};

/// Least bins of a recession that are fitted: 130 s.
const LEAST_BINS: usize = 44;
/// Flow for the recession to start from, as a multiple of the target: more head, more to read.
const START_ABOVE_TARGET: f32 = 1.25;
/// Recessions made at most.
const RECESSIONS: u8 = 3;
/// A law surer than this needs no further recession.
const GOOD_SIGMA: f32 = 0.012;
/// A law as unsure as this after one recession is not worth another.
const HOPELESS_SIGMA: f32 = 0.035;
/// Misfit above which a recession is not one of this outlet: four standard deviations of that of a full record.
const MOST_MISFIT: f32 = 1.5;
/// Inflow during a recession above which the lift is thought to have run, m3/s (0.25 L/min). A steady trickle holds the level
/// above the crest, and the outlet's coefficient and zero come out wrong to match.
const MOST_INFLOW_M3_S: f32 = 4.2e-6;
/// Zero beyond which a recession is made again with less air, to see whether it stays: a trickle looks the same, m.
const LIKELY_ZERO_M: f32 = 0.005;
/// Difference up to which two zeros are the same, m.
const SAME_ZERO_M: f32 = 0.001_5;
/// Share of the air left when the lift seems to have run, and how often it is lowered.
const LESS_AIR: f32 = 0.7;
const LOWERINGS: u8 = 3;
/// Recessions made at most with all airs together.
const ALL_RECESSIONS: u8 = 6;

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
    /// Share of the air for standing still that is used, and how often it was lowered.
    calm: f32,
    lowered: u8,
    zero_before_m: Option<f32>,
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
            fit: outlet_fit::Fit::new(0.0, None),
            recessions: 0,
            all_recessions: 0,
            calm: 1.0,
            lowered: 0,
            zero_before_m: None,
        }
    }

    pub fn phase(&self) -> Phase {
        self.phase
    }

    pub fn advance(&mut self, look: &Look, lift: &Lift, tank: &Tank, outlet: &Outlet, peak_share: f32) -> Next {
        self.held.add(look.step_ms);
        match self.phase {
            Phase::Filling => self.fill(look, lift, tank, peak_share),
            Phase::Draining => self.drain(look, lift, tank),
            _ => self.fit_outlet(look, lift, tank, outlet),
        }
    }

    fn enter(&mut self, phase: Phase) {
        self.phase = phase;
        self.begun = false;
        self.held.clear();
        self.rest = Rest::default();
    }

    fn fill(&mut self, look: &Look, lift: &Lift, tank: &Tank, peak_share: f32) -> Next {
        if !self.begun {
            self.begun = true;
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

    fn drain(&mut self, look: &Look, lift: &Lift, tank: &Tank) -> Next {
        // The source rises while the tank drains into it, and the onset falls: follow it down.
        let still = self.still_air(look, lift);
        let lower = !self.begun || self.held_air.m3_s > 1.05 * still.m3_s;
        if lower {
            self.held_air = still;
        }
        let wanted = if lower { Move::Air(still) } else { Move::Keep };
        if !self.begun {
            self.begun = true;
            return Next::Move(wanted);
        }
        let flow = look.curve.flow(look.air).m3_s;
        let tail = if self.still_flow_m3_s > 0.0 {
            limit(flow / self.still_flow_m3_s, 0.0, 1.0)
        } else {
            0.0
        };
        self.record.add(look.seconds, look.reading_m, look.below_m, tail);
        let low = look.receiver_m < tank.limits.low_act_m + CLEAR_OF_LIMIT_M;
        if self.record.is_full() || low {
            if self.record.len() < LEAST_BINS {
                return Next::Refused(Refusal::NoRoomToDrain);
            }
            self.fit = outlet_fit::Fit::new(self.start_m, self.fit.told());
            self.enter(Phase::FittingOutlet);
        }
        Next::Move(wanted)
    }

    /// Air with which the lift is to stand still: never below its floor, unless the floor had to give way.
    fn still_air(&self, look: &Look, lift: &Lift) -> FreeAir {
        let held = air_when_held(&look.curve, lift.air_floor);
        let least = smaller(held.m3_s, lift.air_floor.m3_s);
        FreeAir::from_m3_s(larger(self.calm * held.m3_s, least))
    }

    /// True when the recession looks as if water had gone on coming in.
    fn seems_to_run(&self, found: &outlet_fit::Found) -> bool {
        let new_zero = self
            .zero_before_m
            .is_none_or(|before| (found.zero_m - before).abs() > SAME_ZERO_M);
        found.leak_m3_s < -larger(MOST_INFLOW_M3_S, 2.0 * found.leak_sigma_m3_s)
            || (found.zero_m.abs() > LIKELY_ZERO_M && new_zero)
            || found.misfit > MOST_MISFIT
    }

    /// Lowers the air for another recession; false when it is as low as it may be.
    fn lower_air(&mut self, look: &Look, lift: &Lift) -> bool {
        let before = self.still_air(look, lift);
        self.calm *= LESS_AIR;
        self.lowered = self.lowered.saturating_add(1);
        let further = self.lowered <= LOWERINGS && self.all_recessions < ALL_RECESSIONS;
        further && self.still_air(look, lift).m3_s < 0.9 * before.m3_s
    }

    fn fit_outlet(&mut self, look: &Look, lift: &Lift, tank: &Tank, outlet: &Outlet) -> Next {
        let below = self.record.bin(0).map(|bin| bin.below_m);
        let setting = Setting {
            outlet,
            area_m2: tank.area_m2(self.start_m),
            reading_m2: tank.sensor.variance_m2(),
            working_m: working_level(outlet, lift.target.m3_s, below, tank.rim_m),
        };
        let Some(found) = self.fit.advance(&self.record, &setting) else {
            return Next::Move(Move::Keep);
        };
        self.recessions = self.recessions.saturating_add(1);
        self.all_recessions = self.all_recessions.saturating_add(1);
        let again = self.recessions < RECESSIONS && self.all_recessions < ALL_RECESSIONS;
        match found {
            None => Next::Refused(Refusal::TooUnsure),
            Some((found, _)) if !(found.sigma < HOPELESS_SIGMA) && found.misfit <= MOST_MISFIT => {
                Next::Refused(Refusal::TooUnsure)
            }
            Some((found, _)) if self.seems_to_run(&found) => {
                if self.lower_air(look, lift) {
                    self.zero_before_m = Some(found.zero_m);
                    self.fit.tell(None);
                    self.recessions = 0;
                    self.enter(Phase::Filling);
                    return Next::Move(Move::Keep);
                }
                Next::Refused(if found.misfit > MOST_MISFIT {
                    Refusal::DoesNotFit
                } else {
                    Refusal::LiftRuns
                })
            }
            Some((found, told)) if found.sigma > GOOD_SIGMA && again => {
                // Another recession through the same law adds to what this one told.
                self.fit.tell(Some(told));
                self.enter(Phase::Filling);
                Next::Move(Move::Keep)
            }
            Some((found, _)) if !(found.sigma <= OUTLET_SIGMA) => Next::Refused(Refusal::TooUnsure),
            Some((law, _)) => Next::Found { law, fill: self.fill },
        }
    }
}

/// The level at which the outlet, as told, passes a flow: by halving between its crest and the rim.
fn working_level(outlet: &Outlet, flow_m3_s: f32, below_m: Option<f32>, rim_m: f32) -> f32 {
    let (mut low, mut high) = (outlet.law.dry_below_m(), rim_m);
    for _ in 0..14 {
        let middle = 0.5 * (low + high);
        if outlet.flow_m3_s(middle, below_m) < flow_m3_s {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
