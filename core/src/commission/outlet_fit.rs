//! The outlet law from a recession: with the lift below its onset the tank drains through its outlet alone, and its known area
//! turns the fall of the level into a flow.
//!
//! Fitted: the outlet's coefficient, the zero of the level sensor against the crest, a leak or a trickle of the lift, the
//! starting level, and how fast the lift's flow tailed off. Gauss-Newton on the binned levels with priors; the trajectories (one plain, one shifted per
//! parameter) are integrated together, a few bins a call, so that no call takes long.

use super::inflow::{Inflow, is_weir};
use super::normal::{Normal, inverse};
use super::recession::{Bin, Record, width_s};
use crate::math::seldom::{larger, limit, positive};
use crate::math::{exp, ln, sqrt};
use crate::outlet::{Law, OutletView};
use serde::{Deserialize, Serialize};

/// Parameters: ln coefficient, zero, number of the inflow, start level, tail exponent.
pub const PARAMETERS: usize = 5;
/// Gauss-Newton passes.
const PASSES: u8 = 8;
/// Bins integrated a call.
const BINS_A_CALL: usize = 4;
/// Longest step of the integration, s.
const STEP_S: f32 = 2.5;
/// Shifts for the slopes of the model.
const SHIFT: [f32; PARAMETERS] = [0.02, 0.000_5, 0.02, 0.001, 0.05];
/// Standard deviations of the priors: a coefficient a third off, 3 mm, (as asked for), 3 mm, a tail half as fast again.
const PRIOR: [f32; PARAMETERS] = [0.3, 0.003, 1.0, 0.003, 0.5];
/// Largest move in one pass.
const MOST_MOVE: [f32; PARAMETERS] = [0.3, 0.004, 0.1, 0.005, 0.5];
/// What no law follows: waves, capillarity, a surface that is not quite flat, m.
const MODEL_ERROR_M: f32 = 0.000_15;
/// Head of a drowned outlet below which its law is not trusted, and what a level may be off there, m: the levels all but meet, and
/// every small thing that moves one of them shows.
const MEETING_M: f32 = 0.008;
const MEETING_ERROR_M: f32 = 0.000_7;
/// How far the zeros of two tanks' sensors may be apart, m.
const ZEROS_APART_M: f32 = 0.003;
/// What the law of a hole that is not covered is off by, as a level, m.
const UNCOVERED_ERROR_M: f32 = 0.001_5;
/// Head over a hole's centre, in its radius, below which it works near its brim, and what its law is off by there.
const NEAR_BRIM: f32 = 1.1;
const BRIM_SIGMA: f32 = 0.03;
/// How well the water surface of a tank is known: a rule gives about one percent, uniform.
const AREA_SIGMA: f32 = 0.006;

/// What is fitted to.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Setting<'a> {
    /// The outlet with its told coefficient.
    pub outlet: &'a OutletView<'a>,
    /// Water surface of the tank at a level, m2.
    pub area_m2: f32,
    /// Variance of one reading, m2.
    pub reading_m2: f32,
    /// Level at which the outlet works, as read, m.
    pub working_m: f32,
    /// What the number of the inflow means.
    pub inflow: Inflow,
}

/// The law found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Found {
    /// Multiplier on the told coefficient.
    pub coefficient: f32,
    /// To be taken from readings so that they count from the true crest, m.
    pub zero_m: f32,
    /// Water lost another way, m3/s; negative: what the lift still delivered at the end.
    pub leak_m3_s: f32,
    /// Its standard deviation, m3/s.
    pub leak_sigma_m3_s: f32,
    /// Standard deviation of the outlet's flow at the working level, share.
    pub sigma: f32,
    /// Misfit: squared residuals over their expectation.
    pub misfit: f32,
}

/// What recessions told of coefficient (its logarithm) and zero: the prior of the next. What the lift trickles or leaks
/// away is each recession's own.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Told {
    mean: [f32; 2],
    information: [[f32; 2]; 2],
}

/// What is left in doubt of the zero once the law is accepted: its error is one and the same at every opening read through it.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ZeroDoubt {
    /// Standard deviation of the zero, m.
    pub sigma_m: f32,
    /// How the coefficient's logarithm goes with the zero, 1/m.
    pub log_per_m: f32,
}

