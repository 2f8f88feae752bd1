//! Multipliers from measured points, with bad points set aside and the form's own error weighed.
//!
//! The estimate is the most probable one (least squares with a prior) for the most probable story about the points. A story
//! names which points are gross errors (none; each one; further ones up to one in five) and how far the lift's true curve
//! lies beside any curve of this form. Stories are compared by their evidence in Laplace's approximation: how well the points
//! agree, what the fit had to give up for it, and how likely a gross error or a large form error is to begin with. So one
//! wild point among good ones is set aside, while points that all disagree a little widen the band instead.

use super::curve_model::{Logs, Measured, multipliers};
use super::least_squares::{Solution, Task};
use super::point::Point;
use super::prior::Prior;
use crate::precision::narrow;
use nalgebra::Matrix3;
use risertrim::lift::{Calibration, Fit};

/// Form errors that are tried, share of the flow. The least is well above what parts the closed form from a marched compressible
/// riser once it is fitted to it (0.06 % in the middle, 0.15 % at the 90th percentile, see the tests); the largest is about
/// what a narrow tube shows over ten times the air of its best point.
const FORMS: [f64; 6] = [0.005, 0.01, 0.02, 0.04, 0.07, 0.11];
/// Mean of the exponential distribution that form errors are thought to have.
const FORM_MEAN: f64 = 0.02;
/// Share of points that are gross errors (a fill misread, a valve read at the wrong end): one in thirty, a guess that any
/// value from one in ten to one in a hundred may replace.
const BAD_SHARE: f64 = 1.0 / 30.0;
/// Spread of a gross error, share of the flow.
const BAD_SPREAD: f64 = 0.5;
/// Fewer points than this must all be believed: nothing would check the one set aside.
const CHECKED_FROM: usize = 5;

/// A calibration with all that is to be said about it.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// Logarithms of the multipliers on the entrance loss, slip and air.
    pub logs: Logs,
    /// Their covariance.
    pub covariance: Matrix3<f64>,
    /// How far the true curve is thought to lie beside one of this form, share of the flow (one standard deviation).
    pub form: f64,
    /// The prior it was fitted with.
    pub prior: Prior,
    /// Each point beside the curve.
    pub points: Vec<Beside>,
    /// Sum of squares of the believed points' deviations, in standard deviations.
    pub chi_squared: f64,
    /// Least and most free air among believed points that gave water, m3/s.
    pub air_range_m3_s: (f64, f64),
}

/// A measured point beside the fitted curve.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// Water by the curve, m3/s.
    pub fitted_m3_s: f64,
    /// Standard deviation of the measurement about the curve, m3/s.
    pub sigma_m3_s: f64,
    /// Measured less fitted, in standard deviations.
    pub off_sigmas: f64,
    /// True when it was set aside as a gross error.
    pub bad: bool,
}

/// Why no curve could be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FitError {
    /// There is no point at all.
    NoPoints,
    /// Not one point gave water.
    AllDry,
    /// The arithmetic failed: levels or airs that no lift has.
    Unsound,
}

impl std::fmt::Display for FitError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::NoPoints => "there is no point to fit: measure the water at one air at least",
            Self::AllDry => "no point gave any water: nothing can be fitted",
            Self::Unsound => "no curve passes near these points: check levels, air and the lift they are said to be of",
        })
    }
}

impl std::error::Error for FitError {}

impl Fitted {
    /// The calibration as the controller keeps it, with its covariance multiplied by `widening`
    /// ([`Judgement::widening`](super::Judgement), so that the controller's band holds the form error too; 1 for the bare
    /// covariance).
    #[must_use]
    pub fn calibration(&self, widening: f64) -> Calibration {
        let c = self.covariance * widening;
        let upper = [c[(0, 0)], c[(0, 1)], c[(0, 2)], c[(1, 1)], c[(1, 2)], c[(2, 2)]];
        Calibration {
            fit: Some(Fit {
                covariance: upper.map(narrow),
                air_low_m3_s: narrow(self.air_range_m3_s.0),
                air_high_m3_s: narrow(self.air_range_m3_s.1),
            }),
            ..multipliers(&self.logs)
        }
    }

    /// The multiple of the entrance loss, where it is more than any mesh or foot has: then something else is wrong.
    #[must_use]
    pub fn beyond_belief(&self) -> Option<f64> {
        let losses = f64::from(multipliers(&self.logs).losses);
        (losses > MOST_LOSSES).then_some(losses)
    }
}

/// Two standard deviations of what is known of a foot before it is measured.
pub(super) const MOST_LOSSES: f64 = 20.0;

/// One story with its fit.
struct Story {
    bad: Vec<bool>,
    form: f64,
    solution: Solution,
    evidence: f64,
}

