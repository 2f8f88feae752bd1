//! The water balance of all tanks at one moment: every stream with its slopes.

use super::row::{add, add_at};
use super::{LiftInput, OutletInput};

/// What flows into every tank, and how that changes with every level and every delivery factor.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Balance<const LIFTS: usize, const TANKS: usize> {
    /// Water gained, m3/s.
    pub(super) net: [f32; TANKS],
    /// Change of what tank `[i]` gains with the level of tank `[j]`, m2/s.
    pub(super) by_level: [[f32; TANKS]; TANKS],
    /// Change of what tank `[i]` gains with the factor of lift `[j]`, m3/s.
    pub(super) by_factor: [[f32; LIFTS]; TANKS],
}

impl<const LIFTS: usize, const TANKS: usize> Balance<LIFTS, TANKS> {
    /// A balance without any stream.
    #[must_use]
    pub const fn still() -> Self {
        Self {
            net: [0.0; TANKS],
            by_level: [[0.0; TANKS]; TANKS],
            by_factor: [[0.0; LIFTS]; TANKS],
        }
    }

    /// Adds what an outlet passes.
    pub fn outlet(&mut self, outlet: &OutletInput) {
        let from = outlet.from;
        add(&mut self.net, from, -outlet.flow_m3_s);
        add_at(&mut self.by_level, from, from, -outlet.per_level);
        if let Some(to) = outlet.to {
            add(&mut self.net, to, outlet.flow_m3_s);
            add_at(&mut self.by_level, to, from, outlet.per_level);
            add_at(&mut self.by_level, to, to, outlet.per_downstream);
            add_at(&mut self.by_level, from, to, -outlet.per_downstream);
        }
    }

    /// Adds what lift `index` moves with this delivery factor.
    pub fn lift(&mut self, index: usize, factor: f32, lift: &LiftInput) {
        let flow = factor * lift.curve_m3_s;
        let (per_source, per_receiver) = (factor * lift.per_source, factor * lift.per_receiver);
        for (tank, sign) in [(lift.from, -1.0), (lift.to, 1.0)] {
            add(&mut self.net, tank, sign * flow);
            add_at(&mut self.by_factor, tank, index, sign * lift.curve_m3_s);
            add_at(&mut self.by_level, tank, lift.from, sign * per_source);
            add_at(&mut self.by_level, tank, lift.to, sign * per_receiver);
        }
    }
}
