use super::*;

const L_MIN: f64 = 60_000.0;
/// Free air (100 kPa, 20 C) over normal litres (101.325 kPa, 0 C).
const NORMAL_TO_FREE: f64 = 1.013_25 * 293.15 / 273.15;

#[test]
fn a_kv_passes_the_air_of_iec_60534() {
    // Air of 293.15 K, xT 0.7, normal L/min (IEC 60534-2-1; worked with PyPI `fluids` 1.3.1).
    for (kv, before, behind, normal) in [
        (0.1, 103_300.0, 101_300.0, 6.336_464),
        (0.5, 108_000.0, 106_000.0, 32.408_171),
        (0.5, 111_300.0, 110_300.0, 23.370_063),
        (0.5, 121_300.0, 111_300.0, 74.440_950),
        (0.5, 400_000.0, 101_300.0, 496.354_709),
    ] {
        let free = air_by_kv_m3_s(kv, before, behind) * L_MIN;
        assert!(
            (free / (normal * NORMAL_TO_FREE) - 1.0).abs() < 1e-6,
            "{before} to {behind}: {free}"
        );
    }
}

#[test]
fn a_conductance_passes_the_air_of_iso_6358() {
    // C 1 dm3/(s bar), b 0.3, 293.15 K, litres of 1.185 kg/m3 a minute.
    let valve = Conductance {
        c_dm3_s_bar: 1.0,
        critical_ratio: 0.3,
        misfit: 0.0,
    };
    let to_free = REFERENCE_KG_M3 / crate::plant::Place::free_air_kg_m3();
    for (before, behind, reference) in [
        (121_300.0, 111_300.0, 34.266_42),
        (111_300.0, 110_300.0, 10.665_14),
        (700_000.0, 100_000.0, 420.0),
    ] {
        let free = air_by_conductance_m3_s(&valve, before, behind) * L_MIN;
        assert!(
            (free / (reference * to_free) - 1.0).abs() < 1e-5,
            "{before} to {behind}: {free}"
        );
    }
}

#[test]
fn one_dm3_per_second_and_bar_is_a_kv_of_a_fifth_at_a_kilopascal() {
    // 0.209 at 111.3 to 110.3 kPa, from the two laws above.
    let valve = from_kv(0.209, 111_300.0, 1000.0);
    assert!((valve.c_dm3_s_bar - 1.0).abs() < 0.01, "{valve:?}");
}

#[test]
fn a_kv_turned_into_c_and_b_stays_within_a_tenth_over_the_drops_of_a_lift() {
    for kv in [0.05, 0.5, 5.0] {
        let valve = from_kv(kv, 112_000.0, 2000.0);
        for drop in [800.0, 1500.0, 4000.0, 8000.0] {
            let by_c = air_by_conductance_m3_s(&valve, 112_000.0, 112_000.0 - drop);
            let by_kv = air_by_kv_m3_s(kv, 112_000.0, 112_000.0 - drop);
            assert!(
                (by_c / by_kv - 1.0).abs() < 0.1,
                "Kv {kv}, drop {drop}: {by_c} against {by_kv}"
            );
        }
    }
}

#[test]
fn a_bore_gives_the_sonic_flow_of_a_nozzle_times_its_coefficient() {
    // Choked air of 20 C through an ideal nozzle: 0.040418 kg sqrt(K)/(N s) (isentropic flow tables, k = 1.4), so a hole
    // of 1 cm2 under 1 bar passes 0.040418 * 10 / sqrt(293.15) kg/s.
    let ideal = 0.040_418 * 1e-4 * 1e5 / 293.15_f64.sqrt() / REFERENCE_KG_M3 * 1000.0;
    let bore_mm = 2.0 * (100.0 / std::f64::consts::PI).sqrt();
    let valve = from_bore(bore_mm);
    assert!(
        (valve.c_dm3_s_bar / (0.7 * ideal) - 1.0).abs() < 1e-3,
        "{valve:?} against {ideal}"
    );
}

#[test]
fn measured_points_give_back_the_valve_they_were_taken_from() {
    let truth = Conductance {
        c_dm3_s_bar: 2.4,
        critical_ratio: 0.21,
        misfit: 0.0,
    };
    let at = |before_pa: f64, behind_pa: f64, wrong: f64| Measured {
        before_pa,
        behind_pa,
        air_m3_s: wrong * air_by_conductance_m3_s(&truth, before_pa, behind_pa),
    };
    let clean = [
        at(112e3, 110e3, 1.0),
        at(120e3, 110e3, 1.0),
        at(200e3, 101e3, 1.0),
        at(400e3, 101e3, 1.0),
    ];
    let found = fit(&clean).unwrap();
    assert!(
        (found.c_dm3_s_bar - 2.4).abs() < 0.01 && (found.critical_ratio - 0.21).abs() < 0.01,
        "{found:?}"
    );
    // Readings two percent off: the valve is still found, and the misfit says how well it fits.
    let read = [
        at(112e3, 110e3, 1.02),
        at(120e3, 110e3, 0.98),
        at(200e3, 101e3, 1.02),
        at(400e3, 101e3, 0.98),
    ];
    let found = fit(&read).unwrap();
    assert!((found.c_dm3_s_bar / 2.4 - 1.0).abs() < 0.04, "{found:?}");
    assert!((0.005..0.05).contains(&found.misfit), "{found:?}");
    // A single point cannot tell b: the usual one is taken and the point is met.
    let one = fit(&[at(112e3, 110e3, 1.0)]).unwrap();
    assert_eq!(one.critical_ratio, USUAL_CRITICAL_RATIO);
    assert!((air_by_conductance_m3_s(&one, 112e3, 110e3) / clean[0].air_m3_s - 1.0).abs() < 1e-9);
}

#[test]
fn data_that_no_valve_has_are_refused_with_their_value() {
    let said = |data: ValveData| data.conductance(112e3, 2e3).unwrap_err().to_string();
    assert!(said(ValveData::Kv(-1.0)).contains("Kv is -1"));
    assert!(said(ValveData::BoreMm(f64::NAN)).contains("valve bore in mm is NaN"));
    assert!(
        said(ValveData::Conductance {
            c_dm3_s_bar: 1.0,
            critical_ratio: 0.9
        })
        .contains("0.05 to 0.6")
    );
    let swapped = Measured {
        before_pa: 101e3,
        behind_pa: 110e3,
        air_m3_s: 1e-3,
    };
    assert!(said(ValveData::Measured(vec![swapped])).contains("point 1"));
    assert!(said(ValveData::Measured(vec![])).contains("no measured point"));
}
