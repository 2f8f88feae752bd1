//! Small weighted least squares: normal equations with a prior, solved by Cholesky.

use crate::math::sqrt;

/// Parameters at most.
const MOST: usize = 5;

/// Normal equations of `N` parameters: `a x = b`, gathered row by row.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Normal<const N: usize> {
    a: [[f32; N]; N],
    b: [f32; N],
    /// Sum of the squared weighted residuals.
    pub chi2: f32,
    /// Rows gathered.
    pub rows: u32,
}

impl<const N: usize> Normal<N> {
    /// Equations that hold nothing.
    pub const NONE: Self = Self {
        a: [[0.0; N]; N],
        b: [0.0; N],
        chi2: 0.0,
        rows: 0,
    };

    /// Equations that hold a prior: parameter `i` is expected to move by `to[i]` with standard deviation `sigma[i]`.
    #[must_use]
    pub fn with_prior(to: &[f32; N], sigma: &[f32; N]) -> Self {
        let mut normal = Self::NONE;
        set_prior(normal.a.as_flattened_mut(), &mut normal.b, to, sigma);
        normal
    }

    /// Equations that hold a prior given as information (the inverse of a covariance) about all parameters.
    #[must_use]
    pub fn with_information(to: &[f32; N], information: &[[f32; N]; N]) -> Self {
        let mut normal = Self {
            a: *information,
            ..Self::NONE
        };
        for (b, row) in normal.b.iter_mut().zip(information) {
            *b = row.iter().zip(to).fold(0.0, |sum, (weight, to)| sum + weight * to);
        }
        normal
    }

    /// Adds one observation: `residual` = measured less modelled, `slope` = change of the model with each parameter, `weight` =
    /// one over its variance.
    pub fn add(&mut self, residual: f32, slope: &[f32; N], weight: f32) {
        add_row(self.a.as_flattened_mut(), &mut self.b, residual, slope, weight);
        self.chi2 += weight * residual * residual;
        self.rows = self.rows.saturating_add(1);
    }

    /// The parameter step and the covariance; `None` when the equations are not positive definite.
    ///
    /// The equations are scaled to a unit diagonal first, so that parameters of very different size lose no digits.
    #[must_use]
    pub fn solve(&self) -> Option<([f32; N], [[f32; N]; N])> {
        let (mut step, mut covariance) = ([0.0f32; N], [[0.0f32; N]; N]);
        solve(self.a.as_flattened(), &self.b, &mut step, covariance.as_flattened_mut())?;
        Some((step, covariance))
    }
}

/// See [`Normal::with_prior`]: one code for every number of parameters.
#[inline(never)]
fn set_prior(a: &mut [f32], b: &mut [f32], to: &[f32], sigma: &[f32]) {
    let n = b.len();
    for (i, (b, (to, sigma))) in b.iter_mut().zip(to.iter().zip(sigma)).enumerate() {
        let weight = 1.0 / (sigma * sigma);
        if let Some(own) = a.get_mut(i * n + i) {
            *own = weight;
        }
        *b = weight * to;
    }
}

/// See [`Normal::add`]: one code for every number of parameters.
#[inline(never)]
fn add_row(a: &mut [f32], b: &mut [f32], residual: f32, slope: &[f32], weight: f32) {
    for ((row, b), si) in a.chunks_exact_mut(slope.len().max(1)).zip(b).zip(slope) {
        *b += weight * si * residual;
        for (a, sj) in row.iter_mut().zip(slope) {
            *a += weight * si * sj;
        }
    }
}

/// See [`Normal::solve`]; matrices row by row.
#[inline(never)]
fn solve(a: &[f32], b: &[f32], step: &mut [f32], covariance: &mut [f32]) -> Option<()> {
    let n = b.len();
    Room {
        scale: [0.0; MOST].get_mut(..n)?,
        column: [0.0; MOST].get_mut(..n)?,
        lower: [0.0; MOST * MOST].get_mut(..n * n)?,
    }
    .invert(a, covariance)?;
    for (step, row) in step.iter_mut().zip(covariance.chunks_exact(n.max(1))) {
        *step = row.iter().zip(b).fold(0.0, |sum, (c, b)| sum + c * b);
    }
    step.iter().all(|x| x.is_finite()).then_some(())
}

