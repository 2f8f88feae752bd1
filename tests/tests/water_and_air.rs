//! Properties of water and air against IAPWS, TEOS-10, ISO 2533 and CoolProp figures.

use risertrim::units::FreeAir;
use risertrim::water::{air_density_kg_m3, atmosphere_pa, density_kg_m3, surface_tension_n_m, viscosity_pa_s};
use risertrim_tests::{close, reference};

/// Temperature C; IAPWS-95 density kg/m3, IAPWS viscosity Pa s, IAPWS surface tension N/m (library `iapws` 1.5.5), density of
/// sea water of practical salinity 35 (TEOS-10, library `gsw`), all at one atmosphere.
const WATER: [(f32, f64, f64, f64, f64); 5] = [
    (0.01, 999.8438, 1.791_132e-3, 0.075_646, 1028.108),
    (10.0, 999.7025, 1.305_900e-3, 0.074_221, 1026.955),
    (20.0, 998.2072, 1.001_596e-3, 0.072_736, 1024.766),
    (30.0, 995.6495, 7.972_218e-4, 0.071_194, 1021.727),
    (40.0, 992.2164, 6.527_287e-4, 0.069_596, 1017.973),
];

fn check(celsius: f32, density: f64, viscosity: f64, tension: f64, sea: f64) {
    // Kell's formula lies 4e-3 kg/m3 below IAPWS-95; f32 rounds a thousand to 6e-5 and the polynomial does so a few times.
    close(
        format_args!("density at {celsius} C"),
        density_kg_m3(celsius, 0.0),
        density,
        0.0,
        5.0e-3,
    );
    close(
        format_args!("viscosity at {celsius} C"),
        viscosity_pa_s(celsius),
        viscosity,
        1.0e-3,
        0.0,
    );
    close(
        format_args!("surface tension at {celsius} C"),
        surface_tension_n_m(celsius),
        tension,
        2.0e-5,
        0.0,
    );
    // The figures are for a practical salinity of 35, which is what the UNESCO equation takes; the two agree to 0.02 kg/m3.
    close(
        format_args!("sea water at {celsius} C"),
        density_kg_m3(celsius, 35.0),
        sea,
        0.0,
        0.02,
    );
}

#[test]
fn water_has_the_density_viscosity_and_surface_tension_of_iapws_and_sea_water_that_of_teos_10() {
    for (celsius, density, viscosity, tension, sea) in WATER {
        check(celsius, density, viscosity, tension, sea);
    }
    let Some(table) = reference::table("water_props.csv") else {
        return;
    };
    for row in table.rows() {
        check(
            row.single("T_C"),
            row.number("rho_IAPWS95"),
            row.number("mu_IAPWS_Pa_s"),
            row.number("sigma_iapws"),
            row.number("rho_seawater35_gsw"),
        );
    }
}

#[test]
fn water_is_densest_at_4_c_and_salt_makes_it_denser() {
    let densest = (0..400_u16)
        .map(|step| f32::from(step) * 0.1)
        .max_by(|a, b| density_kg_m3(*a, 0.0).total_cmp(&density_kg_m3(*b, 0.0)));
    let densest = densest.unwrap();
    assert!((3.5..4.5).contains(&densest), "{densest} C");
    let fresh = density_kg_m3(20.0, 0.0);
    assert!(fresh < density_kg_m3(20.0, 5.0) && density_kg_m3(20.0, 5.0) < density_kg_m3(20.0, 35.0));
    // Salt that is no number, or negative, counts as none.
    assert_eq!(density_kg_m3(20.0, f32::NAN), fresh);
    assert_eq!(density_kg_m3(20.0, -3.0), fresh);
}

#[test]
fn the_atmosphere_thins_with_altitude_as_in_iso_2533() {
    // Pressure of the standard atmosphere (ISO 2533, from memory; the formula of its lowest layer).
    for (altitude, pressure) in [
        (-400.0, 106_223.0),
        (0.0, 101_325.0),
        (500.0, 95_461.0),
        (1000.0, 89_876.0),
        (2000.0, 79_501.0),
        (5000.0, 54_048.0),
    ] {
        // The table goes by geopotential height, 0.08 % less than the height at 5000 m: 0.06 % of pressure.
        close(
            format_args!("{altitude} m"),
            atmosphere_pa(altitude),
            pressure,
            8.0e-4,
            0.0,
        );
    }
}

#[test]
fn dry_air_has_the_density_of_coolprop() {
    // CoolProp 8.0.0, dry air; an ideal gas is 0.05 % lighter.
    for (pressure, celsius, density) in [
        (101_325.0, 0.0, 1.293_07),
        (101_325.0, 20.0, 1.204_58),
        (121_325.0, 40.0, 1.350_04),
    ] {
        close(
            format_args!("{celsius} C"),
            air_density_kg_m3(pressure, celsius + 273.15),
            density,
            8.0e-4,
            0.0,
        );
    }
    let Some(table) = reference::table("air_props.csv") else {
        return;
    };
    for row in table.rows() {
        let value = air_density_kg_m3(row.single("P_Pa"), row.single("T_C") + 273.15);
        close(
            format_args!("{} C", row.number("T_C")),
            value,
            row.number("rho_dry"),
            8.0e-4,
            0.0,
        );
    }
}

#[test]
fn one_free_air_holds_the_same_mass_whatever_reference_it_was_quoted_at() {
    // Density of dry air by CoolProp 8.0.0: normal (DIN 1343) 1.29310, ISO 2533 1.22557, ISO 1217 inlet 1.18885 kg/m3.
    let kept = 1.188_85;
    for (pressure, kelvin, density) in [
        (101_325.0, 273.15, 1.293_10),
        (101_325.0, 288.15, 1.225_57),
        (100_000.0, 293.15, 1.188_85),
    ] {
        let air = FreeAir::from_volume(0.001, pressure, kelvin);
        close(
            format_args!("{kelvin} K"),
            f64::from(air.m3_s) * kept,
            0.001 * density,
            5.0e-4,
            0.0,
        );
    }
}
