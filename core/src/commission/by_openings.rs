//! The lift's curve: opened step by step, each steady level read as a flow through the outlet just measured.

use super::Basin;
use super::curve_fit::{self, STEPS, Steady};
use super::inflow::is_weir;
use super::look::{Look, Move, Phase};
use super::rest::{REST_AT_MOST_S, Rest};
use super::{CLEAR_OF_LIMIT_M, CURVE_SIGMA, Refusal, outlet_fit};
use crate::installation::{Conditions, PooledLift};
use crate::lift::Curve;
use crate::math::seldom::{larger, limit, positive, smaller};
use crate::math::sqrt;
use crate::outlet::OutletView;
use crate::time::Held;
use crate::units::{FreeAir, WaterFlow};

/// Length of the measurement at one opening, in two halves, s.
const MEASURE_HALF_S: u32 = 60;
/// Most that the curve may miss a flow it was fitted to, as a share: what the form of a curve is itself off by. Beyond, it does not have
/// the lift's shape, and what lies between the openings cannot be promised.
const MOST_OFF: f32 = curve_fit::MODEL_ERROR;
/// Shares of the flow within reach that are tried over a weir; and elsewhere, where a small flow stands as next to no head.
const SHARES: [f32; STEPS] = [0.2, 0.35, 0.5, 0.65, 0.8, 1.0];
const SHARES_OF_HEAD: [f32; STEPS] = [0.27, 0.4, 0.52, 0.65, 0.8, 1.0];

/// What the law of a hole that is not covered is off by, share of the flow.
const UNCOVERED_ERROR: f32 = 0.06;

/// How this stage ends: the curve, or why not.
type Ended = Result<curve_fit::Found, Refusal>;

/// The openings of a trial.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ByOpenings {
    law: outlet_fit::Found,
    doubt: outlet_fit::ZeroDoubt,
    fitting: bool,
    begun: bool,
    held: Held,
    rest: Rest,
    fit: curve_fit::Fit,
    steady: heapless::Vec<Steady, STEPS>,
    opening: usize,
    /// Air as the lift takes it over air as told: what the told curve's air must be multiplied by.
    air_ratio: f32,
    /// Level from which readings are summed, m.
    origin_m: f32,
    sums: [f32; 5],
    counts: [u16; 2],
}

impl ByOpenings {
    /// With the law of the outlet, air and told flow of the last filling through the told law, and what is in doubt of the zero.
    pub fn new(law: outlet_fit::Found, fill: (FreeAir, f32), doubt: outlet_fit::ZeroDoubt, look: &Look) -> Self {
        let mut openings = Self {
            law,
            doubt,
            fitting: false,
            begun: false,
            held: Held::NONE,
            rest: Rest::default(),
            fit: curve_fit::Fit::default(),
            steady: heapless::Vec::new(),
            opening: 0,
            air_ratio: 1.0,
            origin_m: look.receiver_m,
            sums: [0.0; 5],
            counts: [0; 2],
        };
        // The flow while filling was read through the told law; through the true one it was so much more or less.
        let (air, flow) = fill;
        openings.note_air_ratio(&look.curve, air, flow * law.coefficient);
        openings
    }

    pub fn phase(&self) -> Phase {
        if self.fitting {
            Phase::FittingCurve
        } else {
            Phase::Opening
        }
    }

    /// The outlet's law that flows are read through.
    pub fn law(&self) -> outlet_fit::Found {
        self.law
    }

    /// One step; `Err` holds how it ended.
    #[allow(clippy::result_large_err)] // passed on in place
    pub fn advance(
        &mut self,
        look: &Look,
        lift: &PooledLift,
        (tank, outlet): (&Basin<'_>, &OutletView<'_>),
        conditions: &Conditions,
        peak_share: f32,
    ) -> Result<Move, Ended> {
        self.held.add(look.step_ms);
        if self.fitting {
            self.fit_curve(lift, conditions)
        } else {
            self.open(look, lift, tank, outlet, peak_share)
        }
    }

    fn next_opening(&mut self) {
        self.opening = self.opening.saturating_add(1);
        self.begun = false;
        self.held.clear();
        self.rest = Rest::default();
    }

