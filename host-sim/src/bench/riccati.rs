//! The steady state of a Kalman filter with one measurement.

use nalgebra::{Matrix2, Vector2};

/// Longest iteration.
const MOST_TURNS: usize = 10_000_000;

/// A linear process of two states of which the first is measured.
#[derive(Clone, Copy, Debug)]
pub struct Model {
    /// Transition.
    pub f: Matrix2<f64>,
    /// Covariance of the noise that each step adds.
    pub q: Matrix2<f64>,
    /// Variance of a measurement.
    pub r: f64,
}

/// Covariance right after a measurement once it no longer changes: the discrete Riccati equation iterated to its fixed point.
///
/// R. E. Kalman, "A new approach to linear filtering and prediction problems", Journal of Basic Engineering 82 (1960) 35-45.
#[must_use]
pub fn steady_covariance(model: &Model) -> Matrix2<f64> {
    let mut p = Matrix2::identity();
    for _ in 0..MOST_TURNS {
        let ahead = model.f * p * model.f.transpose() + model.q;
        let column: Vector2<f64> = ahead.column(0).into();
        let next = ahead - column * column.transpose() / (ahead[(0, 0)] + model.r);
        let change = (next - p).abs().max();
        p = next;
        if change <= 1e-15 * p.abs().max() {
            break;
        }
    }
    p
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wandering_level_has_the_golden_ratio() {
        // x[k+1] = x[k] + w, y = x + v, both of variance 1: the variance ahead of a measurement solves p^2 - p - 1 = 0; after
        // it, p/(p + 1) = 1/p (textbook example of the scalar Riccati equation).
        let model = Model {
            f: Matrix2::new(1.0, 0.0, 0.0, 0.0),
            q: Matrix2::new(1.0, 0.0, 0.0, 0.0),
            r: 1.0,
        };
        let golden = 0.5 * (1.0 + 5.0_f64.sqrt());
        assert!((steady_covariance(&model)[(0, 0)] - 1.0 / golden).abs() < 1e-12);
    }

    #[test]
    fn the_steady_filter_of_a_tracked_target_is_kalatas() {
        // Position and speed of a target, speed wandering: Kalata, "The tracking index", IEEE Transactions on Aerospace and
        // Electronic Systems 20 (1984) 174-182: with gains alpha and beta, beta = 2 (2 - alpha) - 4 sqrt(1 - alpha), and the
        // index^2 = beta^2 / (1 - alpha), index = sigma_w T^2 / sigma_v, acceleration noise w held over T.
        let (w, v) = (0.3_f64, 1.0_f64);
        let g = Vector2::new(0.5, 1.0);
        let model = Model {
            f: Matrix2::new(1.0, 1.0, 0.0, 1.0),
            q: g * g.transpose() * (w * w),
            r: v * v,
        };
        let gains = steady_covariance(&model).column(0) / model.r;
        let (alpha, beta) = (gains[0], gains[1]);
        assert!((beta - (2.0 * (2.0 - alpha) - 4.0 * (1.0 - alpha).sqrt())).abs() < 1e-9);
        assert!((beta * beta / (1.0 - alpha) - (w / v).powi(2)).abs() < 1e-9);
    }
}