impl Told {
    /// What is left in doubt of the zero; `misfit` as of the fit that told this.
    #[must_use]
    pub fn zero_doubt(&self, misfit: f32) -> ZeroDoubt {
        match inverse(&self.information) {
            Some([_, [with_log, own]]) if own > 0.0 => ZeroDoubt {
                sigma_m: sqrt(own * larger(misfit, 1.0)),
                log_per_m: with_log / own,
            },
            _ => ZeroDoubt::default(),
        }
    }
}

/// A fit under way.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fit {
    parameters: [f32; PARAMETERS],
    start_m: f32,
    told: Option<Told>,
    /// Standard deviation of the number of the inflow, about nothing.
    inflow_sigma: f32,
    normal: Normal<PARAMETERS>,
    trajectories: [f32; PARAMETERS + 1],
    bin: u8,
    pass: u8,
}

impl Fit {
    /// A fit that starts from the law as installed, or from what an earlier recession told, the first level, and the number
    /// of the inflow to begin with and its standard deviation about nothing.
    #[must_use]
    pub fn new(start_m: f32, told: Option<Told>, (inflow, inflow_sigma): (f32, f32)) -> Self {
        let mut parameters = expected(start_m, told.as_ref());
        if let Some(number) = parameters.get_mut(2) {
            *number = inflow;
        }
        let mut fit = Self {
            parameters,
            start_m,
            told,
            inflow_sigma,
            normal: Normal::NONE,
            trajectories: [start_m; PARAMETERS + 1],
            bin: 0,
            pass: 0,
        };
        fit.begin_pass();
        fit
    }

    /// What recessions so far have told.
    #[must_use]
    pub fn told(&self) -> Option<Told> {
        self.told
    }

    /// Puts what the next fit is to start from.
    pub fn tell(&mut self, told: Option<Told>) {
        self.told = told;
    }

    fn shifted(&self, which: usize) -> [f32; PARAMETERS] {
        let mut parameters = self.parameters;
        if let (Some(value), Some(shift)) = (
            which.checked_sub(1).and_then(|i| parameters.get_mut(i)),
            which.checked_sub(1).and_then(|i| SHIFT.get(i)),
        ) {
            *value += shift;
        }
        parameters
    }

    fn begin_pass(&mut self) {
        let mut back = [0.0f32; PARAMETERS];
        let start = expected(self.start_m, self.told.as_ref());
        for ((back, start), now) in back.iter_mut().zip(&start).zip(&self.parameters) {
            *back = start - now;
        }
        let mut sigma = PRIOR;
        if let Some(own) = sigma.get_mut(2) {
            *own = self.inflow_sigma;
        }
        self.normal = match &self.told {
            None => Normal::with_prior(&back, &sigma),
            Some(told) => {
                let mut information = [[0.0f32; PARAMETERS]; PARAMETERS];
                for (row, of) in information.iter_mut().zip(&told.information) {
                    for (slot, value) in row.iter_mut().zip(of) {
                        *slot = *value;
                    }
                }
                for (i, (row, sigma)) in information.iter_mut().zip(&sigma).enumerate() {
                    if let (true, Some(own)) = (i >= told.mean.len(), row.get_mut(i)) {
                        *own = 1.0 / (sigma * sigma);
                    }
                }
                Normal::with_information(&back, &information)
            }
        };
        for which in 0..=PARAMETERS {
            let [_, _, _, level, _] = self.shifted(which);
            if let Some(slot) = self.trajectories.get_mut(which) {
                *slot = level;
            }
        }
        self.bin = 0;
    }

    /// Works on for one call. `None` while under way; then the law, or `Some(None)` when the record does not determine it.
    pub fn advance(&mut self, record: &Record, setting: &Setting<'_>) -> Option<Option<(Found, Told)>> {
        let first_below_m = record.bin(0).map(|bin| bin.below_m);
        for _ in 0..BINS_A_CALL {
            let Some(bin) = record.bin(usize::from(self.bin)) else {
                return self.end_pass(first_below_m, setting);
            };
            self.integrate(&bin, width_s(usize::from(self.bin)), first_below_m, setting);
            self.bin = self.bin.saturating_add(1);
        }
        None
    }

