//! One measured point of a lift's curve, in SI units, with its uncertainty.

/// Water measured at a known air and known levels.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Lines of the file it was made from, counted from 1; empty when it came from elsewhere.
    pub lines: Vec<u64>,
    /// Free air (100 kPa, 20 C), m3/s.
    pub air_m3_s: f64,
    /// Standard deviation of the air as a share of it: what differs from point to point. A meter or valve that is wrong by
    /// the same share at every point is what the multiplier on the air is for.
    pub air_sigma: f64,
    /// Water delivered, m3/s; zero where none came.
    pub flow_m3_s: f64,
    /// Standard deviation of the water, m3/s.
    pub flow_sigma_m3_s: f64,
    /// Level of the source above its own floor, m.
    pub source_m: f64,
    /// Level of the receiver above the **source's** floor, m; `None` when the outlet stands free.
    pub receiver_m: Option<f64>,
}
