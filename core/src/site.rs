//! Water and atmosphere of the place.

use crate::water;
use serde::{Deserialize, Serialize};

/// Water and atmosphere of the site.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Site {
    /// Height above the sea, m; -400 to 5000.
    pub altitude_m: f32,
    /// Water temperature, C; 0 to 40.
    pub water_c: f32,
    /// Salt, g/kg; 0 to 42.
    pub salinity_g_kg: f32,
}

/// What follows from the site: worked out once, used at every step.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Conditions {
    /// Density of the water, kg/m3.
    pub density_kg_m3: f32,
    /// Surface tension of the water, N/m.
    pub surface_tension_n_m: f32,
    /// Temperature of the water, and so of the air in a riser, K.
    pub water_k: f32,
    /// Pressure of the standard atmosphere at this altitude, Pa.
    pub atmosphere_pa: f32,
}

impl Conditions {
    /// Fresh water at 20 C under the standard atmosphere, near enough to stand in memory before a site is known.
    pub const NONE: Self = Self {
        density_kg_m3: 998.2,
        surface_tension_n_m: 0.0728,
        water_k: 293.15,
        atmosphere_pa: 101_325.0,
    };
}

impl Site {
    /// Fresh water at the sea's height.
    pub(crate) const SEA: Self = Self {
        altitude_m: 0.0,
        water_c: 20.0,
        salinity_g_kg: 0.0,
    };

    /// The properties of water and air that follow from the site.
    #[must_use]
    pub fn conditions(&self) -> Conditions {
        Conditions {
            density_kg_m3: water::density_kg_m3(self.water_c, self.salinity_g_kg),
            surface_tension_n_m: water::surface_tension_n_m(self.water_c),
            water_k: self.water_c + 273.15,
            atmosphere_pa: water::atmosphere_pa(self.altitude_m),
        }
    }
}
