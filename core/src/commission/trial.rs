//! The course of a trial: fill, drain, fit, open step by step, fit.

use super::curve_fit::{self, STEPS, Steady};
use super::outlet_fit::{self, Setting};
use super::recession::Record;
use super::{CURVE_SIGMA, OUTLET_SIGMA, Outcome, Refusal};
use crate::installation::{Conditions, Installation, Lift};
use crate::lift::{Curve, Peak};
use crate::math::{larger, limit, smaller, sqrt};
use crate::outlet::{Drain, Outlet};
use crate::tank::Tank;
use crate::time::Held;
use crate::trim::{air_to_stand_still, air_when_held};
use crate::units::{FreeAir, WaterFlow};

/// Longest wait for a level to come to rest, s.
const REST_AT_MOST_S: u32 = 1200;
/// Time over which a resting level is compared, s.
const REST_OVER_S: u32 = 60;
/// A level that moved less than this over [`REST_OVER_S`] rests, m.
const AT_REST_M: f32 = 0.000_8;
/// Length of the measurement at one opening, in two halves, s.
const MEASURE_HALF_S: u32 = 60;
/// Distance kept from the upper warning level, m.
const CLEAR_OF_LIMIT_M: f32 = 0.005;
/// Least bins of a recession that are fitted: 130 s.
const LEAST_BINS: usize = 50;
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
/// Shares of the flow within reach that are tried.
const SHARES: [f32; STEPS] = [0.2, 0.35, 0.5, 0.65, 0.8, 1.0];

/// What the trial sees at one step.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Look {
    /// Milliseconds since the last step.
    pub step_ms: u32,
    /// The same in seconds.
    pub seconds: f32,
    /// Reading of the receiving tank, m, when one could be used.
    pub reading_m: Option<f32>,
    /// Believed level of the receiving tank, m.
    pub receiver_m: f32,
    /// Believed level of the source, m.
    pub source_m: f32,
    /// Floor of the receiving tank above the floor of the source, m.
    pub receiver_floor_m: f32,
    /// Level the outlet drains into, above the receiving tank's floor; far below when it falls free.
    pub below_m: f32,
    /// Air the lift is believed to get.
    pub air: FreeAir,
    /// Delivery factor believed before the trial.
    pub factor: f32,
    /// The lift's curve as told.
    pub curve: Curve,
    /// Its peak.
    pub peak: Peak,
    /// True when a level stands at an act limit, air is short, power is on backup: end the trial.
    pub stop: Option<Refusal>,
}

/// What the trial wants done.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Move {
    /// Leave the valve where it is.
    Keep,
    /// Open it for this air, at once.
    Air(FreeAir),
    /// It is over.
    End(Outcome),
}

/// Where a trial stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Phase {
    /// Filling the tank to a steady level.
    Filling,
    /// Letting it drain with the lift below its onset.
    Draining,
    /// Working out the outlet's law.
    FittingOutlet,
    /// Waiting for a steady level at an opening, and measuring there.
    Opening,
    /// Working out the lift's curve.
    FittingCurve,
}

/// A trial of one lift.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trial {
    /// The lift, by index.
    pub lift: usize,
    outlet: usize,
    phase: Phase,
    begun: bool,
    held: Held,
    rest_since: Held,
    rest_from_m: f32,
    start_m: f32,
    still_flow_m3_s: f32,
    held_air: FreeAir,
    record: Record,
    outlet_fit: outlet_fit::Fit,
    recessions: u8,
    all_recessions: u8,
    /// Share of the air for standing still that is used, and how often it was lowered.
    calm: f32,
    lowered: u8,
    zero_before_m: Option<f32>,
    told: Option<outlet_fit::Told>,
    law: Option<outlet_fit::Found>,
    curve_fit: curve_fit::Fit,
    steady: heapless::Vec<Steady, STEPS>,
    opening: usize,
    /// Air as the lift takes it over air as told: what the told curve's air must be multiplied by.
    air_ratio: f32,
    fill: (FreeAir, f32),
    sums: [f32; 5],
    counts: [u16; 2],
}

