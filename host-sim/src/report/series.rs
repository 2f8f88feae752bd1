//! A series thinned as it comes.

use serde::Serialize;

/// A series in even stretches of time, two values a stretch: its lowest and its highest, in the order they came. What is
/// drawn of it looks as the whole would, and no peak is lost.
///
/// Values are kept as whole multiples of `scale`, each as the difference to the one before: short as text.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Series {
    scale: f64,
    /// Differences; `None` where there was no value.
    d: Vec<Option<i64>>,
    #[serde(skip)]
    last: i64,
    #[serde(skip)]
    low: Option<(u32, f64)>,
    #[serde(skip)]
    high: Option<(u32, f64)>,
}

impl Series {
    /// Empty, for values with this many decimals.
    pub fn new(decimals: u8) -> Self {
        Self {
            scale: 10_f64.powi(-i32::from(decimals)),
            d: Vec::new(),
            last: 0,
            low: None,
            high: None,
        }
    }

    /// A value at a place of the stretch that runs. What is no number counts as none.
    pub fn note(&mut self, place: u32, value: f64) {
        if !value.is_finite() {
            return;
        }
        if self.low.is_none_or(|(_, low)| value < low) {
            self.low = Some((place, value));
        }
        if self.high.is_none_or(|(_, high)| value > high) {
            self.high = Some((place, value));
        }
    }

    /// Ends the stretch: one value when it held a single place, else two.
    pub fn close(&mut self, single: bool) {
        let (low, high) = (self.low.take(), self.high.take());
        let (first, second) = match (low, high) {
            (Some(low), Some(high)) if low.0 <= high.0 => (Some(low.1), Some(high.1)),
            (Some(low), Some(high)) => (Some(high.1), Some(low.1)),
            _ => (None, None),
        };
        self.push(first);
        if !single {
            self.push(second);
        }
    }

    #[allow(clippy::cast_possible_truncation)] // the cast saturates; values are levels, flows and the like
    fn push(&mut self, value: Option<f64>) {
        let whole = value.map(|value| (value / self.scale).round() as i64);
        self.d.push(whole.map(|whole| whole.saturating_sub(self.last)));
        self.last = whole.unwrap_or(self.last);
    }

    /// The values kept.
    #[cfg(test)]
    pub fn values(&self) -> Vec<Option<f64>> {
        let mut sum = 0;
        let values = self.d.iter().map(|difference| {
            difference.map(|difference| {
                sum += difference;
                #[allow(clippy::cast_precision_loss)]
                let whole = sum as f64;
                whole * self.scale
            })
        });
        values.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lowest_and_the_highest_of_a_stretch_stay_in_their_order() {
        let mut series = Series::new(1);
        for stretch in [[5.0, 9.0, 1.0, 4.0], [2.0, 2.0, 7.0, 3.0]] {
            for (place, value) in (0..).zip(stretch) {
                series.note(place, value);
            }
            series.close(false);
        }
        assert_eq!(series.values(), [Some(9.0), Some(1.0), Some(2.0), Some(7.0)]);
    }

    #[test]
    fn where_there_is_no_number_there_is_a_gap_and_what_follows_is_right() {
        let mut series = Series::new(0);
        for value in [3.0, f64::NAN, f64::INFINITY, 5.0] {
            series.note(0, value);
            series.close(true);
        }
        assert_eq!(series.values(), [Some(3.0), None, None, Some(5.0)]);
    }
}
