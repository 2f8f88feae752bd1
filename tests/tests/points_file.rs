//! Points files: what is read from them, and what each mistake is told.

use risertrim_sim::calibrate::{
    NamedLift, PointFaultKind as Kind, PointReport, PointsRead, Prior, calibrated, fit, judge, read_points, report,
};
use risertrim_sim::scenario::{Scenario, parse_installation};

/// The shipped three-lift place: its lift "filter" draws from 1050 mm, gives about 150 L/min at most half its peak.
fn lifts() -> Vec<NamedLift> {
    let (name, text) = Scenario::shipped()[0];
    let place = parse_installation(name, text).unwrap();
    NamedLift::all(&place.told, &place.lift_names)
}

fn read(text: &str) -> Result<PointsRead, PointReport> {
    let lifts = lifts();
    let only = lifts.iter().position(|lift| lift.name == "filter");
    read_points("points.csv", text, &lifts, only)
}

fn filter(read: &PointsRead) -> &[risertrim_sim::calibrate::Point] {
    let place = lifts().iter().position(|lift| lift.name == "filter").unwrap();
    &read.of_lift[place]
}

/// The one mistake of a file.
#[track_caller]
fn mistake(text: &str) -> risertrim_sim::calibrate::PointFault {
    let report = read(text).expect_err("this file has a mistake");
    assert_eq!(report.faults.len(), 1, "{report}");
    println!("{report}");
    report.faults[0].clone()
}

const GOOD: &str = "\
air_l_min,litres,seconds,source_level_mm
20,10,12.4,1050
20,10,12.9,1050
20,10,12.5,1050
40,20,11.9,1050
70,20,8.3,1050
110,40,13.9,1050
160,40,12.7,1050
";

#[test]
fn fills_of_one_bucket_at_one_air_make_one_point_with_its_uncertainty() {
    let read = read(GOOD).unwrap();
    assert!(read.warnings.is_empty(), "{:?}", read.warnings);
    let points = filter(&read);
    assert_eq!(points.len(), 5);
    assert_eq!(points[0].lines, [2, 3, 4]);
    let l_min = 60_000.0 * points[0].flow_m3_s;
    assert!((l_min - 600.0 / 12.6).abs() < 0.01, "{l_min}");
    // GUM: mark 0.577 %, hand 0.1 s twice in 12.6 s 1.122 %, scatter of the three fills 1.21 %.
    let share = points[0].flow_sigma_m3_s / points[0].flow_m3_s;
    assert!((share - 0.0175).abs() < 5.0e-4, "{share}");
}

#[test]
fn air_measured_under_pressure_is_brought_to_free_air() {
    let text = "air_l_min,air_gauge_kpa,air_c,water_l_min,source_level_mm\n40,12,35,100,1050\n90,12,35,150,1050\n";
    let read = read(text).unwrap();
    // Halfmoon Shed lies at 120 m: 99.89 kPa by the standard atmosphere.
    let free = 60_000.0 * filter(&read)[0].air_m3_s;
    let expected = 40.0 * (99.89 + 12.0) / 100.0 * 293.15 / 308.15;
    assert!((free / expected - 1.0).abs() < 1.0e-3, "{free} {expected}");
}

#[test]
fn a_rise_of_level_and_an_opening_serve_as_well() {
    let text = "opening_percent,manifold_kpa,level_start_mm,level_end_mm,seconds,source_level_mm\n\
                40,16,560,590,18,1050\n60,16,560,620,22,1050\n";
    let read = read(text).unwrap();
    let points = filter(&read);
    // The filter tank has 1 m2: 30 mm in 18 s are 100 L/min.
    assert!((60_000.0 * points[0].flow_m3_s - 100.0).abs() < 1.0e-6);
    assert!(points[1].air_m3_s > 1.5 * points[0].air_m3_s && points[0].air_m3_s > 0.0);
}

