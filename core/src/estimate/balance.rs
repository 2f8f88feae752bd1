//! The water balance of all tanks at one moment: every stream with its slopes.

use super::row::{Places, add};
use super::{LiftInput, OutletInput};

/// What flows into every tank, and how that changes with every level and every delivery factor. For at most 32 lifts and 32 tanks.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Balance<const LIFTS: usize, const TANKS: usize> {
    /// Water gained, m3/s.
    pub(super) net: [f32; TANKS],
    /// Change of what tank `[i]` gains with the level of tank `[j]`, m2/s.
    pub(super) by_level: [[f32; TANKS]; TANKS],
    /// Change of what tank `[i]` gains with the factor of lift `[j]`, m3/s.
    pub(super) by_factor: [[f32; LIFTS]; TANKS],
    /// Where the rows of `by_level` are not zero: water runs from few tanks into few.
    pub(super) levels: [Places; TANKS],
    /// Where the rows of `by_factor` are not zero.
    pub(super) factors: [Places; TANKS],
}

impl<const LIFTS: usize, const TANKS: usize> Balance<LIFTS, TANKS> {
    const FITS: () = assert!(LIFTS <= 32 && TANKS <= 32, "a bit for each place");

    /// The same as a constant: memory is cleared for it at once, not row by row.
    const STILL: Self = Self {
        net: [0.0; TANKS],
        by_level: [[0.0; TANKS]; TANKS],
        by_factor: [[0.0; LIFTS]; TANKS],
        levels: [Places::NONE; TANKS],
        factors: [Places::NONE; TANKS],
    };

    /// A balance without any stream.
    #[must_use]
    #[inline]
    pub const fn still() -> Self {
        let () = Self::FITS;
        Self::STILL
    }

    /// Adds what an outlet passes.
    pub fn outlet(&mut self, outlet: &OutletInput) {
        let from = outlet.from;
        self.gains(from, -outlet.flow_m3_s);
        self.gains_by_level(from, from, -outlet.per_level);
        if let Some(to) = outlet.to {
            self.gains(to, outlet.flow_m3_s);
            self.gains_by_level(to, from, outlet.per_level);
            if outlet.per_downstream != 0.0 {
                self.gains_by_level(to, to, outlet.per_downstream);
                self.gains_by_level(from, to, -outlet.per_downstream);
            }
        }
    }

    /// Adds what lift `index` moves with this delivery factor.
    pub fn lift(&mut self, index: usize, factor: f32, lift: &LiftInput) {
        let flow = factor * lift.curve_m3_s;
        let (per_source, per_receiver) = (factor * lift.per_source, factor * lift.per_receiver);
        for (tank, sign) in [(lift.from, -1.0), (lift.to, 1.0)] {
            self.gains(tank, sign * flow);
            if let (Some(row), Some(places)) = (self.by_factor.get_mut(tank), self.factors.get_mut(tank)) {
                add(row, index, sign * lift.curve_m3_s);
                places.note(index);
            }
            self.gains_by_level(tank, lift.from, sign * per_source);
            if per_receiver != 0.0 {
                self.gains_by_level(tank, lift.to, sign * per_receiver);
            }
        }
    }

    fn gains(&mut self, tank: usize, flow_m3_s: f32) {
        add(&mut self.net, tank, flow_m3_s);
    }

    #[inline(never)]
    fn gains_by_level(&mut self, tank: usize, with: usize, slope_m2_s: f32) {
        if let (Some(row), Some(places)) = (self.by_level.get_mut(tank), self.levels.get_mut(tank)) {
            add(row, with, slope_m2_s);
            places.note(with);
        }
    }
}