/// Fits the curve of `lift` to `points`.
///
/// # Errors
/// When there is no point with water, or none that any curve comes near.
pub fn fit(lift: &Measured, points: &[Point], prior: &Prior) -> Result<Fitted, FitError> {
    if points.is_empty() {
        return Err(FitError::NoPoints);
    }
    if points.iter().all(|point| point.flow_m3_s <= 0.0) {
        return Err(FitError::AllDry);
    }
    let mut best =
        best_form(lift, points, prior, &vec![false; points.len()], Logs::zeros()).ok_or(FitError::Unsound)?;
    let most_bad = if points.len() < CHECKED_FROM {
        0
    } else {
        points.len().div_ceil(5)
    };
    for _ in 0..most_bad {
        let mut next: Option<Story> = None;
        for candidate in 0..points.len() {
            if best.bad[candidate] {
                continue;
            }
            let mut bad = best.bad.clone();
            bad[candidate] = true;
            let story = best_form(lift, points, prior, &bad, best.solution.logs);
            if let Some(story) = story
                && next.as_ref().is_none_or(|next| story.evidence > next.evidence)
            {
                next = Some(story);
            }
        }
        match next {
            Some(next) if next.evidence > best.evidence => best = next,
            _ => break,
        }
    }
    finish(lift, points, *prior, best)
}

/// The most probable form error for one choice of bad points. From the largest down: a loose fit leads the tighter ones.
fn best_form(lift: &Measured, points: &[Point], prior: &Prior, bad: &[bool], start: Logs) -> Option<Story> {
    let mut best: Option<Story> = None;
    let mut logs = start;
    for form in FORMS.into_iter().rev() {
        let Some(solution) = (Task {
            lift,
            points,
            left_out: bad,
            form,
            prior,
        })
        .solve(logs) else {
            continue;
        };
        logs = solution.logs;
        let evidence = evidence(points, prior, bad, form, &solution);
        if best.as_ref().is_none_or(|best| evidence > best.evidence) {
            best = Some(Story {
                bad: bad.to_vec(),
                form,
                solution,
                evidence,
            });
        }
    }
    best
}

/// Logarithm of the evidence for a story, less what is the same for all.
fn evidence(points: &[Point], prior: &Prior, bad: &[bool], form: f64, solution: &Solution) -> f64 {
    let largest = points.iter().fold(0.0f64, |most, point| most.max(point.flow_m3_s));
    let mut sum = 0.0;
    for (((point, bad), sigma), off) in points.iter().zip(bad).zip(&solution.sigmas).zip(&solution.off) {
        if *bad {
            let fitted = point.flow_m3_s - off * sigma;
            let wild = BAD_SPREAD * point.flow_m3_s.max(fitted).max(0.2 * largest);
            let wide = sigma.hypot(wild);
            sum += -0.5 * (off * sigma / wide).powi(2) - wide.ln() + BAD_SHARE.ln();
        } else {
            sum += -0.5 * off * off - sigma.ln() + (1.0 - BAD_SHARE).ln();
        }
    }
    for row in 0..3 {
        sum += -0.5 * (solution.logs[row] / prior.sigmas[row]).powi(2) - prior.sigmas[row].ln();
    }
    sum + 0.5 * solution.covariance.determinant().max(1.0e-300).ln() - form / FORM_MEAN
}

fn finish(lift: &Measured, points: &[Point], prior: Prior, story: Story) -> Result<Fitted, FitError> {
    let solution = story.solution;
    let beside: Vec<Beside> = points
        .iter()
        .zip(&story.bad)
        .zip(solution.sigmas.iter().zip(&solution.off))
        .map(|((point, bad), (sigma, off))| Beside {
            fitted_m3_s: lift.flow_m3_s(&solution.logs, point, point.air_m3_s).max(0.0),
            sigma_m3_s: *sigma,
            off_sigmas: *off,
            bad: *bad,
        })
        .collect();
    let believed = || points.iter().zip(&beside).filter(|(_, beside)| !beside.bad);
    let airs = || {
        believed()
            .filter(|(point, _)| point.flow_m3_s > 0.0)
            .map(|(point, _)| point.air_m3_s)
    };
    let range = (airs().fold(f64::INFINITY, f64::min), airs().fold(0.0, f64::max));
    if !range.0.is_finite() {
        return Err(FitError::AllDry);
    }
    Ok(Fitted {
        logs: solution.logs,
        covariance: solution.covariance,
        form: story.form,
        prior,
        chi_squared: believed().map(|(_, beside)| beside.off_sigmas.powi(2)).sum(),
        points: beside,
        air_range_m3_s: range,
    })
}
