//! The chosen pipe checked with the marched, compressible riser model, which shares no equation with the controller's.

use super::candidate::Candidate;
use super::request::Request;
use crate::plant::{Heads, Riser};

/// What the marched model says of a choice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Confirmation {
    /// Water by the controller's closed form at the chosen air, m3/s: the target.
    pub closed_form_m3_s: f64,
    /// Water by the marched model at the same air, m3/s.
    pub marched_m3_s: f64,
    /// Peak by the marched model, m3/s.
    pub marched_peak_m3_s: f64,
}

impl Confirmation {
    /// Closed form over marched.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.closed_form_m3_s / self.marched_m3_s
    }
}

/// The marched riser of a pipe.
#[must_use]
pub(super) fn marched(request: &Request, bore_m: f64) -> Riser {
    Riser {
        kin: request.fittings.entrance,
        kout: request.fittings.outlet,
        ..Riser::clean(bore_m, request.place())
    }
}

/// Runs the marched model at the candidate's air and hardest levels; `None` when it has no air.
#[must_use]
pub(super) fn confirm(request: &Request, candidate: &Candidate) -> Option<Confirmation> {
    let riser = marched(request, candidate.pipe.bore_m());
    let heads = Heads::free(request.depth_m.low, request.lift_m.high);
    Some(Confirmation {
        closed_form_m3_s: request.water_m3_s.high,
        marched_m3_s: riser.water_m3_s(heads, candidate.air_m3_s?, &mut 0.0),
        marched_peak_m3_s: riser.peak(heads).water_m3_s,
    })
}
