//! The most water a riser can lift.

use super::riser::{Heads, Riser};

/// The top of a lift's curve at given levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Free air at the top, m3/s.
    pub air_m3_s: f64,
    /// Water at the top, m3/s.
    pub water_m3_s: f64,
}

/// Superficial free-air speeds between which the peak is looked for, m/s.
const SEARCH_M_S: (f64, f64) = (0.01, 20.0);

impl Riser {
    /// The air that moves the most water at these levels, by golden section to 0.2 % of the air (the top is so flat
    /// that the water is then within 1e-5). Some twenty solves: not for every step.
    #[must_use]
    pub fn peak(&self, heads: Heads) -> Peak {
        const GOLD: f64 = 0.618_033_988_749_894_9;
        let area = self.bore_m2();
        let mut warm = 0.0;
        let mut at = |log: f64| {
            let air = log.exp() * area;
            (air, self.water_m3_s(heads, air, &mut warm))
        };
        let (mut low, mut high) = (SEARCH_M_S.0.ln(), SEARCH_M_S.1.ln());
        let mut left = high - GOLD * (high - low);
        let mut right = low + GOLD * (high - low);
        let (mut at_left, mut at_right) = (at(left), at(right));
        while high - low > 2e-3 {
            // A flat zero on both sides means that neither is past the onset.
            if at_left.1 > at_right.1 {
                high = right;
                right = left;
                at_right = at_left;
                left = high - GOLD * (high - low);
                at_left = at(left);
            } else {
                low = left;
                left = right;
                at_left = at_right;
                right = low + GOLD * (high - low);
                at_right = at(right);
            }
        }
        let best = if at_left.1 > at_right.1 { at_left } else { at_right };
        Peak {
            air_m3_s: best.0,
            water_m3_s: best.1,
        }
    }
}
