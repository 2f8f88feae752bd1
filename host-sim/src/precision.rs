//! Between the modelled place's precision and the controller's.

/// A number as the controller keeps it.
#[allow(clippy::cast_possible_truncation)]
pub(crate) fn narrow(value: f64) -> f32 {
    value as f32
}
