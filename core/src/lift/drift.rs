//! How much faster than the water the air rises, and what share of the riser it fills.

use crate::math::seldom::smaller;
use crate::math::{GRAVITY_M_S2, exp, sqrt};

/// Distribution coefficient C0 of the drift-flux law in turbulent upward pipe flow (Nicklin, Wilkes & Davidson 1962;
/// Zuber & Findlay 1965).
pub const DISTRIBUTION: f32 = 1.2;

/// Drift velocity of the air in a riser, m/s.
///
/// `0.35 sqrt(g D)` (Nicklin, Wilkes & Davidson 1962; Dumitrescu 1943), slowed in narrow risers by surface tension in
/// the form of Wallis's fit (1969, from White & Beardmore 1962): `1 - exp((3.37 - Eo)/10)`, `Eo = rho g D^2 / sigma`; zero
/// below Eo = 3.37, where a long bubble stands still. Capped in wide risers, where such bubbles break up, by the pool limit
/// of Kataoka & Ishii (1987), `0.030 (rho_g/rho)^-0.157 Nmu^-0.562 (sigma g / rho)^(1/4)`, evaluated for air at 1 atm over
/// water at 20 C: 2.65 times a scale of 0.1635 m/s gives 0.433 m/s. It moves by under 3 % from 5 to 20 C; at 30 C their
/// formula gives 12 % more, which matters in bores above 150 mm only and is left to the calibration of slip.
///
/// Bores 10 to 400 mm; density in kg/m3, surface tension in N/m.
#[must_use]
pub fn drift_velocity_m_s(bore_m: f32, density_kg_m3: f32, surface_tension_n_m: f32) -> f32 {
    const POOL_LIMIT_M_S: f32 = 0.433;
    let eotvos = density_kg_m3 * GRAVITY_M_S2 * bore_m * bore_m / surface_tension_n_m;
    if !(eotvos > 3.37) {
        return 0.0;
    }
    let slug = 0.35 * sqrt(GRAVITY_M_S2 * bore_m) * (1.0 - exp((3.37 - eotvos) / 10.0));
    smaller(slug, POOL_LIMIT_M_S)
}

/// Share of the riser filled by air, `jg / (C0 (jg + jl) + vd)` (Zuber & Findlay 1965), all in m/s. Zero without air.
#[must_use]
pub fn void_fraction(air_m_s: f32, water_m_s: f32, drift_m_s: f32) -> f32 {
    let below = DISTRIBUTION * (air_m_s + water_m_s) + drift_m_s;
    if air_m_s > 0.0 && below > 0.0 {
        air_m_s / below
    } else {
        0.0
    }
}
