//! Dissolved oxygen at saturation.

/// Coldest water of the equation, C.
pub const LEAST_C: f64 = 0.0;
/// Warmest water of the equation, C.
pub const MOST_C: f64 = 40.0;

/// Oxygen in water in balance with moist air, mg/L; water 0 to 40 C, salt 0 to 40 g/kg, absolute pressure of the air in Pa.
///
/// Benson & Krause (1984), Limnol. Oceanogr. 29:620-632: their equation for one atmosphere, their correction for pressure.
/// Below the surface the pressure is that of the bubble.
#[must_use]
pub fn saturation_mg_l(water_c: f64, salinity_g_kg: f64, pressure_pa: f64) -> f64 {
    let t = water_c + 273.15;
    let fresh =
        -139.344_11 + 1.575_701e5 / t - 6.642_308e7 / (t * t) + 1.243_800e10 / t.powi(3) - 8.621_949e11 / t.powi(4);
    let salt = salinity_g_kg * (0.017_674 - 10.754 / t + 2140.7 / (t * t));
    let at_one = (fresh - salt).exp();
    let p = pressure_pa / 101_325.0;
    let vapour = (11.857_1 - 3840.70 / t - 216_961.0 / (t * t)).exp();
    let theta = 0.000_975 - 1.426e-5 * water_c + 6.436e-8 * water_c * water_c;
    at_one * p * (1.0 - vapour / p) * (1.0 - theta * p) / ((1.0 - vapour) * (1.0 - theta))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturation_is_that_of_benson_and_krause() {
        // mg/L at one atmosphere: fresh, 10 and 35 g/kg; fresh at 0.9 atm.
        for (t, fresh, ten, sea, high) in [
            (0.0, 14.621, 13.633, 11.446, 13.151),
            (10.0, 11.288, 10.589, 9.024, 10.146),
            (20.0, 9.092, 8.572, 7.396, 8.162),
            (30.0, 7.559, 7.155, 6.237, 6.770),
            (40.0, 6.413, 6.090, 5.353, 5.721),
        ] {
            for (salt, atm, expected) in [(0.0, 1.0, fresh), (10.0, 1.0, ten), (35.0, 1.0, sea), (0.0, 0.9, high)] {
                let found = saturation_mg_l(t, salt, atm * 101_325.0);
                assert!(
                    (found - expected).abs() < 1.5e-3,
                    "{t} C, {salt} g/kg, {atm} atm: {found} not {expected}"
                );
            }
        }
    }

    #[test]
    fn saturation_agrees_with_the_table_of_the_trade() {
        // Fresh water at one atmosphere, mg/L (C. E. Boyd, "Dissolved oxygen requirements in aquatic animal respiration",
        // Global Seafood Alliance): another rounding of the physics, within 0.4 %.
        for (t, table) in [(0.0, 14.60), (5.0, 12.76), (15.0, 10.07), (25.0, 8.24), (35.0, 6.93)] {
            let found = saturation_mg_l(t, 0.0, 101_325.0);
            assert!((found / table - 1.0).abs() < 4e-3, "{t} C: {found} not {table}");
        }
    }

    #[test]
    fn warm_salt_and_high_water_holds_less() {
        let here = saturation_mg_l(20.0, 5.0, 95_000.0);
        assert!(saturation_mg_l(21.0, 5.0, 95_000.0) < here);
        assert!(saturation_mg_l(20.0, 6.0, 95_000.0) < here);
        assert!(saturation_mg_l(20.0, 5.0, 94_000.0) < here);
    }
}
