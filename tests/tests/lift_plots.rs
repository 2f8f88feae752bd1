//! The curve as it is shown: landmarks, band, and the same figures in every form.

use risertrim::installation::Site;
use risertrim::lift::{Calibration, Fit, Riser};
use risertrim_sim::curve::{CurveTable, Levels, Mark, html, plot, svg, tabulate};

fn table(lift_m: f32, fit: Option<Fit>) -> CurveTable {
    let riser = Riser {
        bore_m: 0.0712,
        injector_m: 0.05,
        outlet_m: 1.05 + lift_m,
        darcy_friction: 0.022,
        entrance_loss: 0.5,
        outlet_loss: 0.0,
    };
    let water = Site {
        altitude_m: 0.0,
        water_c: 20.0,
        salinity_g_kg: 0.0,
    }
    .conditions();
    let levels = Levels {
        source_m: 1.05,
        receiver_m: None,
    };
    tabulate(
        "a < b",
        &riser,
        &Calibration {
            fit,
            ..Calibration::default()
        },
        &water,
        levels,
        41,
        None,
    )
}

fn at(table: &CurveTable, mark: Mark) -> Option<f64> {
    table
        .landmarks
        .iter()
        .find(|landmark| landmark.mark == mark)
        .map(|landmark| landmark.at.air_l_min)
}

#[test]
fn landmarks_stand_in_their_order_and_at_their_extremes() {
    let table = table(0.1, None);
    let [onset, best, peak] = [Mark::Onset, Mark::BestEfficiency, Mark::Peak].map(|mark| at(&table, mark).unwrap());
    assert!(0.0 < onset && onset < best && best < peak, "{onset} {best} {peak}");
    let most = |of: fn(&risertrim_sim::curve::CurveRow) -> f64| table.rows.iter().map(of).fold(0.0, f64::max);
    let mark = |mark: Mark| {
        table
            .landmarks
            .iter()
            .find(|landmark| landmark.mark == mark)
            .unwrap()
            .at
    };
    assert!(mark(Mark::Peak).water_l_min >= most(|row| row.water_l_min) - 1.0e-3);
    let best = mark(Mark::BestEfficiency).efficiency.unwrap();
    assert!(best >= most(|row| row.efficiency.unwrap_or(0.0)) - 1.0e-3);
    // Lifts of this kind are 10 to 50 % efficient by this measure (Kassab et al. 2022 found 29 to 35 % at best).
    assert!((0.1..0.6).contains(&best), "{best}");
    assert!(
        table
            .rows
            .iter()
            .filter(|row| row.air_l_min < onset)
            .all(|row| row.water_l_min == 0.0)
    );
}

#[test]
fn efficiency_is_the_work_on_the_water_over_the_isothermal_work_of_the_air() {
    let table = table(0.1, None);
    let row = table.rows[20];
    // By hand: rho g Q l / (p Qa ln(1 + rho g h / p)), air from 100 kPa to 101.325 kPa at the same temperature.
    let weight = 998.2 * 9.806_65;
    let air = row.air_l_min * 100.0 / 101.325;
    let expected = weight * row.water_l_min * 0.1 / (101_325.0 * air * (1.0 + weight * 1.0 / 101_325.0).ln());
    assert!(
        (row.efficiency.unwrap() / expected - 1.0).abs() < 2.0e-3,
        "{:?} {expected}",
        row.efficiency
    );
}

#[test]
fn without_static_lift_there_is_no_onset_and_no_efficiency() {
    let table = table(0.0, None);
    assert_eq!(
        (at(&table, Mark::Onset), at(&table, Mark::BestEfficiency)),
        (None, None)
    );
    assert!(table.rows.iter().all(|row| row.efficiency.is_none()));
}

#[test]
fn the_band_is_there_for_a_calibrated_lift_only_and_widens_outside_its_range() {
    assert!(table(0.1, None).rows.iter().all(|row| row.low_l_min.is_none()));
    let fit = Fit {
        covariance: [0.01, 0.0, 0.0, 0.01, 0.0, 0.002],
        air_low_m3_s: 0.0005,
        air_high_m3_s: 0.002,
    };
    let table = table(0.1, Some(fit));
    let share = |air: f64| {
        let row = table.rows.iter().find(|row| row.air_l_min >= air).unwrap();
        (row.high_l_min.unwrap() - row.low_l_min.unwrap()) / row.water_l_min
    };
    let last = table.rows.last().unwrap().air_l_min;
    assert!(
        share(0.999 * last) > 1.5 * share(100.0),
        "{} {}",
        share(0.999 * last),
        share(100.0)
    );
}

#[test]
fn every_form_shows_every_measured_point() {
    let mut table = table(0.1, None);
    table.points = vec![(40.0, 120.0, false), (80.0, 160.0, false), (60.0, 60.0, true)];
    let drawing = svg(&table);
    assert_eq!(drawing.matches("<circle").count(), 2);
    assert_eq!(drawing.matches("#b3361b").count(), 1);
    assert!(
        drawing.contains("a &lt; b") && !drawing.contains("a < b"),
        "names must not break the drawing"
    );
    let text = plot(&table);
    assert!(text.lines().all(|line| line.chars().count() <= 100));
    assert!(text.contains('x') && text.contains("o measured"), "{text}");
    assert_eq!(html(&[table.clone(), table]).matches("<svg").count(), 2);
}

#[test]
fn the_csv_has_one_line_an_air_and_names_the_landmarks() {
    let table = table(0.1, None);
    let csv = table.csv();
    assert_eq!(csv.lines().count(), 1 + table.rows.len() + table.landmarks.len());
    assert!(csv.lines().all(|line| line.split(',').count() == 8));
    assert_eq!(csv.lines().filter(|line| line.ends_with(",peak")).count(), 1);
    let airs: Vec<f64> = csv
        .lines()
        .skip(1)
        .map(|line| line.split(',').next().unwrap().parse().unwrap())
        .collect();
    assert!(airs.windows(2).all(|pair| pair[0] <= pair[1]));
}
