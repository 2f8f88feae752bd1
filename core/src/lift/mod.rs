//! The lift: a riser and its performance curve.

mod band;
mod curve;
mod drift;
mod riser;

pub use band::relative_sigma;
pub use curve::{Curve, Peak, Point};
pub use drift::{DISTRIBUTION, drift_velocity_m_s, void_fraction};
pub use riser::{Calibration, Fit, Riser};
