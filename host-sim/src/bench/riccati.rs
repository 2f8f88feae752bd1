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

    #[test]
    fn the_covariance_is_that_of_a_general_solver() {
        // scipy 1.17.1, scipy.linalg.solve_discrete_are(F.T, H.T, Q, R) and one update with the measurement: P[0,0], P[0,1],
        // P[1,1] for a tank of 1 m2 with a notch, and one whose outlet answers four times more weakly.
        let q = Matrix2::new(4e-10, 0.0, 0.0, 9e-8);
        for (kept, per_factor, variances) in [
            (
                0.94,
                2.0e-3,
                [1.257_739_129_754e-8, 3.104_271_811_282e-7, 1.113_605_335_5e-5],
            ),
            (
                0.985,
                1.986_754_966_887_419e-3,
                [2.865_349_157_778e-8, 3.080_879_513_353e-7, 6.539_156_958_961e-6],
            ),
        ] {
            let p = steady_covariance(&Model {
                f: Matrix2::new(kept, per_factor, 0.0, 1.0),
                q,
                r: 1.0833e-6,
            });
            for (ours, theirs) in [p[(0, 0)], p[(0, 1)], p[(1, 1)]].into_iter().zip(variances) {
                assert!((ours / theirs - 1.0).abs() < 1e-8, "{ours} not {theirs}");
            }
        }
    }
}
