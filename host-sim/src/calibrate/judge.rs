//! What a calibration is good for: the band over the air, whether the points are enough, where another would help most.

use super::curve_model::{Logs, Measured};
use super::fit::Fitted;
use super::point::Point;
use nalgebra::Matrix3;
use risertrim::units::{FreeAir, WaterFlow};

/// Standard normal deviate that leaves 5 % on either side: a 90 % band is this many standard deviations either way.
pub const NINETY: f64 = 1.644_854;
/// Widest mean 90 % band over the working range, either way, that is called enough.
pub const ENOUGH: f64 = 0.05;
/// Form error from which the points are said not to follow any curve of this form.
pub const MISSHAPEN: f64 = 0.04;
/// Airs at which the band is averaged and another point is tried.
const AIRS: usize = 33;
/// Working range, shares of the peak flow.
const WORKING: (f32, f32) = (0.2, 0.8);

/// What a calibration is good for.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// Airs at 20 % and 80 % of the fitted peak flow, m3/s: the range a lift works in.
    pub working_air_m3_s: (f64, f64),
    /// Mean half width of the 90 % band over the working range, share of the flow.
    pub half_width: f64,
    /// The same from the prior alone, before any point.
    pub half_width_before: f64,
    /// Air at which one more point would narrow the band most, m3/s.
    pub next_air_m3_s: f64,
    /// Mean half width of the band with that point.
    pub half_width_then: f64,
    /// Points that were believed and gave water.
    pub believed: usize,
    /// What to multiply the covariance by so that the controller's band holds the form error too.
    pub widening: f64,
    /// True when every believed air lies within a quarter of the others.
    pub one_air: bool,
}

impl Judgement {
    /// True when the band is narrow enough and the points check each other: more of them than multipliers, over a range of
    /// airs.
    #[must_use]
    pub fn enough(&self) -> bool {
        self.half_width <= ENOUGH && self.believed > 3 && !self.one_air
    }
}

/// Judges a fit by the levels of its points.
#[must_use]
pub fn judge(lift: &Measured, points: &[Point], fitted: &Fitted) -> Judgement {
    let believed: Vec<(&Point, f64)> = points
        .iter()
        .zip(&fitted.points)
        .filter(|(point, beside)| !beside.bad && point.flow_m3_s > 0.0)
        .map(|(point, beside)| (point, beside.sigma_m3_s / point.flow_m3_s))
        .collect();
    let levels = middle_levels(&believed);
    let range = fitted.air_range_m3_s;
    let working = working_airs(lift, &fitted.logs, levels).unwrap_or(range);
    let trial = |air_m3_s: f64| Point {
        lines: Vec::new(),
        air_m3_s,
        air_sigma: 0.0,
        flow_m3_s: 0.0,
        flow_sigma_m3_s: 0.0,
        source_m: levels.0,
        receiver_m: levels.1,
    };
    #[allow(clippy::cast_precision_loss)]
    let airs: Vec<(f64, Logs)> = (0..AIRS)
        .map(|step| working.0 + (working.1 - working.0) * step as f64 / (AIRS - 1) as f64)
        .filter_map(|air| {
            let point = trial(air);
            let flow = lift.flow_m3_s(&fitted.logs, &point, air);
            (flow > 0.0).then(|| (air, lift.slopes(&fitted.logs, &point) / flow))
        })
        .collect();
    let form = fitted.form.powi(2);
    let half_width = |covariance: &Matrix3<f64>, form: f64, range: (f64, f64)| {
        let sum: f64 = airs
            .iter()
            .map(|(air, slope)| (variance(covariance, slope) + form).sqrt() * (1.0 + outside(*air, range)))
            .sum();
        NINETY * sum / airs.len().max(1) as f64
    };
    let mut noise: Vec<f64> = believed.iter().map(|(_, share)| share * share).collect();
    noise.sort_by(f64::total_cmp);
    let noise = noise.get(noise.len() / 2).copied().unwrap_or(1.0e-3);
    let mut best = (working.0, f64::INFINITY);
    for (air, slope) in &airs {
        let seen = fitted.covariance * slope;
        let then = fitted.covariance - seen * seen.transpose() / (noise + slope.dot(&seen));
        let width = half_width(&then, form, (range.0.min(*air), range.1.max(*air)));
        if width < best.1 {
            best = (*air, width);
        }
    }
    let mean: f64 = airs
        .iter()
        .map(|(_, slope)| variance(&fitted.covariance, slope))
        .sum::<f64>()
        / airs.len().max(1) as f64;
    let prior = Matrix3::from_diagonal(&Logs::from(fitted.prior.sigmas.map(|sigma| sigma * sigma)));
    Judgement {
        working_air_m3_s: working,
        half_width: half_width(&fitted.covariance, form, range),
        half_width_before: half_width(&prior, 0.0, working),
        next_air_m3_s: best.0,
        half_width_then: best.1,
        believed: believed.len(),
        widening: if mean > 0.0 { 1.0 + form / mean } else { 1.0 },
        one_air: range.1 < 1.25 * range.0,
    }
}

fn variance(covariance: &Matrix3<f64>, slope: &Logs) -> f64 {
    slope.dot(&(covariance * slope)).max(0.0)
}

/// By what share an air lies outside the measured range: the band grows by as much, as the controller's does.
fn outside(air: f64, (low, high): (f64, f64)) -> f64 {
    if air < low {
        1.0 - air / low
    } else if air > high {
        air / high - 1.0
    } else {
        0.0
    }
}

#[allow(clippy::cast_precision_loss)]
fn middle_levels(believed: &[(&Point, f64)]) -> (f64, Option<f64>) {
    let count = believed.len().max(1) as f64;
    let source = believed.iter().map(|(point, _)| point.source_m).sum::<f64>() / count;
    let receivers: Vec<f64> = believed.iter().filter_map(|(point, _)| point.receiver_m).collect();
    let receiver = (receivers.len() == believed.len()).then(|| receivers.iter().sum::<f64>() / count);
    (source, receiver)
}

fn working_airs(lift: &Measured, logs: &Logs, levels: (f64, Option<f64>)) -> Option<(f64, f64)> {
    let curve = lift.curve(logs, levels.0, levels.1);
    let peak = curve.peak().flow.m3_s;
    let air = |share: f32| {
        curve
            .air_for(WaterFlow::from_m3_s(share * peak))
            .map(|air: FreeAir| f64::from(air.m3_s))
    };
    let (low, high) = (air(WORKING.0)?, air(WORKING.1)?);
    (high > low).then_some((low, high))
}
