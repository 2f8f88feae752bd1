//! The riser against published-model figures and against common sense.

use super::*;
use std::f64::consts::FRAC_PI_4;

const L_MIN: f64 = 1.0 / 60_000.0;

/// Water of the check figures: 998.2 kg/m3, 1.002 mPa s, 20 C, 101325 Pa.
fn check_place() -> Place {
    Place {
        p_atm_pa: 101_325.0,
        water_c: 20.0,
        water_kg_m3: 998.2,
        water_pa_s: 1.002e-3,
        air_pa_s: 1.82e-5,
    }
}

/// Water, L/min, with `air_l_min` at 101325 Pa and 20 C.
fn lifted(bore_mm: f64, heads: Heads, air_l_min: f64, cells: usize) -> f64 {
    let riser = Riser {
        cells,
        ..Riser::clean(bore_mm / 1000.0, check_place())
    };
    let free = air_l_min * L_MIN * 101_325.0 / crate::plant::FREE_AIR_PA;
    riser.water_m3_s(heads, free, &mut 0.0) / L_MIN
}

/// Bore mm, submergence m, lift m, air L/min, water L/min: the same equations marched in 200 equal heights (Heun) and solved
/// by bisection, independently of this code.
const MARCHED: [(f64, f64, f64, f64, f64); 10] = [
    (46.4, 1.0, 0.10, 5.07279, 17.5839),
    (46.4, 1.0, 0.10, 20.29117, 68.7285),
    (46.4, 1.0, 0.10, 162.32936, 123.1380),
    (103.6, 1.0, 0.05, 50.57788, 294.9348),
    (103.6, 0.8, 0.30, 50.57788, 0.0),
    (103.6, 0.8, 0.30, 404.62306, 350.6141),
    (25.4, 0.5, 0.0, 1.52012, 15.1674),
    (25.4, 0.5, 0.2, 48.64392, 20.2221),
    (152.0, 2.0, 0.1, 54.43752, 346.3397),
    (152.0, 2.0, 0.0, 871.00028, 1940.1464),
];

#[test]
fn two_hundred_cells_give_the_marched_figures() {
    for (bore, depth, lift, air, water) in MARCHED {
        let got = lifted(bore, Heads::free(depth, lift), air, 200);
        assert!(
            (got - water).abs() <= 0.003 * water,
            "{bore} {depth} {lift} {air}: {got} not {water}"
        );
    }
}

/// Rows of the file of check values, when its folder is named; else says so.
fn check_rows() -> Vec<[f64; 5]> {
    let Ok(folder) = std::env::var("RISERTRIM_REFERENCE") else {
        assert!(
            std::env::var_os("RISERTRIM_NO_SKIP").is_none(),
            "RISERTRIM_REFERENCE does not name the folder of check values, and skipping is not allowed"
        );
        println!("skipped: RISERTRIM_REFERENCE does not name the folder of check values");
        return Vec::new();
    };
    let path = std::path::Path::new(&folder).join("lift-model-check-values.csv");
    let text = std::fs::read_to_string(&path).expect("the file of check values");
    let rows: Vec<[f64; 5]> = text
        .lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()))
        .map(|line| {
            let cells: Vec<f64> = line.split(',').take(5).map(|c| c.parse().expect("a number")).collect();
            cells.try_into().expect("five numbers")
        })
        .collect();
    assert_eq!(rows.len(), 180, "rows in the file");
    rows
}

#[test]
fn every_row_of_the_check_values_is_reproduced() {
    let mut worst = 0.0_f64;
    for [bore, depth, lift, air, water] in check_rows() {
        let got = lifted(bore, Heads::free(depth, lift), air, 200);
        // The file has four decimals.
        let off = ((got - water).abs() - 1e-4).max(0.0) / water.max(1e-3);
        worst = worst.max(off);
        assert!(off <= 0.003, "{bore} {depth} {lift} {air}: {got} not {water}");
    }
    println!("worst difference from the check values: {:.4} %", worst * 100.0);
}

