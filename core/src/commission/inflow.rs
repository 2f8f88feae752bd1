//! What still comes in, or is lost another way, while a tank drains: the lift's trickle or a leak.
//!
//! Near its seat a valve passes more air than it is thought to, and a lift that was to stand still may trickle. The level then
//! ends above the crest by the head of the trickle, which looks like a wrong zero; only the course of the level tells them
//! apart. One number stands for both: above nothing it is the trickle at the end of the recession, below it a leak. Over a weir
//! it goes by the head that the trickle stands at, with a straight part so that it passes through nothing smoothly.

use crate::math::seldom::{larger, positive};
use crate::math::sqrt;
use crate::outlet::{Law, OutletView};

/// The straight part of the number over a weir, m3/s (2 L/min): the leak at -1.
const WEIR_STRAIGHT_M3_S: f32 = 3.3e-5;

/// How the number is turned into a flow at one place.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Inflow {
    /// The lift's target: the trickle at 1, m3/s.
    pub target_m3_s: f32,
    /// How the lift's trickle grows with its source's level, m2/s; zero when the outlet does not drain into the source.
    pub by_source_m2_s: f32,
    /// Level of the water that the outlet drains into at the end of the recession, m.
    pub end_below_m: f32,
}

impl Inflow {
    /// The trickle at a number above nothing when the water drained into stands at `below_m`, m3/s.
    #[must_use]
    pub fn trickle_m3_s(&self, outlet: &OutletView<'_>, number: f32, below_m: f32) -> f32 {
        if !(number > 0.0) {
            return 0.0;
        }
        let at_end = self.target_m3_s * power(outlet, number) + self.straight_m3_s(outlet) * number;
        positive(at_end - self.by_source_m2_s * (self.end_below_m - below_m))
    }

    /// The leak at a number below nothing, m3/s.
    #[must_use]
    pub fn leak_m3_s(&self, outlet: &OutletView<'_>, number: f32) -> f32 {
        let at_one = if is_weir(outlet) {
            self.straight_m3_s(outlet)
        } else {
            self.target_m3_s
        };
        positive(-number) * at_one
    }

    fn straight_m3_s(&self, outlet: &OutletView<'_>) -> f32 {
        if is_weir(outlet) { WEIR_STRAIGHT_M3_S } else { 0.0 }
    }

    /// Leak (above nothing) or trickle at the end (below) and its change with the number, m3/s.
    #[must_use]
    pub fn lost_m3_s(&self, outlet: &OutletView<'_>, number: f32) -> (f32, f32) {
        let at = |number: f32| self.leak_m3_s(outlet, number) - self.trickle_m3_s(outlet, number, self.end_below_m);
        (at(number), (at(number - 0.01) - at(number + 0.01)).abs() / 0.02)
    }

    /// About the number whose trickle is this flow: a fit starts from it.
    #[must_use]
    pub fn number_of(&self, outlet: &OutletView<'_>, trickle_m3_s: f32) -> f32 {
        let share = positive(trickle_m3_s) / larger(self.target_m3_s, 1.0e-9);
        match &outlet.law {
            Law::VNotch { .. } => crate::math::pow(share, 0.4),
            _ if is_weir(outlet) => crate::math::pow(share, 0.667),
            _ => share,
        }
    }
}

/// True for outlets whose flow grows faster than their head: a trickle stands as a head that is easily seen.
#[must_use]
pub fn is_weir(outlet: &OutletView<'_>) -> bool {
    matches!(
        outlet.law,
        Law::VNotch { .. } | Law::Rectangular { .. } | Law::Standpipe { .. }
    )
}

/// The number to the power of the outlet's own law, so that it is about in proportion to the head of the trickle.
fn power(outlet: &OutletView<'_>, number: f32) -> f32 {
    match &outlet.law {
        Law::VNotch { .. } => number * number * sqrt(number),
        _ if is_weir(outlet) => number * sqrt(number),
        _ => number,
    }
}
