//! What a log told, with 95 % intervals.

use super::filter::Ran;
use super::noise::Noise;
use super::series::Counted;
use super::working::Working;
use crate::log::HostInstallation;

/// Standard deviations in half a 95 % interval of the normal distribution.
const NINETY_FIVE: f64 = 1.959_964;

/// A number with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Its value.
    pub value: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// One standard deviation (of a multiplier: of its logarithm).
    pub sigma: f64,
    /// The same before the log was read.
    pub prior_sigma: f64,
    /// True when the log tells it; otherwise it stays as told.
    pub told: bool,
}

impl Estimate {
    /// A multiplier by its logarithm.
    pub(super) fn of_log(log: f64, sigma: f64, prior_sigma: f64, told: bool) -> Self {
        let at = |log: f64| log.exp();
        Self {
            value: at(log),
            low: at(log - NINETY_FIVE * sigma),
            high: at(log + NINETY_FIVE * sigma),
            sigma,
            prior_sigma,
            told,
        }
    }

    pub(super) fn plain(value: f64, sigma: f64, prior_sigma: f64, told: bool) -> Self {
        Self {
            value,
            low: value - NINETY_FIVE * sigma,
            high: value + NINETY_FIVE * sigma,
            sigma,
            prior_sigma,
            told,
        }
    }

    /// True when the interval holds this value.
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        value >= self.low && value <= self.high
    }
}

/// An outlet that water ran through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutletFit {
    /// Which of its tank, from 0.
    pub outlet: usize,
    /// Its flow over what is told.
    pub times_told: Estimate,
}

/// What a log tells of a tank.
#[derive(Clone, Debug)]
pub struct TankFit {
    /// Outlets that water ran through.
    pub outlets: Vec<OutletFit>,
    /// Outlets that stayed dry.
    pub dry: Vec<usize>,
    /// Water surface over what is told.
    pub area: Estimate,
    /// What its sensor reads too high, m; `None` where no outlet tells a crest.
    pub zero_m: Option<Estimate>,
    /// How much higher than its outlet's crest it seemed to stand while a lift into it was out of service, m, where that is too much
    /// for a sensor's zero alone: nothing of its outlets is told then.
    pub stood_high_m: Option<f64>,
    /// Noise of its sensor.
    pub noise: Option<Noise>,
    /// True when what was found differs from what was told by more than chance (5 %).
    pub differs: bool,
    /// What that makes of the flow at the level it works at.
    pub working: Working,
}

/// What a log tells of a lift.
#[derive(Clone, Copy, Debug)]
pub struct LiftFit {
    /// What it delivered at the end over what its told curve gives; `None` when it never ran undisturbed.
    pub delivery: Option<Estimate>,
    /// Water it delivered then, m3/s.
    pub flow_m3_s: f64,
    /// Logarithms of what the fit multiplies losses, slip and air of its told curve by.
    pub logs: [f64; 3],
    /// Their covariance: the upper triangle by rows.
    pub covariance: [f64; 6],
    /// True when the log tells the height of its curve.
    pub height_told: bool,
    /// True when the log tells how its flow changes with the air.
    pub shape_told: bool,
    /// Least and most air with which it ran undisturbed, m3/s.
    pub air_range_m3_s: (f64, f64),
    /// Delivery over the fitted curve at the end.
    pub rest: f64,
    /// When it last ran undisturbed.
    pub ran: Option<Ran>,
    /// True when it moves water while it should stand still.
    pub trickles: bool,
}

/// What came of a fit.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// The told installation.
    pub place: HostInstallation,
    /// Tanks in order.
    pub tanks: Vec<TankFit>,
    /// Lifts in order.
    pub lifts: Vec<LiftFit>,
    /// How far a delivery wanders by itself, share per root second.
    pub walk: f64,
    /// Mean manifold pressure over the log, Pa.
    pub manifold_pa: f64,
    /// What was read.
    pub counted: Counted,
    /// Bins fitted.
    pub bins: usize,
    /// Means of readings further from what was expected than chance brings.
    pub surprises: u64,
}