#[test]
fn water_in_another_unit_is_told_with_the_unit_it_seems_to_be_in() {
    let l_s = "air_l_min,water_l_min,source_level_mm\n20,0.8,1050\n40,1.7,1050\n110,2.9,1050\n";
    let fault = mistake(l_s);
    assert_eq!(fault.kind, Kind::WrongUnit);
    assert!(
        fault.help.contains("L/s") && fault.help.contains("multiply by 60.0"),
        "{fault}"
    );
    let l_h = mistake("air_l_min,water_l_min,source_level_mm\n20,2880,1050\n40,6100,1050\n110,10400,1050\n");
    assert!(l_h.kind == Kind::WrongUnit && l_h.help.contains("L/h"), "{l_h}");
    // A thousand times too much is outside what a column takes at all.
    let ml = mistake("air_l_min,water_l_min,source_level_mm\n110,174000,1050\n");
    assert_eq!(
        (ml.kind, ml.field.as_str(), ml.value.as_str()),
        (Kind::OutOfRange, "water_l_min", "174000")
    );
    assert_eq!(ml.allowed, "0 to 20000");
}

#[test]
fn air_in_another_unit_is_told_too() {
    let l_s = mistake("air_l_min,water_l_min,source_level_mm\n0.35,48,1050\n0.7,101,1050\n1.9,173,1050\n");
    assert!(
        l_s.kind == Kind::WrongUnit && l_s.help.contains("air") && l_s.help.contains("L/s"),
        "{l_s}"
    );
    let l_h = mistake("air_l_min,water_l_min,source_level_mm\n1200,48,1050\n2400,101,1050\n6600,173,1050\n");
    assert!(l_h.kind == Kind::WrongUnit && l_h.help.contains("L/h"), "{l_h}");
}

#[test]
fn a_level_in_metres_is_told_with_the_value_to_write() {
    let fault = mistake("air_l_min,water_l_min,source_level_mm\n40,101,1.05\n");
    assert_eq!(
        (fault.kind, fault.line, fault.field.as_str()),
        (Kind::Levels, 2, "source_level_mm")
    );
    assert!(fault.help.contains("write 1050"), "{fault}");
}

#[test]
fn a_missing_column_is_named_with_what_it_is_for() {
    let seconds = mistake("air_l_min,litres,source_level_mm\n20,10,1050\n");
    assert_eq!((seconds.kind, seconds.field.as_str()), (Kind::Missing, "seconds"));
    let pressure = mistake("opening_percent,water_l_min,source_level_mm\n20,40,1050\n");
    assert_eq!(
        (pressure.kind, pressure.field.as_str()),
        (Kind::Missing, "manifold_kpa")
    );
    let level = mistake("air_l_min,water_l_min\n20,40\n");
    assert_eq!((level.kind, level.field.as_str()), (Kind::Missing, "source_level_mm"));
    let end = mistake("air_l_min,level_start_mm,seconds,source_level_mm\n20,500,20,1050\n");
    assert_eq!((end.kind, end.field.as_str()), (Kind::Missing, "level_end_mm"));
    let air = mistake("litres,seconds,source_level_mm\n10,12,1050\n");
    assert_eq!((air.kind, air.field.as_str()), (Kind::Missing, "air_l_min"));
}

#[test]
fn an_empty_value_is_told_with_its_line() {
    let fault = mistake("air_l_min,litres,seconds,source_level_mm\n20,10,12,1050\n40,20,,1050\n");
    assert_eq!(
        (fault.kind, fault.line, fault.field.as_str()),
        (Kind::Missing, 3, "seconds")
    );
}

#[test]
fn a_negative_flow_is_refused_as_such() {
    let flow = mistake("air_l_min,water_l_min,source_level_mm\n40,101,1050\n20,-48,1050\n");
    assert_eq!(
        (flow.kind, flow.line, flow.value.as_str()),
        (Kind::NegativeFlow, 3, "-48")
    );
    let falls = mistake("air_l_min,level_start_mm,level_end_mm,seconds,source_level_mm\n40,590,560,20,1050\n");
    assert_eq!((falls.kind, falls.field.as_str()), (Kind::NegativeFlow, "level_end_mm"));
}

