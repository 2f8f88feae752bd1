//! Water and air where the installation stands.

use super::{AIR_J_KG_K, FREE_AIR_K, FREE_AIR_PA};

/// Properties of the water and the air, the same everywhere in one installation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Air pressure at the water's surface, Pa absolute.
    pub p_atm_pa: f64,
    /// Water temperature, C. The air in lines and risers is taken to have it too.
    pub water_c: f64,
    /// Water density, kg/m3.
    pub water_kg_m3: f64,
    /// Water viscosity, Pa s.
    pub water_pa_s: f64,
    /// Air viscosity, Pa s.
    pub air_pa_s: f64,
}

impl Place {
    /// A place at `altitude_m` above the sea with water of `water_c` (0 to 40 C) and `salinity_g_kg` (0 to 40).
    ///
    /// Density: Kell (1975), J. Chem. Eng. Data 20:97-105, plus 0.77 kg/m3 per g/kg of salt (from memory: a straight
    /// line within 0.1 % of sea-water tables). Viscosity: Kestin et al. (1978), plus 0.2 % per g/kg (from memory).
    /// Pressure: the standard atmosphere.
    #[must_use]
    pub fn new(altitude_m: f64, water_c: f64, salinity_g_kg: f64) -> Self {
        let t = water_c;
        let over = 999.839_52
            + t * (16.945_176
                + t * (-7.987_040_1e-3 + t * (-46.170_461e-6 + t * (105.563_02e-9 - t * 280.542_53e-12))));
        let density = over / (1.0 + 16.879_850e-3 * t) + 0.77 * salinity_g_kg;
        let below = 20.0 - t;
        let exponent = below / (t + 96.0) * (1.2364 - 1.37e-3 * below + 5.7e-6 * below * below);
        Self {
            p_atm_pa: 101_325.0 * (1.0 - 2.255_77e-5 * altitude_m).powf(5.255_88),
            water_c,
            water_kg_m3: density,
            water_pa_s: 1.002e-3 * 10_f64.powf(exponent) * (1.0 + 0.002 * salinity_g_kg),
            // 1.82e-5 at 20 C, rising with about the 0.7th power of temperature.
            air_pa_s: 1.8206e-5 * ((t + 273.15) / 293.15).powf(0.7),
        }
    }

    /// The same place with water of `water_c` (0 to 40 C).
    #[must_use]
    pub fn at(&self, water_c: f64) -> Self {
        let (fresh, now) = (Self::new(0.0, water_c, 0.0), Self::new(0.0, self.water_c, 0.0));
        Self {
            p_atm_pa: self.p_atm_pa,
            water_c,
            water_kg_m3: self.water_kg_m3 * fresh.water_kg_m3 / now.water_kg_m3,
            water_pa_s: self.water_pa_s * fresh.water_pa_s / now.water_pa_s,
            air_pa_s: fresh.air_pa_s,
        }
    }

    /// Temperature of water and air, K.
    #[must_use]
    pub fn temperature_k(&self) -> f64 {
        self.water_c + 273.15
    }

    /// Density of free air, kg/m3.
    #[must_use]
    pub fn free_air_kg_m3() -> f64 {
        FREE_AIR_PA / (AIR_J_KG_K * FREE_AIR_K)
    }

    /// How many m3 one m3 of free air takes up at `p_pa` absolute, times `p_pa`: Pa.
    #[must_use]
    pub fn free_air_pa_here(&self) -> f64 {
        FREE_AIR_PA * self.temperature_k() / FREE_AIR_K
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn water_density_and_viscosity_are_those_of_the_tables() {
        // Kell (1975) and Kestin et al. (1978) at 5, 20 and 30 C.
        for (t, rho, mu) in [
            (5.0, 999.9638, 1.519_253e-3),
            (20.0, 998.2041, 1.002_000e-3),
            (30.0, 995.6473, 0.797_275e-3),
        ] {
            let place = Place::new(0.0, t, 0.0);
            assert!((place.water_kg_m3 - rho).abs() < 2e-3, "{t}: {}", place.water_kg_m3);
            assert!((place.water_pa_s / mu - 1.0).abs() < 1e-4, "{t}: {}", place.water_pa_s);
        }
    }

    #[test]
    fn sea_water_is_as_dense_as_the_tables_say() {
        // Sea water of 35 g/kg at 20 C: 1024.77 kg/m3 (TEOS-10).
        let place = Place::new(0.0, 20.0, 35.0);
        assert!((place.water_kg_m3 / 1024.766 - 1.0).abs() < 1e-3);
    }

    #[test]
    fn a_place_warmed_is_the_place_described_warm() {
        let (warmed, warm) = (Place::new(500.0, 8.0, 30.0).at(25.0), Place::new(500.0, 25.0, 30.0));
        assert!((warmed.water_kg_m3 / warm.water_kg_m3 - 1.0).abs() < 1e-3);
        assert!((warmed.water_pa_s / warm.water_pa_s - 1.0).abs() < 1e-9);
        assert!((warmed.p_atm_pa - warm.p_atm_pa).abs() < 1e-6);
    }

    #[test]
    fn the_air_thins_with_altitude() {
        // Standard atmosphere: 101.325 kPa at the sea, 89.87 kPa at 1000 m.
        assert!((Place::new(0.0, 20.0, 0.0).p_atm_pa - 101_325.0).abs() < 1e-6);
        assert!((Place::new(1000.0, 20.0, 0.0).p_atm_pa - 89_874.6).abs() < 10.0);
    }
}