/// The grid of the check values: bores and depths, lifts, and superficial free-air speeds.
fn grid() -> impl Iterator<Item = (f64, Heads, f64)> {
    let bores = [
        (25.4, 0.5),
        (46.4, 0.5),
        (46.4, 1.0),
        (103.6, 0.8),
        (103.6, 1.0),
        (152.0, 2.0),
    ];
    bores.into_iter().flat_map(|(bore, depth)| {
        [0.0, 0.05, 0.1, 0.2, 0.3].into_iter().flat_map(move |lift| {
            (0..6).map(move |k| {
                let jg = 0.05 * f64::from(1 << k);
                let area = FRAC_PI_4 * (bore / 1000.0_f64).powi(2);
                (bore, Heads::free(depth, lift), jg * area / L_MIN)
            })
        })
    })
}

#[test]
fn the_cells_in_use_are_within_half_a_percent_of_two_hundred() {
    let cells = Riser::clean(0.05, check_place()).cells;
    for count in [1, 2, 3] {
        let mut worst = 0.0_f64;
        for (bore, heads, air) in grid() {
            let fine = lifted(bore, heads, air, 200);
            let coarse = lifted(bore, heads, air, count);
            if fine > 0.0 || coarse > 0.0 {
                worst = worst.max((coarse - fine).abs() / fine.max(1e-9));
            }
        }
        println!("{count} cells: within {:.5} % of 200", worst * 100.0);
        assert!(count != cells || worst < 0.005, "{worst}");
    }
}

#[test]
fn without_friction_the_march_has_clark_and_dabolts_length() {
    // The integral in closed form: jl 0.5, jg 0.3 m/s at 101325 Pa, from 101325 to 110000 Pa, C0 1.2, vd 0.2361 m/s,
    // 998.2 kg/m3: 1.171 629 74 m (weight of gas neglected there; here it is left in, 0.03 %).
    let mut riser = Riser::clean(0.0464, check_place());
    riser.friction_multiplier = 0.0;
    riser.kin = -1.0; // takes the velocity head away too
    riser.slip_multiplier = 0.2361 / (0.35 * (G * 0.0464_f64).sqrt());
    riser.cells = 4;
    let air = 0.3 * riser.bore_m2() * 101_325.0 / crate::plant::FREE_AIR_PA;
    // Level chosen so that the injector's pressure, less the momentum, is 110 kPa.
    let depth = (110_000.0 - 101_325.0 + 998.2 * 0.5 * 0.3) / (998.2 * G);
    let column = riser.column(Heads::free(depth, 1.171_629_74 - depth), air);
    assert!(
        column.march(0.5).spare_m.abs() < 6e-4 * 1.17,
        "{}",
        column.march(0.5).spare_m
    );
}

#[test]
fn the_slope_of_the_march_is_true() {
    let mut riser = Riser::clean(0.0712, check_place());
    riser.kout = 0.8;
    riser.fouling_k = 3.0;
    let column = riser.column(Heads::free(0.9, 0.12), 80.0 * L_MIN);
    for speed in [0.05, 0.3, 0.6, 1.2] {
        let h = 1e-6;
        let measured = (column.march(speed + h).spare_m - column.march(speed - h).spare_m) / (2.0 * h);
        let told = column.march(speed).slope;
        assert!((measured / told - 1.0).abs() < 1e-5, "{speed}: {told} {measured}");
    }
}

#[test]
fn a_warm_start_gives_what_a_cold_one_does() {
    let riser = Riser::clean(0.0712, check_place());
    let mut warm = 0.0;
    for k in 0..400 {
        let air = (1.0 + f64::from(k)) * L_MIN;
        let heads = Heads::free(0.9, 0.1 + 0.1 * (f64::from(k) / 30.0).sin());
        let cold = riser.water_m3_s(heads, air, &mut 0.0);
        let got = riser.water_m3_s(heads, air, &mut warm);
        assert!((got - cold).abs() <= 2e-6 * cold, "{k}: {got} {cold}");
    }
}

#[test]
fn no_water_below_the_onset_and_with_a_dry_foot() {
    assert_eq!(lifted(71.2, Heads::free(1.0, 0.2), 1.0, 2), 0.0);
    assert_eq!(lifted(71.2, Heads::free(1.0, 0.2), 0.0, 2), 0.0);
    assert_eq!(lifted(71.2, Heads::free(0.0, 0.2), 100.0, 2), 0.0);
    assert_eq!(lifted(71.2, Heads::free(-0.3, 1.2), 100.0, 2), 0.0);
}

