//! Risers of the check figures and of the tests of the lift curve.

use risertrim::installation::Conditions;
use risertrim::lift::{Calibration, Curve, Riser, drift_velocity_m_s};
use risertrim::units::FreeAir;

/// The water and air of the check figures: 20 C, one standard atmosphere.
pub const CONDITIONS: Conditions = Conditions {
    density_kg_m3: 998.2,
    surface_tension_n_m: 0.072_75,
    water_k: 293.15,
    atmosphere_pa: 101_325.0,
};

/// Standard gravity, m/s2.
pub const G: f64 = 9.806_65;

/// A smooth riser with its air inlet at the source tank's floor, open at the top.
#[must_use]
pub fn riser(bore_m: f32, outlet_m: f32) -> Riser {
    Riser {
        bore_m,
        injector_m: 0.0,
        outlet_m,
        darcy_friction: 0.022,
        entrance_loss: 0.5,
        outlet_loss: 0.0,
    }
}

/// A lift as the check figures have it: `0.35 sqrt(g D)` uncorrected, Darcy factor 0.022, entrance loss 0.5, open end.
#[must_use]
pub fn checked(bore_m: f32, submergence_m: f32, lift_m: f32) -> Curve {
    let uncorrected = 0.35 * (9.806_65 * bore_m).sqrt();
    let own = drift_velocity_m_s(bore_m, CONDITIONS.density_kg_m3, CONDITIONS.surface_tension_n_m);
    let calibration = Calibration {
        slip: uncorrected / own,
        ..Calibration::default()
    };
    Curve::new(
        &riser(bore_m, submergence_m + lift_m),
        &calibration,
        &CONDITIONS,
        submergence_m,
        None,
    )
}

/// A lift with the drift velocity of the crate.
#[must_use]
pub fn plain(bore_m: f32, submergence_m: f32, lift_m: f32) -> Curve {
    Curve::new(
        &riser(bore_m, submergence_m + lift_m),
        &Calibration::default(),
        &CONDITIONS,
        submergence_m,
        None,
    )
}

/// Area of a bore, m2.
#[must_use]
pub fn area(bore_m: f32) -> f64 {
    0.25 * core::f64::consts::PI * f64::from(bore_m) * f64::from(bore_m)
}

/// Free air of this superficial velocity at the mean pressure of the riser.
#[must_use]
#[allow(clippy::cast_possible_truncation)]
pub fn air_of(jg_m_s: f64, bore_m: f32, submergence_m: f32) -> FreeAir {
    let mean = 101_325.0 + 0.5 * 998.2 * G * f64::from(submergence_m);
    FreeAir::from_volume((jg_m_s * area(bore_m)) as f32, mean as f32, 293.15)
}

/// Free air quoted at 101 325 Pa and the temperature of the water.
#[must_use]
pub fn air_at_one_atmosphere(l_min: f32) -> FreeAir {
    FreeAir::from_volume(l_min / 60_000.0, 101_325.0, 293.15)
}

/// Every lift of the grid: bore, submergence, static lift.
pub fn grid() -> impl Iterator<Item = (f32, f32, f32)> {
    const BORES: [f32; 6] = [0.025, 0.032, 0.0464, 0.07, 0.1036, 0.152];
    const DEPTHS: [f32; 4] = [0.5, 0.8, 1.2, 2.0];
    const LIFTS: [f32; 7] = [-0.05, -0.01, 0.0, 0.02, 0.05, 0.15, 0.3];
    BORES.into_iter().flat_map(|bore| {
        DEPTHS
            .into_iter()
            .flat_map(move |depth| LIFTS.map(|lift| (bore, depth, lift)))
    })
}

/// A lift of the crate's own drift velocity whose outlet and receiver stand so far above its source, m.
#[must_use]
pub fn drowned(bore: f32, depth: f32, outlet_above_source: f32, receiver_above_source: f32) -> Curve {
    let mounted = riser(bore, depth + outlet_above_source);
    Curve::new(
        &mounted,
        &Calibration::default(),
        &CONDITIONS,
        depth,
        Some(depth + receiver_above_source),
    )
}
