//! Several lifts of a place on its blower, and places that do not bear every valve open.

use crate::scenario::Scenario;
use crate::size::{L_MIN, Trouble, several, several_text};

fn place_with(changes: &[(&str, &str)]) -> Scenario {
    let mut text = include_str!("place.toml").to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from} is not in the place");
        text = text.replace(from, to);
    }
    Scenario::parse("test.toml", &text).unwrap_or_else(|report| panic!("{report}"))
}

#[test]
fn several_lifts_meet_their_targets_at_the_openings_by_the_marched_model() {
    let found = several(&place_with(&[])).expect("sound");
    assert!(
        found.served && found.wide_open.troubles.is_empty(),
        "{:?}",
        found.wide_open.troubles
    );
    for (lift, marched) in found.lifts.iter().zip(&found.wide_open.trimmed_m3_s) {
        // The levels settle where they will, not at the middle of their bands: within a tenth.
        assert!(
            (marched / lift.target_m3_s - 1.0).abs() < 0.1,
            "{}: {marched}",
            lift.name
        );
        assert!(
            (0.0..=1.0).contains(&lift.opening) && lift.remarks.is_empty(),
            "{lift:?}"
        );
    }
    // On the blower's curve of the file: 26 kPa at no air, 13 kPa at 250 L/min.
    let air = (found.air_m3_s + found.bleed_m3_s) * L_MIN;
    assert!(
        (found.blower_pa - (26_000.0 - air * 13_000.0 / 250.0)).abs() < 30.0,
        "{air} L/min at {} Pa",
        found.blower_pa
    );
    assert!(found.needed_pa < found.blower_pa && found.lifts.iter().all(|lift| lift.valve_pa < found.needed_pa));
    let text = several_text(&found);
    assert!(
        text.lines().all(|line| line.chars().count() <= 110) && text.contains("duty point"),
        "{text}"
    );
}

#[test]
fn an_overflow_too_narrow_for_a_wide_open_lift_is_told() {
    // The nursery keeps one pipe that carries its target of 50 L/min at the rim and hardly more.
    let narrow = [
        (
            "standpipe = { crest_mm = 632, bore_mm = 46.4 }",
            "standpipe = { crest_mm = 600, bore_mm = 31.5 }",
        ),
        (
            "    { to = \"sump\", standpipe = { crest_mm = 725, bore_mm = 103.6 } },\n",
            "",
        ),
        ("outlet_mm = 1170", "outlet_mm = 1300"),
        ("sonic_conductance_dm3_s_bar = 1.6", "sonic_conductance_dm3_s_bar = 4"),
    ];
    let found = several(&place_with(&narrow)).expect("sound");
    let told = found
        .wide_open
        .troubles
        .iter()
        .any(|t| matches!(t, Trouble::RunsOver { tank, .. } if tank == "nursery"));
    assert!(told, "{:?}", found.wide_open.troubles);
    assert!(several_text(&found).contains("WARNING, with every valve open at full blower: nursery runs over"));
}

#[test]
fn a_source_too_small_for_what_the_tanks_above_hold_is_told() {
    let small = [
        ("area_m2 = 3\n", "area_m2 = 0.05\n"),
        ("low_warn_mm = 900", "low_warn_mm = 1000"),
        ("low_act_mm = 800", "low_act_mm = 980"),
    ];
    let found = several(&place_with(&small)).expect("sound");
    let told = found
        .wide_open
        .troubles
        .iter()
        .any(|t| matches!(t, Trouble::BelowLimit { tank, .. } if tank == "sump"));
    assert!(
        told,
        "{:?}, lowest {:?}",
        found.wide_open.troubles, found.wide_open.lowest_m
    );
    // A lift of little water whose foot stands high is the first to draw air.
    let mut high = small.to_vec();
    high.push((
        "injector_mm = 50\noutlet_mm = 1170",
        "injector_mm = 975\noutlet_mm = 1170",
    ));
    high.push(("target_l_min = 50", "target_l_min = 1"));
    let found = several(&place_with(&high)).expect("sound");
    let told = found
        .wide_open
        .troubles
        .iter()
        .any(|t| matches!(t, Trouble::DownToFoot { lift, .. } if lift == "nursery"));
    assert!(
        told,
        "{:?}, lowest {:?}",
        found.wide_open.troubles, found.wide_open.lowest_m
    );
}