#[test]
fn a_source_above_the_outlet_runs_without_air_as_a_plain_pipe() {
    let riser = Riser::clean(0.05, check_place());
    let heads = Heads::free(1.0, -0.2);
    let q = riser.water_m3_s(heads, 0.0, &mut 0.0);
    let v = q / riser.bore_m2();
    let re = 998.2 * v * 0.05 / 1.002e-3;
    let head = (1.5 + darcy(re, 0.0).factor * 0.8 / 0.05) * v * v / (2.0 * G);
    assert!((head - 0.2).abs() < 1e-4, "{head}");
    assert!(riser.water_m3_s(heads, 20.0 * L_MIN, &mut 0.0) > q, "air helps");
}

#[test]
fn a_drowned_outlet_runs_back_when_the_air_stops_and_not_when_it_lifts() {
    let riser = Riser::clean(0.0712, check_place());
    let heads = Heads {
        submergence_m: 1.0,
        lift_m: 0.1,
        drowned_m: 0.06,
    };
    let back = riser.water_m3_s(heads, 0.0, &mut 0.0);
    assert!(back < 0.0);
    let v = -back / riser.bore_m2();
    let re = 998.2 * v * 0.0712 / 1.002e-3;
    let head = (1.5 + darcy(re, 0.0).factor * 1.1 / 0.0712) * v * v / (2.0 * G);
    assert!(
        (head - 0.1).abs() < 1e-4,
        "the pipe's loss is the difference of levels: {head}"
    );
    let held = riser.water_m3_s(heads, 4.0 * L_MIN, &mut 0.0);
    assert!(
        held > back && held <= 0.0,
        "air below the onset holds part of it: {held}"
    );
    assert!(riser.water_m3_s(heads, 60.0 * L_MIN, &mut 0.0) > 0.0);
    let free = Heads {
        drowned_m: 0.0,
        ..heads
    };
    assert_eq!(riser.water_m3_s(free, 0.0, &mut 0.0), 0.0);
    let thin = Heads {
        drowned_m: 0.001,
        ..heads
    };
    assert!(
        riser.water_m3_s(thin, 0.0, &mut 0.0) > 0.1 * back,
        "little gets over the lip"
    );
}

#[test]
fn dirt_found_for_a_loss_loses_that_much() {
    let mut riser = Riser::clean(0.1036, check_place());
    let heads = Heads::free(1.0, 0.15);
    let air = 150.0 * L_MIN;
    let clean = riser.water_m3_s(heads, air, &mut 0.0);
    riser.fouling_k = riser.fouling_for_loss(heads, air, 0.25).expect("water runs");
    assert!((riser.water_m3_s(heads, air, &mut 0.0) / clean - 0.75).abs() < 1e-4);
    assert!(riser.fouling_for_loss(heads, 0.0, 0.25).is_none());
}

#[test]
fn churn_found_for_a_lower_peak_lowers_it_to_there_and_leaves_little_air_alone() {
    let mut riser = Riser::clean(0.0712, check_place());
    let heads = Heads::free(1.0, 0.12);
    let clean = riser.peak(heads);
    let little = 0.1 * clean.air_m3_s;
    let with_little = riser.water_m3_s(heads, little, &mut 0.0);
    riser.churn_s2_m2 = riser.churn_for_peak(heads, 0.7 * clean.water_m3_s);
    let churned = riser.peak(heads);
    assert!((churned.water_m3_s / clean.water_m3_s - 0.7).abs() < 1e-3);
    assert!(churned.air_m3_s < 0.6 * clean.air_m3_s);
    assert!(riser.water_m3_s(heads, little, &mut 0.0) > 0.93 * with_little);
}

#[test]
fn the_peak_is_a_maximum() {
    for bore in [0.0254, 0.0464, 0.1036, 0.152] {
        let riser = Riser::clean(bore, check_place());
        for lift in [0.02, 0.15, 0.4] {
            let heads = Heads::free(1.0, lift);
            let peak = riser.peak(heads);
            for factor in [0.5, 0.8, 1.25, 2.0] {
                let q = riser.water_m3_s(heads, peak.air_m3_s * factor, &mut 0.0);
                assert!(q < peak.water_m3_s, "{bore} {lift} {factor}");
            }
        }
    }
}
