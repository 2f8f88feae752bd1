//! Shared helpers of the test suites.

pub mod drawn;
pub mod emulated;
pub mod laws;
pub mod logs;
pub mod noise;
pub mod places;
pub mod reference;
pub mod risers;

/// Fails unless `value` is within `relative` of `truth`, or within `absolute` of it.
///
/// # Panics
/// When it is not, with `what` in the message.
#[track_caller]
pub fn close(
    what: impl core::fmt::Display,
    value: impl Into<f64>,
    truth: impl Into<f64>,
    relative: f64,
    absolute: f64,
) {
    let (value, truth) = (value.into(), truth.into());
    let off = (value - truth).abs();
    assert!(
        off <= relative * truth.abs() + absolute,
        "{what}: {value} instead of {truth}, off by {:.3e} ({:.4} %)",
        off,
        100.0 * off / truth.abs().max(1e-300)
    );
}
