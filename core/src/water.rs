//! Properties of fresh and salt water and of the air above it.

use crate::math::{exp, ln, pow};

/// Density of water at atmospheric pressure, kg/m3; `water_c` 0-40 C, `salinity_g_kg` 0-42.
///
/// Fresh water: Kell (1975) J. Chem. Eng. Data 20:97. Salt: Millero & Poisson (1981), the UNESCO equation of state at one
/// atmosphere. Within 0.02 kg/m3 in f64; f32 rounding adds up to 1e-4 kg/m3 relative to a thousand.
#[must_use]
pub fn density_kg_m3(water_c: f32, salinity_g_kg: f32) -> f32 {
    let t = water_c;
    let fresh = (999.839_52
        + t * (16.945_176 + t * (-7.987_04e-3 + t * (-46.170_461e-6 + t * (105.563_02e-9 - t * 280.542_53e-12)))))
        / (1.0 + 16.879_85e-3 * t);
    let s = if salinity_g_kg > 0.0 { salinity_g_kg } else { 0.0 };
    let a = 0.824_493 + t * (-4.0899e-3 + t * (7.6438e-5 + t * (-8.2467e-7 + t * 5.3875e-9)));
    let b = -5.724_66e-3 + t * (1.0227e-4 - t * 1.6546e-6);
    fresh + s * (a + b * crate::math::sqrt(s) + 4.8314e-4 * s)
}

/// Dynamic viscosity of fresh water, Pa s; 0-40 C.
///
/// Kestin, Sokolov & Wakeham (1978); within 0.1 % of IAPWS. Salt raises it by about 8 % at 35 g/kg, which changes no
/// figure of this crate by more than 0.5 %, so it is left out.
#[must_use]
pub fn viscosity_pa_s(water_c: f32) -> f32 {
    let cold = 20.0 - water_c;
    let log10 = cold / (water_c + 96.0) * (1.2364 - 1.37e-3 * cold + 5.7e-6 * cold * cold);
    1.002e-3 * exp(log10 * core::f32::consts::LN_10)
}

/// Surface tension of clean water against air, N/m; 0-40 C. IAPWS R1-76. Organic matter can lower it by a fifth.
#[must_use]
pub fn surface_tension_n_m(water_c: f32) -> f32 {
    let tau = 1.0 - (water_c + 273.15) / 647.096;
    0.2358 * exp(1.256 * ln(tau)) * (1.0 - 0.625 * tau)
}

/// Atmospheric pressure of the standard atmosphere at `altitude_m` above the sea, Pa (ICAO / ISO 2533).
#[must_use]
pub fn atmosphere_pa(altitude_m: f32) -> f32 {
    101_325.0 * pow(1.0 - 2.255_77e-5 * altitude_m, 5.255_88)
}

/// Density of dry air as an ideal gas, kg/m3, at an absolute pressure and a temperature in K.
#[must_use]
pub fn air_density_kg_m3(pressure_pa: f32, temperature_k: f32) -> f32 {
    pressure_pa / (287.055 * temperature_k)
}