    /// Carries every trajectory over one bin and notes its residual at the middle.
    fn integrate(&mut self, bin: &Bin, width_s: f32, first_below_m: Option<f32>, setting: &Setting<'_>) {
        let (mut middle, mut slopes) = (0.0f32, [0.0f32; PARAMETERS]);
        for which in 0..=PARAMETERS {
            let parameters = self.shifted(which);
            let Some(level) = self.trajectories.get_mut(which) else {
                continue;
            };
            let rate = Rate::new(&parameters, first_below_m, setting);
            let steps = larger(width_s / STEP_S, 1.0);
            let (mut left, mut fallen) = (width_s, 0.0f32);
            let before = *level;
            while left > 1.0e-3 {
                let dt = if left < width_s / steps { left } else { width_s / steps };
                let half = *level + 0.5 * dt * rate.m_s(*level, bin, &parameters, setting);
                *level += dt * rate.m_s(half, bin, &parameters, setting);
                fallen += dt * (half - before);
                left -= dt;
            }
            let mean = before + fallen / width_s;
            if which == 0 {
                middle = mean;
            } else if let (Some(slope), Some(shift)) = (slopes.get_mut(which - 1), SHIFT.get(which - 1)) {
                *slope = (mean - middle) / shift;
            }
        }
        if bin.count > 0 {
            let [_, zero, ..] = self.parameters;
            let drowned = !is_weir(setting.outlet) && bin.below_m > setting.outlet.law.is_dry_below_m();
            let meeting = drowned && middle - zero - bin.below_m < MEETING_M;
            let law_m2 = if meeting {
                MEETING_ERROR_M * MEETING_ERROR_M
            } else {
                0.0
            } + form_m2(setting.outlet, middle - zero)
                + below_m2(middle - zero, bin, first_below_m, zero, setting);
            let variance = setting.reading_m2 / f32::from(bin.count) + MODEL_ERROR_M * MODEL_ERROR_M + law_m2;
            self.normal.add(bin.level_m - middle, &slopes, 1.0 / variance);
        }
    }

    fn end_pass(&mut self, first_below_m: Option<f32>, setting: &Setting<'_>) -> Option<Option<(Found, Told)>> {
        let Some((step, covariance)) = self.normal.solve() else {
            return Some(None);
        };
        for ((value, step), most) in self.parameters.iter_mut().zip(&step).zip(&MOST_MOVE) {
            *value += limit(*step, -most, *most);
        }
        if let Some(tail) = self.parameters.last_mut() {
            *tail = limit(*tail, 0.2, 4.0);
        }
        let misfit = self.normal.chi2 / larger(cast(self.normal.rows) - 4.0, 1.0);
        self.pass = self.pass.saturating_add(1);
        if self.pass < PASSES {
            self.begin_pass();
            return None;
        }
        let [log_c, zero, number, _, _] = self.parameters;
        let working = setting.outlet.flows(setting.working_m - zero, first_below_m);
        let by_zero = if working.flow_m3_s > 0.0 {
            -working.per_level / working.flow_m3_s
        } else {
            0.0
        };
        let at = |i: usize, j: usize| {
            covariance
                .get(i)
                .and_then(|row| row.get(j))
                .copied()
                .unwrap_or(f32::MAX)
        };
        let variance = at(0, 0) + 2.0 * by_zero * at(0, 1) + by_zero * by_zero * at(1, 1);
        let mut block = [[0.0f32; 2]; 2];
        for (row, of) in block.iter_mut().zip(&covariance) {
            for (slot, value) in row.iter_mut().zip(of) {
                *slot = *value;
            }
        }
        let Some(information) = inverse(&block) else {
            return Some(None);
        };
        let form = setting.outlet.law.form_sigma() + brim_sigma(setting, exp(log_c));
        // A trickle stands as a head over the crest. A weir tells it from a wrong zero by its course; elsewhere all of a zero above
        // the crest may be one.
        let trickled = if is_weir(setting.outlet) {
            0.0
        } else {
            by_zero * positive(zero)
        };
        let told = Told {
            mean: [log_c, zero],
            information,
        };
        let (leak_m3_s, leak_slope) = setting.inflow.lost_m3_s(setting.outlet, number);
        let found = Found {
            coefficient: exp(log_c),
            zero_m: zero,
            leak_m3_s,
            leak_sigma_m3_s: leak_slope * sqrt(at(2, 2) * larger(misfit, 1.0)),
            sigma: sqrt(
                positive(variance) * larger(misfit, 1.0) + AREA_SIGMA * AREA_SIGMA + form * form + trickled * trickled,
            ),
            misfit,
        };
        Some(Some((found, told)))
    }
}

