//! One weighted least-squares fit with a prior: Levenberg & Marquardt on the logarithms of the multipliers.

use super::curve_model::{Logs, Measured};
use super::point::Point;
use super::prior::Prior;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DVector, Dyn, Matrix3, OMatrix, Owned, U3, Vector3};

/// Rounds in which the weights follow the curve: the air's error counts by the curve's slope, which the fit changes.
const ROUNDS: usize = 3;
/// Fits stop when a step changes the sum of squares by less than this share.
const TOLERANCE: f64 = 1.0e-6;

/// Points as one fit takes them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Task<'a> {
    pub lift: &'a Measured,
    pub points: &'a [Point],
    /// True for points that are left out.
    pub left_out: &'a [bool],
    /// How far the true curve is thought to lie beside one of this form, share of the flow.
    pub form: f64,
    pub prior: &'a Prior,
}

/// Where one fit ended.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    pub logs: Logs,
    pub covariance: Matrix3<f64>,
    /// Standard deviation of each point about the curve, m3/s.
    pub sigmas: Vec<f64>,
    /// Measured less fitted, in standard deviations.
    pub off: Vec<f64>,
}

/// The engine as it is set here.
fn settings(tolerance: f64) -> LevenbergMarquardt<f64> {
    LevenbergMarquardt::new()
        .with_ftol(tolerance)
        .with_xtol(tolerance)
        .with_patience(60)
}

impl Task<'_> {
    /// Runs the fit from `start`. `None` when the points cannot be weighed (never, with sound points).
    pub fn solve(&self, start: Logs) -> Option<Solution> {
        let mut logs = start;
        for _ in 0..ROUNDS {
            let problem = Problem {
                task: *self,
                sigmas: self.sigmas(&logs),
                logs,
            };
            let settings = settings(TOLERANCE);
            // Where f32 rounding stops the descent early the point reached is as good as any near it.
            let (problem, _) = settings.minimize(problem);
            let moved = (problem.logs - logs).norm();
            logs = problem.logs;
            if !logs.iter().all(|log| log.is_finite()) {
                return None;
            }
            if moved < 1.0e-3 {
                break;
            }
        }
        let sigmas = self.sigmas(&logs);
        let problem = Problem {
            task: *self,
            sigmas,
            logs,
        };
        let jacobian = problem.jacobian()?;
        let covariance = (jacobian.transpose() * jacobian).try_inverse()?;
        let off = self
            .points
            .iter()
            .zip(&problem.sigmas)
            .map(|(point, sigma)| -self.residual(&logs, point, *sigma))
            .collect();
        Some(Solution {
            logs,
            covariance,
            sigmas: problem.sigmas,
            off,
        })
    }

    fn largest_m3_s(&self) -> f64 {
        self.points.iter().fold(0.0, |most, point| most.max(point.flow_m3_s))
    }

    /// Standard deviation of each point about the curve: its water, its air through the slope of the curve, and the form.
    fn sigmas(&self, logs: &Logs) -> Vec<f64> {
        let little = 0.1 * self.largest_m3_s();
        let of = |point: &Point| {
            let form = self.form * point.flow_m3_s.max(little);
            let air = self.lift.air_error_m3_s(logs, point);
            (point.flow_sigma_m3_s.powi(2) + air * air + form * form)
                .sqrt()
                .max(1.0e-9)
        };
        self.points.iter().map(of).collect()
    }

    /// Fitted less measured, in standard deviations; nothing where no water came and none should.
    fn residual(&self, logs: &Logs, point: &Point, sigma: f64) -> f64 {
        let fitted = self.lift.flow_m3_s(logs, point, point.air_m3_s);
        if point.flow_m3_s <= 0.0 && fitted <= 0.0 {
            0.0
        } else {
            (fitted - point.flow_m3_s) / sigma
        }
    }
}

/// The points that take part, then the three of the prior.
struct Problem<'a> {
    task: Task<'a>,
    sigmas: Vec<f64>,
    logs: Logs,
}

impl Problem<'_> {
    fn taking_part(&self) -> impl Iterator<Item = (&Point, f64)> {
        let with_sigma = self.task.points.iter().zip(&self.sigmas).zip(self.task.left_out);
        with_sigma
            .filter(|(_, left_out)| !**left_out)
            .map(|((point, sigma), _)| (point, *sigma))
    }
}

