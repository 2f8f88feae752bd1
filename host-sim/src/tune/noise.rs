//! The noise of a level sensor, from its readings alone.
//!
//! Water moves smoothly over two seconds, noise does not: of `x(k+1) - 2 x(k) + x(k-1)` nearly all is noise, and its variance is six
//! times that of one reading. The median of its magnitude tells it whatever splashes and jumps there are among the readings.

use super::robust::{NORMAL_OVER_MAD, median_magnitude};
use super::series::Series;

/// Fewer second differences than this tell nothing.
const FEWEST: usize = 200;
/// Parts the readings are cut into, to see how much the estimate scatters.
const PARTS: usize = 20;
/// What the method itself may be off, share: waves and moving water count as noise.
const METHOD: f64 = 0.02;

/// The noise of one sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Scatter of one reading, RMS, m, rounding apart.
    pub sigma_m: f64,
    /// One standard deviation of that, m.
    pub doubt_m: f64,
    /// The step its readings are rounded to, m; 0 for none to be seen.
    pub step_m: f64,
}

/// The noise of each tank's sensor; `None` where there are too few readings, or the log keeps only what changed.
#[must_use]
pub fn noises(series: &Series) -> Vec<Option<Noise>> {
    let of = |(seconds, step): (&Vec<f32>, &f64)| {
        if series.counted.thinned {
            return None;
        }
        noise(seconds, *step, series.over)
    };
    series.seconds.iter().zip(&series.steps_m).map(of).collect()
}

fn noise(seconds: &[f32], step_m: f64, over: u16) -> Option<Noise> {
    if seconds.len() < FEWEST {
        return None;
    }
    // The mean of some roundings is no rounding.
    let step = if over > 1 { 0.0 } else { step_m };
    let sigma = |part: &[f32]| -> Option<f64> {
        let values: Vec<f64> = part.iter().map(|value| f64::from(*value)).collect();
        let wide = NORMAL_OVER_MAD * median_magnitude(&values, step)?;
        // Spreading each multiple over its step widens by a twelfth of the step's square, each of six roundings as well.
        let rounding = step * step / 12.0;
        let variance = (wide * wide - rounding) / 6.0 - rounding;
        Some((variance.max(0.0) * f64::from(over)).sqrt())
    };
    let whole = sigma(seconds)?;
    let parts: Vec<f64> = seconds
        .chunks(seconds.len().div_ceil(PARTS))
        .filter_map(sigma)
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let many = parts.len() as f64;
    let mean = parts.iter().sum::<f64>() / many;
    let scatter = (parts.iter().map(|part| (part - mean).powi(2)).sum::<f64>() / (many - 1.0).max(1.0)).sqrt();
    Some(Noise {
        sigma_m: whole,
        doubt_m: (scatter / many.sqrt()).hypot(METHOD * whole),
        step_m: if step > 1.0e-5 { step } else { 0.0 },
    })
}