/// How much of a change of the level below an outlet counts like one of its own level.
fn feels_below(outlet: &OutletView<'_>, level_m: f32, below_m: Option<f32>) -> f32 {
    let at = outlet.flows(level_m, below_m);
    if at.per_level > 0.0 {
        -at.per_downstream / at.per_level
    } else {
        0.0
    }
}

/// Variance of a level because the sensor below has a zero of its own: it counts as far as the outlet feels that level more, or
/// less, than where it works. (A drowned pipe feels it always: there its zero is part of the outlet's.)
fn below_m2(level_m: f32, bin: &Bin, first_below_m: Option<f32>, zero_m: f32, setting: &Setting<'_>) -> f32 {
    if bin.below_m < setting.outlet.law.is_dry_below_m() {
        return 0.0;
    }
    let at_work = feels_below(setting.outlet, setting.working_m - zero_m, first_below_m);
    let off = ZEROS_APART_M * (feels_below(setting.outlet, level_m, Some(bin.below_m)) - at_work);
    off * off
}

/// Variance of a level because the law of the outlet is known less well there.
fn form_m2(outlet: &OutletView<'_>, level_m: f32) -> f32 {
    if is_uncovered(outlet, level_m) {
        UNCOVERED_ERROR_M * UNCOVERED_ERROR_M
    } else {
        0.0
    }
}

/// What a hole's law is off by more where it works with its upper edge near the surface: there its flow is up to 4 % less than by the
/// head over its centre (strips of the hole, added up).
fn brim_sigma(setting: &Setting<'_>, coefficient: f32) -> f32 {
    match &setting.outlet.law {
        Law::Orifice { centre_m, bore_m, .. } => {
            let head_m = (setting.working_m - centre_m) / larger(coefficient * coefficient, 0.1);
            if head_m < NEAR_BRIM * 0.5 * bore_m {
                BRIM_SIGMA
            } else {
                0.0
            }
        }
        _ => 0.0,
    }
}

/// True for a hole that is not covered: how its flow goes with the levels on both sides is known less well.
pub fn is_uncovered(outlet: &OutletView<'_>, level_m: f32) -> bool {
    matches!(&outlet.law, Law::Orifice { centre_m, bore_m, .. } if level_m < centre_m + 0.5 * bore_m)
}

/// What the parameters are thought to be before a recession is read.
fn expected(start_m: f32, told: Option<&Told>) -> [f32; PARAMETERS] {
    let [log_c, zero] = told.map_or([0.0; 2], |told| told.mean);
    [log_c, zero, 0.0, start_m, 1.0]
}

#[allow(clippy::cast_precision_loss)] // at most 96 rows
fn cast(rows: u32) -> f32 {
    rows as f32
}

/// How fast the level moves, with the lift's starting flow worked out once.
struct Rate {
    start_m3_s: f32,
    coefficient: f32,
    leak_m3_s: f32,
}

impl Rate {
    fn new(parameters: &[f32; PARAMETERS], first_below_m: Option<f32>, setting: &Setting<'_>) -> Self {
        let [log_c, zero, number, start, _] = *parameters;
        let coefficient = exp(log_c);
        let leak_m3_s = setting.inflow.leak_m3_s(setting.outlet, number);
        // The level stood still before the stop: the lift delivered what outlet and leak took.
        let start_m3_s = coefficient * setting.outlet.flows_m3_s(start - zero, first_below_m) + leak_m3_s;
        Self {
            start_m3_s,
            coefficient,
            leak_m3_s,
        }
    }

    fn m_s(&self, level_m: f32, bin: &Bin, parameters: &[f32; PARAMETERS], setting: &Setting<'_>) -> f32 {
        let [_, zero, number, _, tail] = *parameters;
        let out = self.coefficient * setting.outlet.flows_m3_s(level_m - zero, Some(bin.below_m)) + self.leak_m3_s;
        let still = if bin.tail > 1.0e-3 {
            exp(tail * ln(bin.tail))
        } else {
            0.0
        };
        let trickle = setting.inflow.trickle_m3_s(setting.outlet, number, bin.below_m);
        (still * self.start_m3_s + (1.0 - still) * trickle - out) / setting.area_m2
    }
}
