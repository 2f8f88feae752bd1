//! Float functions with a stated accuracy and the same bits on every target.
//!
//! `micromath` is quick but rough (its square root is off by up to 6 %), so it only seeds a Newton iteration here;
//! `exp`, `ln` and `pow` come from the `libm` crate, which is exact to an ulp or so and compiled from one source
//! everywhere. No function panics or returns NaN.

use micromath::F32Ext;

/// Standard gravity, m/s2 (3rd CGPM, 1901).
pub const GRAVITY_M_S2: f32 = 9.806_65;

/// Root of twice gravity, m^0.5/s: the speed of water under a metre of head.
pub const ROOT_2G: f32 = 4.428_690_6;

/// Pi, rounded to f32.
pub const PI: f32 = core::f32::consts::PI;

/// `value` held between `low` and `high`; NaN becomes `low`. When the limits cross, `low` wins.
#[inline]
#[must_use]
pub fn limit(value: f32, low: f32, high: f32) -> f32 {
    if !(value > low) || !(high > low) {
        low
    } else if value > high {
        high
    } else {
        value
    }
}

/// The larger of two numbers; a NaN loses. Unlike `f32::max`, the same bits on every target (`a` wins a tie).
#[inline]
#[must_use]
pub fn larger(a: f32, b: f32) -> f32 {
    if b > a || a.is_nan() { b } else { a }
}

/// The smaller of two numbers; a NaN loses (`a` wins a tie).
#[inline]
#[must_use]
pub fn smaller(a: f32, b: f32) -> f32 {
    if b < a || a.is_nan() { b } else { a }
}

/// The same functions for code that runs seldom: called, not written out at each of a hundred places.
pub mod seldom {
    /// See [`super::limit`].
    #[inline(never)]
    #[must_use]
    pub fn limit(value: f32, low: f32, high: f32) -> f32 {
        super::limit(value, low, high)
    }

    /// See [`super::larger`].
    #[inline(never)]
    #[must_use]
    pub fn larger(a: f32, b: f32) -> f32 {
        super::larger(a, b)
    }

    /// The number where it is positive, else zero; a NaN is zero too.
    #[inline(never)]
    #[must_use]
    pub fn positive(value: f32) -> f32 {
        super::larger(value, 0.0)
    }

    /// See [`super::smaller`].
    #[inline(never)]
    #[must_use]
    pub fn smaller(a: f32, b: f32) -> f32 {
        super::smaller(a, b)
    }

    /// The whole part of a number held between nothing and `most`; NaN counts as nothing.
    #[inline(never)]
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // held, and saturating beyond
    pub fn whole(value: f32, most: f32) -> u16 {
        limit(value, 0.0, most) as u16
    }
}

/// `value` when it is a number, else `otherwise`.
#[inline]
#[must_use]
pub fn finite_or(value: f32, otherwise: f32) -> f32 {
    if value.is_finite() { value } else { otherwise }
}

/// Square root, within 1.2e-7 relative for every positive f32; zero for zero, negative or NaN input; an infinite input
/// counts as the largest finite number.
///
/// `micromath`'s inverse root (3.4 % off) seeds two Newton steps and a Heron step: about half the instructions of the
/// bit-by-bit root in `libm` on a core with a multiplier.
#[must_use]
pub fn sqrt(x: f32) -> f32 {
    /// 1e-30 and the largest finite number, as bits: those between them are in the same order as the numbers.
    const LEAST: u32 = 0x0DA2_4260;
    const MOST: u32 = f32::MAX.to_bits();
    if x.to_bits().wrapping_sub(LEAST) <= MOST - LEAST {
        root(x)
    } else {
        root_of_extremes(x)
    }
}

#[inline(always)]
fn root(x: f32) -> f32 {
    let half = 0.5 * x;
    let mut y = x.invsqrt();
    y *= 1.5 - half * y * y;
    y *= 1.5 - half * y * y;
    let root = x * y;
    0.5 * (root + x / root)
}

/// Of what is no positive number, and of numbers whose Newton products would come into the subnormal range.
#[inline(never)]
fn root_of_extremes(x: f32) -> f32 {
    if !(x > 0.0) {
        return 0.0;
    }
    if x < 1.0 {
        root(x * f32::from_bits(0x5D80_0000)) * f32::from_bits(0x3080_0000) // 2^60 and 2^-30
    } else {
        root(f32::MAX)
    }
}

/// Natural logarithm, within 2e-7 relative; the logarithm of zero, negative or NaN input is that of the smallest
/// positive normal f32 (-87.3).
#[must_use]
#[inline(never)]
pub fn ln(x: f32) -> f32 {
    libm::logf(limit(x, f32::MIN_POSITIVE, f32::MAX))
}

/// `e` to the `x`, within 2e-7 relative; the argument is held to -87..88, so the result is finite and positive.
#[must_use]
#[inline(never)]
pub fn exp(x: f32) -> f32 {
    libm::expf(limit(x, -87.0, 88.0))
}

