//! From the units of files to SI.

/// m3/s in 1 L/min.
pub(super) const L_MIN: f64 = 1.0 / 60_000.0;
/// m3/s in 1 L/day.
pub(super) const L_DAY: f64 = 0.001 / 86_400.0;
/// m3 in 1 L.
pub(super) const L: f64 = 0.001;
/// m in 1 mm.
pub(super) const MM: f64 = 0.001;
/// Pa in 1 kPa.
pub(super) const PA: f64 = 1000.0;
/// m3/(s Pa) in 1 dm3/(s bar).
pub(super) const DM3_S_BAR: f64 = 1.0e-8;
/// Share in 1 percent.
pub(super) const PERCENT: f64 = 0.01;

/// Milliseconds or seconds as the whole number the controller keeps; zero for what is not a number.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // the cast saturates
pub(super) fn whole(value: f64) -> u32 {
    value.round() as u32
}
