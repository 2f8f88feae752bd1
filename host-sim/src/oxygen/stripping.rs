//! Carbon dioxide taken out by the air, as guidance.

/// What one pass through a lift can take out at most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stripping {
    /// Volume of air at the surface over the volume of water.
    pub gas_to_water: f64,
    /// Concentration in water over that in air in balance with it.
    pub water_over_air: f64,
    /// Most that one pass can take out of the carbon dioxide above that of clean air, 0 to 1.
    pub most_share: f64,
}

/// The most that one pass can strip: air and water leave together in balance, the air having come in clean,
/// `1 / (1 + Hcc / (G:L))` (mass balance). Real lifts reach part of it; dedicated strippers work at a gas-to-water ratio
/// of 5 to 10 (common practice).
///
/// Solubility by Weiss (1974), Marine Chemistry 2:203 (from memory; agrees with Sander 2023 within 8 %); 0 to 40 C,
/// 0 to 40 g/kg.
#[must_use]
pub fn stripping(water_c: f64, salinity_g_kg: f64, gas_to_water: f64) -> Stripping {
    let hundred = (water_c + 273.15) / 100.0;
    let fresh = -58.0931 + 90.5069 / hundred + 22.2940 * hundred.ln();
    let salt = salinity_g_kg * (0.027_766 - 0.025_888 * hundred + 0.005_057_8 * hundred * hundred);
    // mol/(L atm) to a ratio of concentrations: times R T in L atm/mol.
    let water_over_air = (fresh + salt).exp() * 0.082_057_4 * (water_c + 273.15);
    let most = if gas_to_water > 0.0 {
        1.0 / (1.0 + water_over_air / gas_to_water)
    } else {
        0.0
    };
    Stripping {
        gas_to_water,
        water_over_air,
        most_share: most,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn carbon_dioxide_is_as_soluble_as_two_sources_say() {
        // Water over air: Weiss (1974) as computed from its formula, and Sander (2023), which is good to 3 % itself.
        for (t, weiss, sander) in [
            (5.0, 1.4625, 1.3614),
            (15.0, 1.0765, 1.0454),
            (20.0, 0.9405, 0.9227),
            (30.0, 0.7420, 0.7284),
        ] {
            let found = stripping(t, 0.0, 1.0).water_over_air;
            assert!((found / weiss - 1.0).abs() < 1e-3, "{t}: {found} not {weiss}");
            assert!((found / sander - 1.0).abs() < 0.08, "{t}: {found} far from {sander}");
        }
    }

    #[test]
    fn one_pass_takes_out_less_than_balance_allows_and_more_air_takes_more() {
        // 20 C: 0.24, 0.52, 0.84 and 0.91 at 0.3, 1, 5 and 10 volumes of air (mass balance, Hcc 0.9405).
        for (ratio, share) in [(0.3, 0.242), (1.0, 0.515), (5.0, 0.842), (10.0, 0.914)] {
            assert!((stripping(20.0, 0.0, ratio).most_share - share).abs() < 2e-3);
        }
        assert_eq!(stripping(20.0, 0.0, 0.0).most_share, 0.0);
    }

    #[test]
    fn measured_strippers_stay_near_or_below_the_ceiling() {
        // Cascade columns of 1 m (Summerfelt, Davidson & Waldrop 2003): 0.21-0.24 at 2.2-3.4, 0.372 at most at 9.9.
        for (ratio, measured) in [(2.2, 0.24), (5.1, 0.336), (9.5, 0.372)] {
            assert!(stripping(15.0, 0.0, ratio).most_share > measured);
        }
    }
}