/// Whether a trial of this lift is possible here, and with which outlet of its receiving tank.
///
/// # Errors
/// The [`Refusal`] that says what to do instead.
pub fn possible<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    index: usize,
    curve: &Curve,
) -> Result<usize, Refusal> {
    let Some(lift) = installation.lifts.get(index) else {
        return Err(Refusal::OutletUnclear);
    };
    let others = installation
        .lifts
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != index);
    if others
        .clone()
        .any(|(_, other)| other.to == lift.to || other.from == lift.to)
    {
        return Err(Refusal::SharedTank);
    }
    let Some(tank) = installation.tanks.get(usize::from(lift.to)) else {
        return Err(Refusal::OutletUnclear);
    };
    let mut working = tank
        .outlets
        .iter()
        .enumerate()
        .filter(|(_, outlet)| outlet.law.dry_below_m() < tank.limits.high_warn_m);
    let (Some((number, outlet)), None) = (working.next(), working.next()) else {
        return Err(Refusal::OutletUnclear);
    };
    // A pipe that ends under water stops when the levels are equal, not at its end.
    let stops_at = match outlet.to {
        Drain::Tank(to) => {
            let below = installation.tanks.get(usize::from(to));
            let level =
                below.map_or(0.0, |t| t.limits.low_warn_m) + installation.floor_m(to) - installation.floor_m(lift.to);
            larger(outlet.law.dry_below_m(), level)
        }
        Drain::Away => outlet.law.dry_below_m(),
    };
    if stops_at < tank.limits.low_act_m {
        return Err(Refusal::NoRoomToDrain);
    }
    if air_to_stand_still(curve, lift.air_floor).is_none() {
        return Err(Refusal::FloorMovesWater);
    }
    Ok(number)
}

impl Trial {
    /// A trial of `lift` through `outlet` of its receiving tank.
    #[must_use]
    pub fn new(lift: usize, outlet: usize) -> Self {
        Self {
            lift,
            outlet,
            phase: Phase::Filling,
            begun: false,
            held: Held::NONE,
            rest_since: Held::NONE,
            rest_from_m: 0.0,
            start_m: 0.0,
            still_flow_m3_s: 0.0,
            held_air: FreeAir::ZERO,
            record: Record::new(0.0),
            outlet_fit: outlet_fit::Fit::new(0.0, None),
            recessions: 0,
            all_recessions: 0,
            calm: 1.0,
            lowered: 0,
            zero_before_m: None,
            told: None,
            law: None,
            curve_fit: curve_fit::Fit::default(),
            steady: heapless::Vec::new(),
            opening: 0,
            air_ratio: 1.0,
            fill: (FreeAir::ZERO, 0.0),
            sums: [0.0; 5],
            counts: [0; 2],
        }
    }

    /// Where it stands.
    #[must_use]
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// The openings measured so far.
    #[must_use]
    pub fn steady(&self) -> &[Steady] {
        &self.steady
    }

    /// True while the other lifts must leave their valves alone, so that the manifold's pressure keeps still.
    #[must_use]
    pub fn others_wait(&self) -> bool {
        self.phase == Phase::Opening
    }

    /// One step of the trial.
    pub fn advance(&mut self, look: &Look, lift: &Lift, tank: &Tank, conditions: &Conditions, peak_share: f32) -> Move {
        self.held.add(look.step_ms);
        if let Some(why) = look.stop {
            return self.end_early(why);
        }
        let Some(outlet) = tank.outlets.get(self.outlet) else {
            return self.end_early(Refusal::OutletUnclear);
        };
        match self.phase {
            Phase::Filling => self.fill(look, lift, tank, peak_share),
            Phase::Draining => self.drain(look, lift, tank),
            Phase::FittingOutlet => self.fit_outlet(look, lift, tank, outlet),
            Phase::Opening => self.open(look, lift, tank, outlet, peak_share),
            Phase::FittingCurve => self.fit_curve(lift, conditions),
        }
    }

    fn enter(&mut self, phase: Phase) {
        self.phase = phase;
        self.begun = false;
        self.held.clear();
        self.rest_since.clear();
    }

    /// The outcome so far with `why` for what was not reached.
    fn end_early(&self, why: Refusal) -> Move {
        Move::End(self.outcome(self.law.ok_or(why), Err(why)))
    }

    fn outcome(
        &self,
        outlet_law: Result<outlet_fit::Found, Refusal>,
        curve: Result<curve_fit::Found, Refusal>,
    ) -> Outcome {
        let narrow = |index: usize| u8::try_from(index).unwrap_or(u8::MAX);
        Outcome {
            lift: narrow(self.lift),
            outlet: narrow(self.outlet),
            outlet_law,
            curve,
        }
    }

    /// True once the level has moved less than [`AT_REST_M`] over [`REST_OVER_S`].
    fn rests(&mut self, level_m: f32, step_ms: u32) -> bool {
        if self.rest_since.ms() == 0 {
            self.rest_from_m = level_m;
        }
        self.rest_since.add(step_ms);
        if !self.rest_since.reached_s(REST_OVER_S) {
            return false;
        }
        let moved = (level_m - self.rest_from_m).abs();
        self.rest_since.clear();
        moved < AT_REST_M
    }

