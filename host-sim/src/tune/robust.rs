//! Statistics that a few wild values do not move: median and median absolute deviation.

/// A normal distribution's standard deviation over its median absolute deviation: one over the upper quartile of the standard
/// normal, 1 / 0.674490 (Hampel 1974; Rousseeuw & Croux 1993).
pub const NORMAL_OVER_MAD: f64 = 1.482_602_218_505_602;

/// The median; of an even number of values the mean of the two in the middle. `None` of no value. The values are put in
/// another order.
pub fn median(values: &mut [f64]) -> Option<f64> {
    let half = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    let odd = values.len() % 2 == 1;
    let (below, middle, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    let middle = *middle;
    if odd {
        return Some(middle);
    }
    let below = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * (below + middle))
}

/// The median absolute deviation from the median. `None` of no value.
pub fn median_absolute_deviation(values: &[f64]) -> Option<f64> {
    let mut copy = values.to_vec();
    let middle = median(&mut copy)?;
    for (copy, value) in copy.iter_mut().zip(values) {
        *copy = (value - middle).abs();
    }
    median(&mut copy)
}

/// The median absolute value of numbers that a sensor rounds to multiples of `step`: each multiple stands for the values within
/// half a step of it, evenly (the median of grouped data). Without a step, the plain median.
pub fn median_magnitude(values: &[f64], step: f64) -> Option<f64> {
    let mut sizes: Vec<f64> = values.iter().map(|value| value.abs()).collect();
    let plain = median(&mut sizes)?;
    if step.is_nan() || step <= 0.0 {
        return Some(plain);
    }
    let group = (plain / step).round();
    let of = |size: &f64| (size / step).round();
    let below = sizes.iter().filter(|size| of(size) < group).count();
    let inside = sizes.iter().filter(|size| of(size) == group).count();
    if inside == 0 {
        return Some(plain);
    }
    #[allow(clippy::cast_precision_loss)]
    let share = (0.5 * sizes.len() as f64 - below as f64) / inside as f64;
    // Magnitudes of the group of zero lie between nothing and half a step, of all others a whole step wide.
    let (low, width) = if group == 0.0 {
        (0.0, 0.5 * step)
    } else {
        ((group - 0.5) * step, step)
    };
    Some(low + share.clamp(0.0, 1.0) * width)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_and_deviation_are_those_of_a_published_example() {
        // Analytical Methods Committee, Royal Society of Chemistry, "Robust statistics - how not to reject outliers", Analyst
        // 114 (1989) 1693, and AMC Technical Brief 6 (2001), from memory: 4.5, 4.9, 5.6, 4.2, 6.2, 5.2, 9.9 has the median
        // 5.2 and the median absolute deviation 0.7, hence a robust deviation of 1.04.
        let mut values = [4.5, 4.9, 5.6, 4.2, 6.2, 5.2, 9.9];
        let deviation = median_absolute_deviation(&values).unwrap();
        assert!((deviation - 0.7).abs() < 1e-12, "{deviation}");
        assert!((NORMAL_OVER_MAD * deviation - 1.04).abs() < 0.005);
        assert_eq!(median(&mut values), Some(5.2));
        assert_eq!(median(&mut [1.0, 4.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&mut []), None);
    }

    #[test]
    fn rounding_does_not_move_the_median_of_a_magnitude() {
        // A fixed set of normal quantiles, 2.5 wide, rounded to whole numbers: its median magnitude is 0.6745 x 2.5.
        let values: Vec<f64> = (0..2000)
            .map(|k| (2.5 * normal_quantile((f64::from(k) + 0.5) / 2000.0)).round())
            .collect();
        let found = median_magnitude(&values, 1.0).unwrap();
        assert!((found - 0.6745 * 2.5).abs() < 0.06, "{found}");
        let plain = median_magnitude(&values, 0.0).unwrap();
        assert_eq!(plain, 2.0, "which is why");
    }

    /// Bisection on the sum of the normal's density: slow and plain.
    fn normal_quantile(p: f64) -> f64 {
        let (mut low, mut high) = (-8.0, 8.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if probability(middle) < p {
                low = middle
            } else {
                high = middle
            }
        }
        0.5 * (low + high)
    }

    fn probability(x: f64) -> f64 {
        let steps = 400;
        let width = x / f64::from(steps);
        let density = |t: f64| (-0.5 * t * t).exp() / std::f64::consts::TAU.sqrt();
        let sum: f64 = (0..steps).map(|k| density((f64::from(k) + 0.5) * width)).sum();
        0.5 + sum * width
    }
}
