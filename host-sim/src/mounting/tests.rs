use super::*;
use crate::pipes::Series;
use crate::scenario::parse_installation;
use crate::size::{L_MIN, Request, Span, size};

fn sheet(flow_l_min: f64, depth_m: Span, lift_m: Span) -> Sheet {
    let request = Request {
        water_m3_s: Span::at(flow_l_min / L_MIN),
        depth_m,
        lift_m,
        series: vec![Series::SoilPvc, Series::PressurePn10],
        ..Request::default()
    };
    let answer = size(&request).expect("in range");
    let index = answer.pick.expect("a pipe").index;
    Sheet::new(&request, &answer.candidates[index]).expect("it works")
}

#[test]
fn heights_add_up_and_the_loop_is_above_all_water() {
    let sheet = sheet(60.0, Span { low: 0.9, high: 1.1 }, Span { low: 0.0, high: 0.2 });
    let outside = sheet.candidate.pipe.outside_mm * 1e-3;
    assert!(sheet.clearance_m >= 0.5 * outside && sheet.inlet_m > sheet.clearance_m);
    assert!((sheet.low_level_m - sheet.inlet_m - 0.9).abs() < 1e-12);
    assert!((sheet.outlet_m - sheet.low_level_m - 0.2).abs() < 1e-12);
    assert!((sheet.clearance_m + sheet.riser_m - sheet.outlet_m).abs() < 1e-12);
    assert!(sheet.loop_m >= sheet.high_level_m + 0.3 && sheet.loop_m >= sheet.outlet_m + 0.3 - 1e-12);
}

#[test]
fn deep_injection_warns_of_gas_and_shallow_does_not() {
    // One metre of fresh water at sea level: 109.7 %.
    let shallow = sheet(60.0, Span::at(1.0), Span::at(0.1));
    assert!(!shallow.gas_warning() && !sheet_text(&shallow).contains("WARNING"));
    let deep = sheet(60.0, Span::at(1.6), Span::at(0.1));
    assert!(deep.gas_warning() && sheet_text(&deep).contains("gas bubble disease"));
}

#[test]
fn the_sheet_names_every_part_and_marks_common_practice() {
    let text = sheet_text(&sheet(60.0, Span::at(1.0), Span::at(0.1)));
    for word in [
        "foot",
        "submergence",
        "outlet",
        "receiving level",
        "upright",
        "air line",
        "check valve",
        "loop",
        "drain",
        "first metre",
        "guard",
        "stilling tube",
        "vented",
        "barometer",
        "sea water",
        "Electricity",
        "second blower",
        "relief",
        "Total gas pressure",
        "Local codes",
        "licensed",
        "(common practice)",
    ] {
        assert!(text.contains(word), "{word} is missing:\n{text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 110), "{text}");
}

#[test]
fn the_drawing_is_to_scale_and_stays_on_its_page() {
    for (flow, depth, lift) in [(12.0, 0.5, 0.3), (60.0, 1.0, 0.1), (400.0, 2.0, 0.0)] {
        let sheet = sheet(flow, Span::at(depth), Span::at(lift));
        let svg = drawing(&sheet);
        let mut polylines = Vec::new();
        for part in svg.split("points=\"").skip(1) {
            let points: Vec<(f64, f64)> = part
                .split('"')
                .next()
                .unwrap()
                .split(' ')
                .map(|pair| pair.split_once(',').unwrap())
                .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
                .collect();
            polylines.push(points);
        }
        for (x, y) in polylines.iter().flatten() {
            assert!((0.0..=1240.0).contains(x) && (0.0..=860.0).contains(y), "{x} {y}");
        }
        // Upright red lines are dimensions: depth and whole riser are in the ratio of their lengths.
        let upright: Vec<f64> = polylines
            .iter()
            .filter(|points| points.len() == 2 && points[0].0 == points[1].0)
            .map(|points| (points[0].1 - points[1].1).abs())
            .collect();
        let expected = sheet.riser_m / depth;
        let found = upright
            .iter()
            .any(|a| upright.iter().any(|b| (a / b / expected - 1.0).abs() < 2e-3));
        assert!(found, "no two uprights in the ratio {expected}");
        assert!(svg.contains(&format!("{:.0} deep", 1000.0 * depth)));
    }
}

#[test]
fn a_lift_of_a_file_is_drawn_as_the_file_has_it() {
    let named = parse_installation("default.toml", include_str!("../../scenarios/default.toml")).expect("sound");
    let fry = existing(&named, 0, None).expect("it works");
    // Inlet 50, outlet 1170, sump between 900 and 1180 mm: from the file. Its bore of 46.4 mm is that of 50 mm PP pipe.
    assert!((fry.candidate.pipe.outside_mm - 50.0).abs() < 1e-9 && (fry.candidate.pipe.bore_mm - 46.4).abs() < 1e-4);
    assert!((fry.inlet_m - 0.05).abs() < 1e-6 && (fry.outlet_m - 1.17).abs() < 1e-6);
    assert!((fry.low_level_m - 0.9).abs() < 1e-6 && (fry.high_level_m - 1.18).abs() < 1e-6);
    // Half a diameter under the foot, as is usual for 50 mm: 25 to 30 mm (common practice, no source).
    assert!((0.025..=0.030).contains(&fry.clearance_m), "{}", fry.clearance_m);
    assert!(!sheet_text(&fry).contains("foot below it stands too low"));
    // The same height of inlet is too low for 110 mm pipe.
    let beds = existing(&named, 2, None).expect("it works");
    assert!(sheet_text(&beds).contains("foot below it stands too low") && sheet_text(&beds).contains("110 mm above"));
    // The beds' high warning stands 740 mm above a floor that is 500 mm above the sump's: 40 mm over the invert.
    assert!(
        sheet_text(&beds).contains("300 mm above the lowest level") && sheet_text(&beds).contains("stands 40 mm above")
    );
    assert!((beds.candidate.air_line.bore_mm - 32.0).abs() < 1e-4);
    // At most 1.13 m of fresh water of 22 C, 11.06 kPa, and 0.3 to open the diffuser; diffuser and line take up to 2 more.
    assert!(
        (11_360.0..13_400.0).contains(&beds.candidate.valve_pa),
        "{}",
        beds.candidate.valve_pa
    );
    for sheet in [&fry, &beds] {
        assert!(drawing(sheet).contains("850 deep"));
        assert!(sheet_text(sheet).lines().all(|line| line.chars().count() <= 110));
    }
}

#[test]
fn a_bore_of_no_known_pipe_asks_for_its_outside() {
    let text = include_str!("../../scenarios/default.toml").replace("riser_bore_mm = 103.6", "riser_bore_mm = 116.3");
    let named = parse_installation("test.toml", &text).expect("sound");
    let said = existing(&named, 2, None).expect_err("no such pipe").to_string();
    assert!(said.contains("116.3") && said.contains("--outside-mm"), "{said}");
    assert!(existing(&named, 2, Some(122.0)).is_ok());
    let said = existing(&named, 2, Some(100.0))
        .expect_err("narrower than its bore")
        .to_string();
    assert!(said.contains("--outside-mm is 100") && said.contains("116.3"), "{said}");
}

#[test]
fn json_has_the_heights_with_their_units() {
    let json = sheet_json(&sheet(60.0, Span::at(1.0), Span::at(0.1)));
    assert!(json["outlet_mm"].as_f64().unwrap() > 1100.0);
    assert!(json["items"].as_array().unwrap().len() > 15);
}