    fn fill(&mut self, look: &Look, lift: &Lift, tank: &Tank, peak_share: f32) -> Move {
        if !self.begun {
            self.begun = true;
            let wanted = START_ABOVE_TARGET * lift.target.m3_s / limit(look.factor, 0.3, 3.0);
            let most = peak_share * look.peak.flow.m3_s;
            let air = look.curve.air_for(WaterFlow::from_m3_s(smaller(wanted, most)));
            return Move::Air(air.unwrap_or(look.peak.air));
        }
        let full = look.receiver_m > tank.limits.high_warn_m - CLEAR_OF_LIMIT_M;
        if full || self.rests(look.receiver_m, look.step_ms) {
            self.start_m = look.receiver_m;
            self.still_flow_m3_s = look.curve.flow(look.air).m3_s;
            self.fill = (look.air, look.factor * self.still_flow_m3_s);
            self.record = Record::new(look.receiver_m);
            self.enter(Phase::Draining);
            return Move::Keep;
        }
        if self.held.reached_s(REST_AT_MOST_S) {
            self.end_early(Refusal::NeverSteady)
        } else {
            Move::Keep
        }
    }

    fn drain(&mut self, look: &Look, lift: &Lift, tank: &Tank) -> Move {
        // The source rises while the tank drains into it, and the onset falls: follow it down.
        let still = self.still_air(look, lift);
        let lower = !self.begun || self.held_air.m3_s > 1.05 * still.m3_s;
        if lower {
            self.held_air = still;
        }
        let wanted = if lower { Move::Air(still) } else { Move::Keep };
        if !self.begun {
            self.begun = true;
            return wanted;
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
            if self.record.bins().len() < LEAST_BINS {
                return self.end_early(Refusal::NoRoomToDrain);
            }
            self.outlet_fit = outlet_fit::Fit::new(self.start_m, self.told);
            self.enter(Phase::FittingOutlet);
        }
        wanted
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

    fn fit_outlet(&mut self, look: &Look, lift: &Lift, tank: &Tank, outlet: &Outlet) -> Move {
        let below = self.record.bins().first().map(|bin| bin.below_m);
        let setting = Setting {
            outlet,
            area_m2: tank.area_m2(self.start_m),
            reading_m2: tank.sensor.variance_m2(),
            working_m: working_level(outlet, lift.target.m3_s, below, tank.rim_m),
        };
        let Some(found) = self.outlet_fit.advance(self.record.bins(), &setting) else {
            return Move::Keep;
        };
        self.recessions = self.recessions.saturating_add(1);
        self.all_recessions = self.all_recessions.saturating_add(1);
        let again = self.recessions < RECESSIONS && self.all_recessions < ALL_RECESSIONS;
        let law = match found {
            None => Err(Refusal::TooUnsure),
            Some((found, _)) if !(found.sigma < HOPELESS_SIGMA) && found.misfit <= MOST_MISFIT => {
                Err(Refusal::TooUnsure)
            }
            Some((found, _)) if self.seems_to_run(&found) => {
                if self.lower_air(look, lift) {
                    self.zero_before_m = Some(found.zero_m);
                    self.told = None;
                    self.recessions = 0;
                    self.enter(Phase::Filling);
                    return Move::Keep;
                }
                Err(if found.misfit > MOST_MISFIT {
                    Refusal::DoesNotFit
                } else {
                    Refusal::LiftRuns
                })
            }
            Some((found, told)) if found.sigma > GOOD_SIGMA && again => {
                // Another recession through the same law adds to what this one told.
                self.told = Some(told);
                self.enter(Phase::Filling);
                return Move::Keep;
            }
            Some((found, _)) if !(found.sigma <= OUTLET_SIGMA) => Err(Refusal::TooUnsure),
            Some((found, _)) => Ok(found),
        };
        match law {
            Err(why) => Move::End(self.outcome(Err(why), Err(why))),
            Ok(found) => {
                self.law = Some(found);
                // The flow while filling was read through the told law; through the true one it was so much more or less.
                let (air, flow) = self.fill;
                self.note_air_ratio(&look.curve, air, flow * found.coefficient);
                self.enter(Phase::Opening);
                Move::Keep
            }
        }
    }

    fn open(&mut self, look: &Look, lift: &Lift, tank: &Tank, outlet: &Outlet, peak_share: f32) -> Move {
        let (Some(law), Some(share)) = (self.law, SHARES.get(self.opening)) else {
            return self.end_openings();
        };
        let through = |level_m: f32| law.coefficient * outlet.flow_m3_s(level_m - law.zero_m, Some(look.below_m));
        if !self.begun {
            self.begun = true;
            self.sums = [0.0; 5];
            self.counts = [0; 2];
            let tank_most = through(tank.limits.high_warn_m - 4.0 * CLEAR_OF_LIMIT_M);
            let flow = share * smaller(tank_most, 0.9 * peak_share * look.peak.flow.m3_s);
            let taken = look.curve.air_for(WaterFlow::from_m3_s(flow)).unwrap_or(lift.air_floor);
            let air = FreeAir::from_m3_s(taken.m3_s / self.air_ratio);
            return Move::Air(if air > lift.air_floor { air } else { lift.air_floor });
        }
        if look.receiver_m > tank.limits.high_warn_m - CLEAR_OF_LIMIT_M {
            return self.end_openings();
        }
        let measuring_from = REST_AT_MOST_S;
        if !self.held.reached_s(measuring_from) {
            // At rest: jump to the measurement by moving the stopwatch on.
            let slope = (through(look.receiver_m + 0.001) - through(look.receiver_m - 0.001)) / 0.002;
            let settling_s = limit(5.0 * tank.area_m2(look.receiver_m) / larger(slope, 1.0e-5), 60.0, 900.0);
            let long_enough = seconds_of(self.held.ms()) > settling_s;
            if self.rests(look.receiver_m, look.step_ms) && long_enough {
                self.held.set_s(measuring_from);
            }
            return Move::Keep;
        }
        let half = usize::from(self.held.reached_s(measuring_from + MEASURE_HALF_S));
        if let (Some(reading), Some(count)) = (look.reading_m, self.counts.get_mut(half)) {
            *count = count.saturating_add(1);
            if let Some(sum) = self.sums.get_mut(half) {
                *sum += reading - self.start_m;
            }
            self.sums[2] += look.source_m;
            self.sums[3] += look.receiver_m;
            self.sums[4] += look.air.m3_s;
        }
        if self.held.reached_s(measuring_from + 2 * MEASURE_HALF_S) {
            self.note_steady(look, tank, &law, through);
            self.opening = self.opening.saturating_add(1);
            self.enter(Phase::Opening);
        }
        Move::Keep
    }

    /// Turns the readings of one opening into a flow.
    fn note_steady(&mut self, look: &Look, tank: &Tank, law: &outlet_fit::Found, through: impl Fn(f32) -> f32) {
        let [first, second] = self.counts.map(f32::from);
        if first < 5.0 || second < 5.0 {
            return;
        }
        let [a, b, source, receiver, air] = self.sums;
        let (a, b) = (self.start_m + a / first, self.start_m + b / second);
        let mean = 0.5 * (a + b);
        let all = first + second;
        let half_s = seconds_of(MEASURE_HALF_S * 1000);
        let area = tank.area_m2(mean);
        let flow = through(mean) + law.leak_m3_s + area * (b - a) / half_s;
        let variance = tank.sensor.variance_m2();
        let slope = (through(mean + 0.001) - through(mean - 0.001)) / 0.002;
        let by_level = slope * sqrt(variance / all);
        let by_rise = area * sqrt(variance * (1.0 / first + 1.0 / second)) / half_s;
        if flow > 0.0 && air > 0.0 {
            self.note_air_ratio(&look.curve, FreeAir::from_m3_s(air / all), flow);
            let _ = self.steady.push(Steady {
                air: FreeAir::from_m3_s(air / all),
                source_m: source / all,
                receiver_m: look.receiver_floor_m + receiver / all,
                flow_m3_s: flow,
                sigma_m3_s: sqrt(by_level * by_level + by_rise * by_rise),
            });
        }
    }

    /// Learns from a flow at a told air by how much the air must be scaled. (Scaling the flow instead goes wrong near the onset,
    /// where a little air is all the flow.)
    fn note_air_ratio(&mut self, curve: &Curve, air: FreeAir, flow_m3_s: f32) {
        if let Some(taken) = curve
            .air_for(WaterFlow::from_m3_s(flow_m3_s))
            .filter(|_| air > FreeAir::ZERO)
        {
            self.air_ratio = limit(taken.m3_s / air.m3_s, 0.3, 3.0);
        }
    }

    fn end_openings(&mut self) -> Move {
        if self.steady.len() < 3 {
            return self.end_early(Refusal::TooFewOpenings);
        }
        self.enter(Phase::FittingCurve);
        Move::Keep
    }

    fn fit_curve(&mut self, lift: &Lift, conditions: &Conditions) -> Move {
        let Some(law) = self.law else {
            return self.end_early(Refusal::TooUnsure);
        };
        let Some(found) = self.curve_fit.advance(&self.steady, lift, conditions, law.sigma) else {
            return Move::Keep;
        };
        let curve = match found {
            None => Err(Refusal::DoesNotFit),
            Some(found) if found.worst > 0.05 => Err(Refusal::DoesNotFit),
            Some(found) if !(found.sigma <= CURVE_SIGMA) => Err(Refusal::TooUnsure),
            Some(found) => Ok(found),
        };
        Move::End(self.outcome(Ok(law), curve))
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

#[allow(clippy::cast_precision_loss)] // durations of minutes
fn seconds_of(ms: u32) -> f32 {
    ms as f32 * 0.001
}