impl LeastSquaresProblem<f64, Dyn, U3> for Problem<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, U3>;
    type ParameterStorage = Owned<f64, U3>;

    fn set_params(&mut self, logs: &Vector3<f64>) {
        self.logs = *logs;
    }

    fn params(&self) -> Vector3<f64> {
        self.logs
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let prior = self.task.prior;
        let points = self
            .taking_part()
            .map(|(point, sigma)| self.task.residual(&self.logs, point, sigma));
        let all: Vec<f64> = points
            .chain((0..3).map(|row| self.logs[row] / prior.sigmas[row]))
            .collect();
        Some(DVector::from_vec(all))
    }

    fn jacobian(&self) -> Option<OMatrix<f64, Dyn, U3>> {
        let prior = self.task.prior;
        let mut rows: Vec<Logs> = Vec::new();
        for (point, sigma) in self.taking_part() {
            let dry = point.flow_m3_s <= 0.0 && self.task.lift.flow_m3_s(&self.logs, point, point.air_m3_s) <= 0.0;
            rows.push(if dry {
                Logs::zeros()
            } else {
                self.task.lift.slopes(&self.logs, point) / sigma
            });
        }
        for row in 0..3 {
            let mut own = Logs::zeros();
            own[row] = 1.0 / prior.sigmas[row];
            rows.push(own);
        }
        Some(OMatrix::<f64, Dyn, U3>::from_fn(rows.len(), |row, column| {
            rows[row][column]
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::settings;
    use levenberg_marquardt::LeastSquaresProblem;
    use nalgebra::{DVector, Dyn, Matrix2, OMatrix, Owned, U2, Vector2};

    /// NIST Statistical Reference Datasets, nonlinear regression, Misra1a (lower difficulty): volume against pressure of a
    /// monomolecular dental research adsorption, `y = b1 (1 - exp(-b2 x))`. Data and certified values from memory; that they are right
    /// shows in their own residual sum of squares, which is checked to ten digits below.
    const MISRA1A: [(f64, f64); 14] = [
        (10.07, 77.6),
        (14.73, 114.9),
        (17.94, 141.1),
        (23.93, 190.8),
        (29.61, 239.9),
        (35.18, 289.0),
        (40.02, 332.8),
        (44.82, 378.4),
        (50.76, 434.8),
        (55.05, 477.3),
        (61.01, 536.8),
        (66.40, 593.1),
        (75.47, 689.1),
        (81.78, 760.0),
    ];
    const CERTIFIED: [f64; 2] = [238.942_129_18, 5.501_564_318_1e-4];
    const CERTIFIED_SIGMA: [f64; 2] = [2.707_007_524_1, 7.266_868_843_6e-6];
    const CERTIFIED_SUM_OF_SQUARES: f64 = 0.124_551_388_94;

    struct Misra1a(Vector2<f64>);

    impl LeastSquaresProblem<f64, Dyn, U2> for Misra1a {
        type ResidualStorage = Owned<f64, Dyn>;
        type JacobianStorage = Owned<f64, Dyn, U2>;
        type ParameterStorage = Owned<f64, U2>;

        fn set_params(&mut self, b: &Vector2<f64>) {
            self.0 = *b;
        }

        fn params(&self) -> Vector2<f64> {
            self.0
        }

        fn residuals(&self) -> Option<DVector<f64>> {
            let of = |(y, x): &(f64, f64)| self.0[0] * (1.0 - (-self.0[1] * x).exp()) - y;
            Some(DVector::from_iterator(MISRA1A.len(), MISRA1A.iter().map(of)))
        }

        fn jacobian(&self) -> Option<OMatrix<f64, Dyn, U2>> {
            Some(OMatrix::<f64, Dyn, U2>::from_fn(MISRA1A.len(), |row, column| {
                let x = MISRA1A[row].1;
                let rest = (-self.0[1] * x).exp();
                if column == 0 { 1.0 - rest } else { self.0[0] * x * rest }
            }))
        }
    }

    #[test]
    fn the_engine_finds_the_certified_values_of_a_reference_data_set() {
        let certified = Misra1a(Vector2::from(CERTIFIED));
        let sum = certified.residuals().unwrap().norm_squared();
        assert!(
            (sum / CERTIFIED_SUM_OF_SQUARES - 1.0).abs() < 1e-9,
            "the data as remembered: {sum}"
        );
        // Both starts that come with the data set, the far one first.
        for start in [[500.0, 0.0001], [250.0, 0.0005]] {
            let (found, report) = settings(1e-12).minimize(Misra1a(Vector2::from(start)));
            assert!(report.termination.was_successful(), "{report:?}");
            let jacobian = found.jacobian().unwrap();
            let squares = found.residuals().unwrap().norm_squared();
            let covariance: Matrix2<f64> = (jacobian.transpose() * jacobian).try_inverse().unwrap();
            let variance = squares / (MISRA1A.len() - 2) as f64;
            assert!((squares / CERTIFIED_SUM_OF_SQUARES - 1.0).abs() < 1e-9, "{squares}");
            for (at, (value, sigma)) in CERTIFIED.iter().zip(CERTIFIED_SIGMA).enumerate() {
                assert!(
                    (found.0[at] / value - 1.0).abs() < 1e-7,
                    "{start:?}: b{} {}",
                    at + 1,
                    found.0[at]
                );
                let found_sigma = (variance * covariance[(at, at)]).sqrt();
                assert!(
                    (found_sigma / sigma - 1.0).abs() < 1e-6,
                    "{start:?}: sigma of b{} {found_sigma}",
                    at + 1
                );
            }
        }
    }
}
