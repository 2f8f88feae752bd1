//! The multipliers of a lift's curve from a few steady openings.

use super::normal::Normal;
use crate::installation::{Conditions, PooledLift};
use crate::lift::{Calibration, Curve, Fit as Sureness};
use crate::math::seldom::{larger, limit, smaller};
use crate::math::{exp, ln, sqrt};
use crate::units::FreeAir;
use serde::{Deserialize, Serialize};

/// Steady openings tried.
pub const STEPS: usize = 6;
/// Gauss-Newton passes, one a call.
const PASSES: u8 = 12;
/// Shift of a logarithm for the slopes of the model.
const SHIFT: f32 = 0.01;
/// Standard deviations of the priors of ln losses, ln slip, ln air: what a lift built to plan may be off by.
const PRIOR: [f32; 3] = [1.0, 0.2, 0.3];
/// Ranges of losses, slip and air, as validated.
const RANGES: [(f32, f32); 3] = [(0.05, 50.0), (0.3, 3.0), (0.3, 3.0)];
/// A flow as unsure as this says nothing against a curve that misses it.
const UNREAD: f32 = 0.03;
/// What the form of the curve itself is off by, share of the flow.
pub(super) const MODEL_ERROR: f32 = 0.012;

/// One steady opening.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Steady {
    /// Air the lift was thought to get.
    pub air: FreeAir,
    /// Source level, m above its floor.
    pub source_m: f32,
    /// Receiving level above the source's floor, m.
    pub receiver_m: f32,
    /// Flow read from the outlet, m3/s.
    pub flow_m3_s: f32,
    /// Its standard deviation without the errors all share, m3/s.
    pub sigma_m3_s: f32,
    /// Its change when the zero that all were read through is a standard deviation higher, m3/s.
    pub by_zero_m3_s: f32,
}

/// A fit under way.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fit {
    logs: [f32; 3],
    /// The zero that the flows were read through, in its standard deviations from what was found.
    zero: f32,
    pass: u8,
}

/// A curve found.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Found {
    /// The multipliers with their covariance.
    pub calibration: Calibration,
    /// Largest misfit of one opening whose flow could be read well, share of it.
    pub worst: f32,
    /// Largest standard deviation of the curve in the middle and at the ends of the airs tried, share, the outlet's own error included.
    pub sigma: f32,
}

impl Fit {
    /// One pass. `None` while under way; then the curve, or `Some(None)` when the openings do not determine it.
    pub fn advance(
        &mut self,
        steady: &[Steady],
        lift: &PooledLift,
        conditions: &Conditions,
        outlet_sigma: f32,
    ) -> Option<Option<Found>> {
        let [losses, slip, air] = self.logs;
        let [of_losses, of_slip, of_air] = PRIOR;
        let back = [-losses, -slip, -air, -self.zero];
        let mut normal = Normal::with_prior(&back, &[of_losses, of_slip, of_air, 1.0]);
        let mut worst = 0.0f32;
        for point in steady {
            let modelled = larger(flow(lift, &self.logs, conditions, point), 1.0e-7);
            let mut slopes = [0.0f32; 4];
            for (which, slope) in slopes.iter_mut().enumerate().take(3) {
                let mut shifted = self.logs;
                if let Some(log) = shifted.get_mut(which) {
                    *log += SHIFT;
                }
                *slope = (flow(lift, &shifted, conditions, point) - modelled) / (SHIFT * point.flow_m3_s);
            }
            let [_, _, _, by_zero] = &mut slopes;
            *by_zero = -point.by_zero_m3_s / point.flow_m3_s;
            let off = (point.flow_m3_s + self.zero * point.by_zero_m3_s - modelled) / point.flow_m3_s;
            let noise = point.sigma_m3_s / point.flow_m3_s;
            if noise < UNREAD {
                worst = larger(worst, off.abs());
            }
            normal.add(off, &slopes, 1.0 / (noise * noise + MODEL_ERROR * MODEL_ERROR));
        }
        let Some((step, covariance)) = normal.solve() else {
            return Some(None);
        };
        let [_, _, _, zero] = step;
        self.zero = limit(self.zero + limit(zero, -1.0, 1.0), -3.0, 3.0);
        for (log, step) in self.logs.iter_mut().zip(&step) {
            *log += limit(*step, -0.5, 0.5);
        }
        for (log, (low, high)) in self.logs.iter_mut().zip(RANGES) {
            *log = limit(*log, ln(low), ln(high));
        }
        self.pass = self.pass.saturating_add(1);
        if self.pass < PASSES {
            return None;
        }
        Some(self.found(steady, lift, conditions, outlet_sigma, &covariance, worst))
    }

    fn found(
        &self,
        steady: &[Steady],
        lift: &PooledLift,
        conditions: &Conditions,
        outlet_sigma: f32,
        covariance: &[[f32; 4]; 4],
        worst: f32,
    ) -> Option<Found> {
        let [[ll, ls, la, _], [_, ss, sa, _], [_, _, aa, _], _] = *covariance;
        // Every flow was read through one outlet: its error is common. Let the air's multiplier carry it (the flow goes by
        // about the 0.6th power of the air on the working part of the curve).
        let common = outlet_sigma / 0.6;
        let low = steady.iter().fold(f32::MAX, |low, point| smaller(low, point.air.m3_s));
        let high = steady.iter().fold(0.0f32, |high, point| larger(high, point.air.m3_s));
        let fit = Sureness {
            covariance: [ll, ls, la, ss, sa, aa + common * common],
            air_low_m3_s: low,
            air_high_m3_s: high,
        };
        let calibration = Calibration {
            fit: Some(fit),
            ..multipliers(&self.logs)
        };
        // The openings' own part and the outlet's, in the middle and at both ends.
        let own = Calibration {
            fit: Some(Sureness {
                covariance: [ll, ls, la, ss, sa, aa],
                ..fit
            }),
            ..calibration
        };
        let mut sigma = 0.0f32;
        for point in [steady.first()?, steady.get(steady.len() / 2)?, steady.last()?] {
            let there = crate::lift::relative_sigma(
                &lift.riser,
                &own,
                conditions,
                point.source_m,
                Some(point.receiver_m),
                point.air,
            )?;
            sigma = larger(sigma, sqrt(there * there + outlet_sigma * outlet_sigma));
        }
        Some(Found {
            calibration,
            worst,
            sigma,
        })
    }
}

/// The multipliers with these logarithms.
#[inline(never)]
fn multipliers([losses, slip, air]: &[f32; 3]) -> Calibration {
    Calibration {
        losses: exp(*losses),
        slip: exp(*slip),
        air: exp(*air),
        fit: None,
    }
}

/// Flow of the lift's curve with these logarithms of the multipliers, m3/s.
fn flow(lift: &PooledLift, logs: &[f32; 3], conditions: &Conditions, point: &Steady) -> f32 {
    Curve::new(
        &lift.riser,
        &multipliers(logs),
        conditions,
        point.source_m,
        Some(point.receiver_m),
    )
    .flow(point.air)
    .m3_s
}