    #[allow(clippy::result_large_err)]
    fn open(
        &mut self,
        look: &Look,
        lift: &PooledLift,
        tank: &Basin<'_>,
        outlet: &OutletView<'_>,
        peak_share: f32,
    ) -> Result<Move, Ended> {
        let shares = if is_weir(outlet) { &SHARES } else { &SHARES_OF_HEAD };
        let Some(share) = shares.get(self.opening) else {
            return self.end_openings();
        };
        let law = self.law;
        let through = |level_m: f32| law.coefficient * outlet.flows_m3_s(level_m - law.zero_m, Some(look.below_m));
        if !self.begun {
            self.begun = true;
            self.sums = [0.0; 5];
            self.counts = [0; 2];
            self.origin_m = look.receiver_m;
            let tank_most = through(tank.limits.high_warn_m - 4.0 * CLEAR_OF_LIMIT_M);
            let flow = share * smaller(tank_most, 0.9 * peak_share * look.peak.flow.m3_s);
            let taken = look.curve.air_for(WaterFlow::from_m3_s(flow)).unwrap_or(lift.air_floor);
            let air = FreeAir::from_m3_s(taken.m3_s / self.air_ratio);
            return Ok(Move::Air(if air > lift.air_floor { air } else { lift.air_floor }));
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
            if self.rest.note(look.receiver_m, look.step_ms) && long_enough {
                self.held.set_s(measuring_from);
            }
            return Ok(Move::Keep);
        }
        self.measure(look);
        if self.held.reached_s(measuring_from + 2 * MEASURE_HALF_S) {
            let uncovered = outlet_fit::is_uncovered(outlet, look.receiver_m - law.zero_m);
            self.note_steady(look, tank, if uncovered { UNCOVERED_ERROR } else { 0.0 }, through);
            self.next_opening();
        }
        Ok(Move::Keep)
    }

    fn measure(&mut self, look: &Look) {
        let half = usize::from(self.held.reached_s(REST_AT_MOST_S + MEASURE_HALF_S));
        if let (Some(reading), Some(count)) = (look.reading_m, self.counts.get_mut(half)) {
            *count = count.saturating_add(1);
            if let Some(sum) = self.sums.get_mut(half) {
                *sum += reading - self.origin_m;
            }
            self.sums[2] += look.source_m;
            self.sums[3] += look.receiver_m;
            self.sums[4] += look.air.m3_s;
        }
    }

    /// Turns the readings of one opening into a flow.
    fn note_steady(&mut self, look: &Look, tank: &Basin<'_>, form: f32, through: impl Fn(f32) -> f32) {
        let [first, second] = self.counts.map(f32::from);
        if first < 5.0 || second < 5.0 {
            return;
        }
        let [a, b, source, receiver, air] = self.sums;
        let (a, b) = (self.origin_m + a / first, self.origin_m + b / second);
        let mean = 0.5 * (a + b);
        let all = first + second;
        let half_s = seconds_of(MEASURE_HALF_S * 1000);
        let area = tank.area_m2(mean);
        let flow = through(mean) + positive(self.law.leak_m3_s) + area * (b - a) / half_s;
        let variance = tank.reading_m2;
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
                sigma_m3_s: sqrt(by_level * by_level + by_rise * by_rise + form * form * flow * flow),
                by_zero_m3_s: self.doubt.sigma_m * (self.doubt.log_per_m * through(mean) - slope),
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

    #[allow(clippy::result_large_err)]
    fn end_openings(&mut self) -> Result<Move, Ended> {
        if self.steady.len() < 3 {
            return Err(Err(Refusal::TooFewOpenings));
        }
        self.fitting = true;
        Ok(Move::Keep)
    }

    #[allow(clippy::result_large_err)]
    fn fit_curve(&mut self, lift: &PooledLift, conditions: &Conditions) -> Result<Move, Ended> {
        let Some(found) = self.fit.advance(&self.steady, lift, conditions, self.law.sigma) else {
            return Ok(Move::Keep);
        };
        Err(match found {
            None => Err(Refusal::NoOneCurve),
            Some(found) if found.worst > MOST_OFF => Err(Refusal::NoOneCurve),
            Some(found) if !(found.sigma <= CURVE_SIGMA) => Err(Refusal::TooUnsure),
            Some(found) => Ok(found),
        })
    }
}

#[allow(clippy::cast_precision_loss)] // durations of minutes
fn seconds_of(ms: u32) -> f32 {
    ms as f32 * 0.001
}