/// The inverse of a positive definite matrix; `None` when it is not.
#[must_use]
pub fn inverse<const N: usize>(matrix: &[[f32; N]; N]) -> Option<[[f32; N]; N]> {
    let (mut step, mut inverse) = ([0.0f32; N], [[0.0f32; N]; N]);
    solve(matrix.as_flattened(), &[0.0; N], &mut step, inverse.as_flattened_mut())?;
    Some(inverse)
}

/// What an inversion works with; the number of parameters is that of `scale`. One code for every size.
struct Room<'a> {
    scale: &'a mut [f32],
    column: &'a mut [f32],
    lower: &'a mut [f32],
}

impl Room<'_> {
    /// The inverse of a positive definite matrix, row by row; `None` when it is not.
    #[inline(never)]
    fn invert(&mut self, a: &[f32], inverse: &mut [f32]) -> Option<()> {
        let n = self.scale.len();
        for (i, scale) in self.scale.iter_mut().enumerate() {
            let own = *a.get(i * n + i)?;
            if !(own > 0.0) {
                return None;
            }
            *scale = 1.0 / sqrt(own);
        }
        self.cholesky(a)?;
        for column in 0..n {
            self.column.fill(0.0);
            *self.column.get_mut(column)? = 1.0;
            self.substitute()?;
            let sj = *self.scale.get(column)?;
            for (i, (value, si)) in self.column.iter().zip(self.scale.iter()).enumerate() {
                *inverse.get_mut(i * n + column)? = value * si * sj;
            }
        }
        Some(())
    }

    /// The lower triangle of the scaled matrix.
    fn cholesky(&mut self, a: &[f32]) -> Option<()> {
        let n = self.scale.len();
        for i in 0..n {
            for j in 0..=i {
                let (row_i, row_j) = (self.lower.get(i * n..)?, self.lower.get(j * n..)?);
                let dot = row_i.iter().zip(row_j).take(j).fold(0.0f32, |sum, (a, b)| sum + a * b);
                let rest = a.get(i * n + j)? * self.scale.get(i)? * self.scale.get(j)? - dot;
                let value = if i == j {
                    if !(rest > 1.0e-7) {
                        return None;
                    }
                    sqrt(rest)
                } else {
                    rest / row_j.get(j)?
                };
                *self.lower.get_mut(i * n + j)? = value;
            }
        }
        Some(())
    }

    /// Solves `L L' x = column` in place.
    fn substitute(&mut self) -> Option<()> {
        let n = self.scale.len();
        let x = &mut *self.column;
        for i in 0..n {
            let row = self.lower.get(i * n..)?;
            let dot = row.iter().zip(x.iter()).take(i).fold(0.0f32, |sum, (l, x)| sum + l * x);
            let own = *row.get(i)?;
            let slot = x.get_mut(i)?;
            *slot = (*slot - dot) / own;
        }
        for i in (0..n).rev() {
            let mut dot = 0.0f32;
            for k in i + 1..n {
                dot += self.lower.get(k * n + i)? * x.get(k)?;
            }
            let own = *self.lower.get(i * n + i)?;
            let slot = x.get_mut(i)?;
            *slot = (*slot - dot) / own;
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_is_found_with_its_covariance() {
        // y = 2 + 3 x at x = 0..9 with unit weights: covariance of the intercept is sum x^2 / (n sum x^2 - (sum x)^2).
        let mut normal = Normal::<2>::with_prior(&[0.0; 2], &[1.0e4; 2]);
        for x in 0..10u8 {
            let x = f32::from(x);
            normal.add(2.0 + 3.0 * x, &[1.0, x], 1.0);
        }
        let (step, covariance) = normal.solve().unwrap();
        assert!(
            (step[0] - 2.0).abs() < 1.0e-4 && (step[1] - 3.0).abs() < 1.0e-4,
            "{step:?}"
        );
        assert!((covariance[0][0] - 285.0 / 825.0).abs() < 1.0e-4, "{covariance:?}");
        assert!((covariance[0][1] + 45.0 / 825.0).abs() < 1.0e-5, "{covariance:?}");
    }

    #[test]
    fn a_prior_holds_what_no_row_tells() {
        let mut normal = Normal::<2>::with_prior(&[0.0, 0.5], &[1.0, 0.1]);
        normal.add(1.0, &[1.0, 0.0], 1.0e4);
        let (step, covariance) = normal.solve().unwrap();
        assert!((step[0] - 1.0).abs() < 1.0e-3 && (step[1] - 0.5).abs() < 1.0e-6);
        assert!((sqrt(covariance[1][1]) - 0.1).abs() < 1.0e-5);
    }
}
