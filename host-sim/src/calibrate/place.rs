//! A lift with what is needed to read its measurements: its name, its tanks and the air it is given.

use super::curve_model::Measured;
use risertrim::air::{AirSupply, Branch, Manifold, Path};
use risertrim::installation::{Conditions, Installation, Lift};
use risertrim::tank::Tank;
use risertrim::units::Opening;

/// A lift of an installation, by name.
#[derive(Clone, Debug)]
pub struct NamedLift {
    /// Its name.
    pub name: String,
    /// The lift.
    pub lift: Lift,
    /// The tank it fills.
    pub receiver: Tank,
    /// Height of the rim of the tank it draws from above that tank's floor, m.
    pub source_rim_m: f64,
    /// Height of the receiver's floor above the source's floor, m.
    pub floor_rise_m: f64,
    /// Water and atmosphere.
    pub conditions: Conditions,
    supply: AirSupply,
}

impl NamedLift {
    /// Every lift of an installation, `names` in the same order.
    #[must_use]
    pub fn all<const LIFTS: usize, const TANKS: usize>(
        place: &Installation<LIFTS, TANKS>,
        names: &[String],
    ) -> Vec<Self> {
        let conditions = place.site.conditions();
        place
            .lifts
            .iter()
            .zip(names)
            .filter_map(|(lift, name)| {
                Some(Self {
                    name: name.clone(),
                    lift: lift.clone(),
                    receiver: place.tanks.get(usize::from(lift.to))?.clone(),
                    source_rim_m: f64::from(place.tanks.get(usize::from(lift.from))?.rim_m),
                    floor_rise_m: f64::from(place.floor_m(lift.to) - place.floor_m(lift.from)),
                    conditions,
                    supply: place.air.clone(),
                })
            })
            .collect()
    }

    /// The riser in its water, for the fit.
    #[must_use]
    pub fn measured(&self) -> Measured {
        Measured::new(self.lift.riser, self.conditions)
    }

    /// Free air that the valve is told to pass at an opening (0..1) under this manifold pressure, m3/s, with the source at
    /// `source_m`.
    #[must_use]
    #[allow(clippy::cast_possible_truncation)]
    pub fn air_through_valve_m3_s(&self, opening: f64, manifold_pa: f64, source_m: f64) -> f64 {
        let depth_m = (source_m - f64::from(self.lift.riser.injector_m)).max(0.0) as f32;
        let head_pa = self.conditions.density_kg_m3 * risertrim::math::GRAVITY_M_S2 * depth_m;
        let path = Path::new(
            &self.lift.line,
            &self.lift.diffuser,
            head_pa,
            self.conditions.atmosphere_pa,
        );
        let manifold = Manifold::new(&self.supply, self.conditions.atmosphere_pa, Some(manifold_pa as f32));
        f64::from(manifold.branch_m3_s(
            &Branch::new(&self.lift.valve, path),
            Opening::new(opening as f32),
            manifold_pa as f32,
        ))
    }
}