/// `x` to the `y` for positive `x`, as `exp(y ln x)`: within 2e-7 (1 + |y ln x|) relative, so 4e-7 for results between 1/e and e.
/// Zero for zero or negative `x`; results are held between those of [`exp`], and NaN input gives zero.
#[must_use]
pub fn pow(x: f32, y: f32) -> f32 {
    if !(x > 0.0) || !y.is_finite() {
        return 0.0;
    }
    exp(y * ln(x))
}

/// Straight line through a table of rising `x`; the end values hold outside it. `None` for an empty table.
#[must_use]
#[inline(never)]
pub fn interpolate<P>(points: &[P], x: f32, x_of: impl Fn(&P) -> f32, y_of: impl Fn(&P) -> f32) -> Option<f32> {
    let mut previous: Option<&P> = None;
    for point in points {
        if x <= x_of(point) {
            return Some(match previous {
                None => y_of(point),
                Some(left) => {
                    let width = x_of(point) - x_of(left);
                    let share = if width > 0.0 { (x - x_of(left)) / width } else { 1.0 };
                    y_of(left) + share * (y_of(point) - y_of(left))
                }
            });
        }
        previous = Some(point);
    }
    previous.map(y_of)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steps geometrically through the positive f32 range.
    fn sweep(mut visit: impl FnMut(f32)) {
        let mut x = f32::MIN_POSITIVE;
        while x < 1.0e38 {
            visit(x);
            x *= 1.000_37;
        }
    }

    #[test]
    fn the_square_root_is_within_its_stated_accuracy() {
        extern crate std;
        let mut worst = 0.0f64;
        sweep(|x| {
            let truth = std::primitive::f64::sqrt(f64::from(x));
            let off = (f64::from(sqrt(x)) - truth).abs() / truth;
            if off > worst {
                worst = off;
            }
        });
        assert!(worst <= 1.2e-7, "worst relative error {worst:e}");
        assert!(worst > 0.0, "f32 cannot be exact");
    }

    #[test]
    fn the_square_root_of_nonsense_is_defined() {
        assert_eq!(sqrt(-1.0), 0.0);
        assert_eq!(sqrt(0.0), 0.0);
        assert_eq!(sqrt(f32::NAN), 0.0);
        assert!(sqrt(f32::INFINITY).is_finite());
        assert!(sqrt(f32::from_bits(1)) > 0.0);
    }

    #[test]
    fn logarithm_and_exponential_are_within_their_stated_accuracy() {
        extern crate std;
        sweep(|x| {
            let truth = std::primitive::f64::ln(f64::from(x));
            let off = (f64::from(ln(x)) - truth).abs();
            assert!(off <= 2.0e-7 * truth.abs() + 1.0e-9, "ln {x}: {off:e}");
        });
        for step in -8700..8800i16 {
            let x = f32::from(step) * 0.01;
            let truth = std::primitive::f64::exp(f64::from(x));
            let off = (f64::from(exp(x)) - truth).abs() / truth;
            assert!(off <= 2.0e-7, "exp {x}: {off:e}");
        }
        assert!(ln(f32::NAN).is_finite() && ln(-1.0).is_finite() && exp(f32::NAN).is_finite());
    }

    #[test]
    fn a_power_is_within_its_stated_accuracy() {
        extern crate std;
        for y in [0.385f32, 0.4, 0.667, 2.0, 5.255_88, -1.5] {
            let mut x = 1.0e-3f32;
            while x < 1.0e3 {
                let truth = std::primitive::f64::powf(f64::from(x), f64::from(y));
                let off = (f64::from(pow(x, y)) - truth).abs() / truth;
                let promised = 2.0e-7 * (1.0 + truth.ln().abs());
                assert!(off <= promised, "{x}^{y}: {off:e}, promised {promised:e}");
                x *= 1.013;
            }
        }
        assert_eq!(
            (pow(0.0, 2.0), pow(-1.0, 2.0), pow(f32::NAN, 1.0), pow(2.0, f32::NAN)),
            (0.0, 0.0, 0.0, 0.0)
        );
    }

    #[test]
    fn limits_hold_for_every_kind_of_number() {
        for value in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, -0.0, 0.3, 7.0] {
            let held = limit(value, 0.1, 0.9);
            assert!((0.1..=0.9).contains(&held), "{value} -> {held}");
        }
        assert_eq!(limit(0.5, 0.9, 0.1), 0.9);
        assert_eq!(larger(f32::NAN, 1.0), 1.0);
        assert_eq!(smaller(1.0, f32::NAN), 1.0);
    }

    #[test]
    fn a_table_is_straight_between_its_points_and_flat_outside() {
        let table = [(1.0f32, 10.0f32), (3.0, 30.0), (4.0, 0.0)];
        let at = |x| interpolate(&table, x, |p| p.0, |p| p.1);
        assert_eq!(at(0.0), Some(10.0));
        assert_eq!(at(2.0), Some(20.0));
        assert_eq!(at(3.5), Some(15.0));
        assert_eq!(at(9.0), Some(0.0));
        let empty: [(f32, f32); 0] = [];
        assert_eq!(interpolate(&empty, 1.0, |p| p.0, |p| p.1), None);
    }
}
