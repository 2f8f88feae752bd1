//! Axes: round steps, and where a value lies on them.

/// One axis from zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Axis {
    /// Where it ends.
    pub end: f64,
    /// Distance between its marks.
    pub step: f64,
}

impl Axis {
    /// An axis that holds `most`, with about `marks` marks at 1, 2 or 5 times a power of ten.
    pub fn holding(most: f64, marks: f64) -> Self {
        let most = if most > 0.0 && most.is_finite() { most } else { 1.0 };
        let rough = most / marks;
        let ten = 10.0_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|by| by * ten)
            .find(|step| *step >= rough)
            .unwrap_or(10.0 * ten);
        Self {
            end: (most / step).ceil() * step,
            step,
        }
    }

    /// Its marks, from zero.
    pub fn marks(self) -> impl Iterator<Item = f64> {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a handful of marks
        let count = (self.end / self.step).round() as u32;
        (0..=count).map(move |mark| f64::from(mark) * self.step)
    }

    /// Where a value lies, 0 at zero to 1 at the end.
    pub fn share(self, value: f64) -> f64 {
        (value / self.end).clamp(0.0, 1.0)
    }

    /// A mark's label.
    pub fn label(self, mark: f64) -> String {
        if self.step < 1.0 {
            format!("{mark:.1}")
        } else {
            format!("{mark:.0}")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn axes_end_on_a_round_mark_above_the_most() {
        let axis = Axis::holding(137.0, 5.0);
        assert_eq!((axis.end, axis.step), (150.0, 50.0));
        assert_eq!(axis.marks().count(), 4);
        assert_eq!(Axis::holding(0.0, 5.0).end, 1.0);
    }
}