#[test]
fn time_that_runs_back_is_told_with_both_lines() {
    let fault =
        mistake("time_s,air_l_min,water_l_min,source_level_mm\n0,20,48,1050\n300,40,101,1050\n240,110,173,1050\n");
    assert_eq!((fault.kind, fault.line), (Kind::TimeRunsBack, 4));
    assert!(fault.message.contains("300 s on line 3"), "{fault}");
}

#[test]
fn points_all_at_one_air_are_fitted_with_a_warning() {
    let text = "air_l_min,water_l_min,source_level_mm\n40,99,1050\n41,101,1049\n40,98,1051\n42,104,1050\n40,97,1050\n";
    let read = read(text).unwrap();
    assert_eq!(read.warnings.len(), 1, "{:?}", read.warnings);
    assert!(read.warnings[0].kind == Kind::OneAir && read.warnings[0].only_warns);
    println!("{}", read.warnings[0]);
    let lift = lifts()
        .into_iter()
        .find(|lift| lift.name == "filter")
        .unwrap()
        .measured();
    let points = filter(&read);
    let fitted = fit(&lift, points, &Prior::default()).unwrap();
    let judgement = judge(&lift, points, &fitted);
    assert!(!judgement.enough());
    let ratio = judgement.next_air_m3_s / points[0].air_m3_s;
    assert!(
        !(0.7..=1.5).contains(&ratio),
        "the next point must lie elsewhere, not at {ratio} of the air there is"
    );
}

#[test]
fn every_mistake_of_a_file_is_told_at_once() {
    let text = "air_l_min,litres,seconds,source_level_mm,lift\n\
                twenty,10,12,1050,filter\n\
                40,-20,12,1050,filter\n\
                70,20,8,1050,fliter\n\
                90,20,8,1050\n\
                110,20,0.01,1050,filter\n";
    let report = read(text).expect_err("full of mistakes");
    let kinds: Vec<Kind> = report.faults.iter().map(|fault| fault.kind).collect();
    assert_eq!(
        kinds,
        [
            Kind::NotANumber,
            Kind::NegativeFlow,
            Kind::UnknownLift,
            Kind::NotANumber,
            Kind::OutOfRange
        ],
        "{report}"
    );
    let text = report.to_string();
    assert!(
        text.contains("points.csv: 5 mistakes") && text.contains("line 3") && text.contains("fry, filter, beds"),
        "{text}"
    );
    println!("{text}");
}

#[test]
fn a_column_in_another_unit_is_told_which_there_is() {
    let report = read("air_m3_h,water_l_min,source_level_mm\n2,48,1050\n").expect_err("unknown column");
    assert!(report.to_string().contains("air_l_min"), "{report}");
    assert_eq!(report.faults[0].kind, Kind::UnknownColumn);
}

#[test]
fn the_calibrated_installation_reads_back_and_keeps_its_comments() {
    let (name, text) = Scenario::shipped()[0];
    let read = read(GOOD).unwrap();
    let lift = lifts()
        .into_iter()
        .find(|lift| lift.name == "filter")
        .unwrap()
        .measured();
    let points = filter(&read);
    let fitted = fit(&lift, points, &Prior::default()).unwrap();
    let judgement = judge(&lift, points, &fitted);
    println!("{}", report("filter", points, &fitted, &judgement).text());
    let written = calibrated(text, "filter", &fitted, &judgement).unwrap();
    for line in text.lines() {
        assert!(written.lines().any(|kept| kept == line), "lost: {line}");
    }
    let place = parse_installation(name, &written).unwrap();
    let back = place.told.lifts[1].calibration;
    let meant = fitted.calibration(judgement.widening);
    assert!((back.losses / meant.losses - 1.0).abs() < 1.0e-3 && (back.air / meant.air - 1.0).abs() < 1.0e-3);
    let (back, meant) = (back.fit.unwrap(), meant.fit.unwrap());
    assert!((back.air_high_m3_s / meant.air_high_m3_s - 1.0).abs() < 1.0e-3);
    for (back, meant) in back.covariance.iter().zip(meant.covariance) {
        assert!((back - meant).abs() <= 1.0e-4 * meant.abs(), "{back} {meant}");
    }
    // Written again it is the same file.
    assert_eq!(calibrated(&written, "filter", &fitted, &judgement).unwrap(), written);
}
