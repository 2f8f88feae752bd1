//! Rank correlation: how far one figure rises when another does, whatever the shape.

/// Spearman's rank correlation, equal values sharing their mean rank; -1 to 1, `None` where either does not vary.
///
/// C. Spearman, "The proof and measurement of association between two things", American Journal of Psychology 15 (1904)
/// 72-101.
#[must_use]
pub fn spearman(a: &[f64], b: &[f64]) -> Option<f64> {
    let pairs: Vec<(f64, f64)> = a
        .iter()
        .copied()
        .zip(b.iter().copied())
        .filter(|(a, b)| a.is_finite() && b.is_finite())
        .collect();
    let (a, b): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
    pearson(&ranks(&a), &ranks(&b))
}

fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut ranks = vec![0.0; values.len()];
    let mut first = 0;
    while first < order.len() {
        let value = values[order[first]];
        let same = order[first..]
            .iter()
            .take_while(|index| values[**index] == value)
            .count();
        #[allow(clippy::cast_precision_loss)] // counts of seeds
        let rank = first as f64 + 0.5 * (same as f64 + 1.0);
        for index in &order[first..first + same] {
            ranks[*index] = rank;
        }
        first += same;
    }
    ranks
}

#[allow(clippy::cast_precision_loss)] // counts of seeds
fn pearson(a: &[f64], b: &[f64]) -> Option<f64> {
    let n = a.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / n;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let sum = |of: &dyn Fn(f64, f64) -> f64| a.iter().zip(b).map(|(a, b)| of(a - mean_a, b - mean_b)).sum::<f64>();
    let scale = (sum(&|a, _| a * a) * sum(&|_, b| b * b)).sqrt();
    (scale > 0.0).then(|| sum(&|a, b| a * b) / scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worked_example_of_ten_people_comes_out() {
        // Wikipedia, "Spearman's rank correlation coefficient", example: IQ against hours of television: -29/165. From memory.
        let iq = [106.0, 100.0, 86.0, 101.0, 99.0, 103.0, 97.0, 113.0, 112.0, 110.0];
        let hours = [7.0, 27.0, 2.0, 50.0, 28.0, 29.0, 20.0, 12.0, 6.0, 17.0];
        assert!(spearman(&iq, &hours).is_some_and(|rho| (rho + 29.0 / 165.0).abs() < 1e-12));
    }

    #[test]
    fn any_rising_curve_is_one_and_what_does_not_vary_has_none() {
        let x = [1.0, 2.0, 3.0, 4.0];
        assert!(spearman(&x, &x.map(f64::exp)).is_some_and(|rho| (rho - 1.0).abs() < 1e-12));
        assert_eq!(spearman(&x, &[5.0; 4]), None);
    }

    #[test]
    fn equal_values_share_their_rank() {
        assert_eq!(ranks(&[2.0, 1.0, 2.0, 3.0]), [2.5, 1.0, 2.5, 4.0]);
    }
}
