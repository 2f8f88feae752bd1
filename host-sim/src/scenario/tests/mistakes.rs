//! Every way we know of to get a file wrong, and what is said of it.

use super::*;

fn faults(text: &str) -> Vec<Finding> {
    Scenario::parse("test.toml", text)
        .expect_err("the file is wrong")
        .findings()
        .to_vec()
}

/// The only fault of a text, which must stand on the line that holds `part`.
fn only_fault(text: &str, part: &str) -> Finding {
    let found = faults(text);
    let real: Vec<&Finding> = found.iter().filter(|finding| !finding.only_warns).collect();
    assert_eq!(real.len(), 1, "{found:#?}");
    assert_eq!(real[0].line, line_of(text, part), "{found:#?}");
    real[0].clone()
}

#[test]
fn six_different_mistakes_make_one_report_that_names_each_line() {
    let mut text = DEFAULT.to_owned();
    let wrong = [
        ("rim_mm = 1300", "rimm_mm = 1300"),              // unknown key (and a missing one)
        ("riser_bore_mm = 46.4", "riser_bore_mm = 4.64"), // in cm
        ("start_mm = 673", "start_mm = \"673 mm\""),      // wrong type
        ("to = \"plant beds\"", "to = \"plantbeds\""),    // unknown name
        ("crest_mm = 632, bore_mm = 46.4", "crest_mm = -20, bore_mm = 46.4"), // below the floor
        ("foul_percent = 25  ", "foul_percent = 25\nshut = true"), // two actions at once
    ];
    for (from, to) in wrong {
        text = changed(&text, from, to);
    }
    let report = Scenario::parse("broken.toml", &text).expect_err("the file is wrong");
    let shown = report.to_string();
    for (part, kind) in [
        ("rimm_mm", Kind::UnknownKey),
        ("= 4.64", Kind::OutOfRange),
        ("673 mm", Kind::WrongType),
        ("plantbeds", Kind::UnknownName),
        ("crest_mm = -20", Kind::Geometry),
        ("foul_percent = 25", Kind::Event),
    ] {
        let found = report.findings().iter().find(|finding| finding.kind == kind);
        let found = found.unwrap_or_else(|| panic!("no {kind:?} in {shown}"));
        let line = line_of(&text, part);
        // Two actions are marked at the second.
        assert!(
            found.line == line || kind == Kind::Event && found.line == line + 1,
            "{found:?}"
        );
        assert!(
            shown.contains(&format!("line {}: {}", found.line, found.message)),
            "{shown}"
        );
        assert!(
            shown.contains(&format!("broken.toml:{}:{}", found.line, found.column)),
            "{shown}"
        );
    }
    // The misspelt key also leaves its own missing; nothing else is said.
    assert_eq!(report.faults(), 7, "{shown}");
    assert!(
        shown.contains("did you mean rim_mm?") && shown.contains("if it is in cm, write 46.4"),
        "{shown}"
    );
    assert!(shown.contains("did you mean \"plant beds\"?"), "{shown}");
}

#[test]
fn a_wrong_value_does_not_hide_an_impossible_height_elsewhere() {
    let text = changed(DEFAULT, "target_l_min = 50", "target_l_min = -5");
    let text = changed(&text, "outlet_mm = 1180", "outlet_mm = 9000");
    let found = faults(&text);
    let at = |part: &str| {
        found
            .iter()
            .find(|finding| finding.line == line_of(&text, part))
            .cloned()
    };
    assert_eq!(at("target_l_min = -5").unwrap().kind, Kind::OutOfRange);
    assert_eq!(at("outlet_mm = 9000").unwrap().kind, Kind::Geometry);
    assert_eq!(
        found.iter().filter(|finding| !finding.only_warns).count(),
        2,
        "{found:#?}"
    );
}

#[test]
fn a_syntax_error_is_placed_and_does_not_hide_a_wrong_value() {
    let text = changed(DEFAULT, "hours = 24", "hours = = 24");
    let text = changed(&text, "water_c = 22", "water_c = 95");
    let found = faults(&text);
    assert!(
        found
            .iter()
            .any(|f| f.kind == Kind::Syntax && f.line == line_of(&text, "hours = = 24")),
        "{found:#?}"
    );
    assert!(
        found
            .iter()
            .any(|f| f.kind == Kind::OutOfRange && f.line == line_of(&text, "water_c = 95")),
        "{found:#?}"
    );
    let twice = changed(DEFAULT, "seed = 1", "seed = 1\nseed = 2");
    assert_eq!(only_fault(&twice, "seed = 2").kind, Kind::Syntax);
}

#[test]
fn single_mistakes_are_each_told_where_they_stand() {
    let cases: &[(&str, &str, &str, Kind, &str)] = &[
        // from, to, marked line holds, kind, said
        ("seed = 1", "seed = -1", "seed = -1", Kind::OutOfRange, "allowed"),
        (
            "control_period_s = 1",
            "control_period_s = 1000",
            "= 1000",
            Kind::OutOfRange,
            "in ms, write 1",
        ),
        (
            "altitude_m = 120",
            "altitude_m = 120000",
            "120000",
            Kind::OutOfRange,
            "in mm, write 120",
        ),
        (
            "rim_mm = 820",
            "rim_mm = 0.82",
            "rim_mm = 0.82",
            Kind::OutOfRange,
            "in m, write 820",
        ),
        (
            "riser_bore_mm = 71.2",
            "riser_bore_mm = 2.8",
            "= 2.8",
            Kind::OutOfRange,
            "in inches, write 71.12",
        ),
        (
            "riser_bore_mm = 71.2",
            "riser_bore_mm = 712",
            "= 712",
            Kind::OutOfRange,
            "71.2 would do",
        ),
        (
            "at_l_min = 200",
            "at_l_min = 0.003",
            "0.003",
            Kind::OutOfRange,
            "in L/s, write 0.18",
        ),
        (
            "target_l_min = 120",
            "target_l_min = 7200",
            "= 7200",
            Kind::Geometry,
            "in L/h, write 120",
        ),
        (
            "target_l_min = 280",
            "target_l_min = 2800",
            "= 2800",
            Kind::Geometry,
            "280 would do",
        ),
        (
            "outlet_mm = 1180",
            "outlet_mm = 40",
            "outlet_mm = 40",
            Kind::OutOfRange,
            "in cm, write 400",
        ),
        (
            "outlet_mm = 1180",
            "outlet_mm = 60",
            "outlet_mm = 60",
            Kind::Geometry,
            "above the air inlet",
        ),
        (
            "crest_mm = 750",
            "crest_mm = 850",
            "crest_mm = 850",
            Kind::Geometry,
            "above the tank's rim",
        ),
        (
            "high_warn_mm = 720",
            "high_warn_mm = 760",
            "high_warn_mm = 760",
            Kind::Geometry,
            "out of order",
        ),
        (
            "start_mm = 692",
            "start_mm = 900",
            "start_mm = 900",
            Kind::Geometry,
            "above rim_mm",
        ),
        (
            "angle_deg = 90",
            "angle_deg = 90, angel_deg = 90",
            "angel_deg",
            Kind::UnknownKey,
            "angle_deg",
        ),
        (
            "lift = \"filter\"\nl_min",
            "lift = \"fliter\"\nl_min",
            "fliter",
            Kind::UnknownName,
            "\"filter\"?",
        ),
        (
            "tank = \"sump\"\nevap",
            "tank = \"pond\"\nevap",
            "pond",
            Kind::UnknownName,
            "is not the name of a tank",
        ),
        (
            "name = \"plant beds\"",
            "name = \"filter\"",
            "area_m2 = 2.0",
            Kind::DuplicateName,
            "taken",
        ),
        ("evaporate_l_day = 20", "", "", Kind::Event, "no action"),
        ("l_min = 224", "", "", Kind::MissingKey, "l_min is missing"),
        (
            "over_min = 10",
            "over_min = 10\nover_s = 3",
            "over_s = 3",
            Kind::Event,
            "told twice",
        ),
        (
            "priority = 2",
            "priority = 2.5",
            "priority = 2.5",
            Kind::WrongType,
            "whole number",
        ),
        (
            "fish = true",
            "fish = \"yes\"",
            "\"yes\"",
            Kind::WrongType,
            "true or false",
        ),
        (
            "[[0, 26], [350, 13], [700, 0]]",
            "[[0, 26]]",
            "[[0, 26]]",
            Kind::Count,
            "2 to 8",
        ),
        (
            "[[0, 26], [350, 13], [700, 0]]",
            "[[0, 13], [350, 26]]",
            "[350, 26]",
            Kind::Geometry,
            "fall",
        ),
        (
            "[[0, 26], [350, 13], [700, 0]]",
            "[[0, 26], [350]]",
            "[350]]",
            Kind::WrongType,
            "pairs",
        ),
    ];
    for (from, to, marked, kind, said) in cases {
        let text = changed(DEFAULT, from, to);
        let found = faults(&text);
        let matching = found.iter().find(|f| f.kind == *kind && f.to_string().contains(said));
        let matching = matching.unwrap_or_else(|| panic!("{to}: {found:#?}"));
        if *kind == Kind::DuplicateName {
            assert_eq!(matching.line + 1, line_of(&text, marked));
            continue;
        }
        assert_eq!(found.iter().filter(|f| !f.only_warns).count(), 1, "{to}: {found:#?}");
        if !marked.is_empty() {
            assert_eq!(matching.line, line_of(&text, marked), "{to}: {found:#?}");
        }
    }
}

#[test]
fn water_pumped_where_it_has_no_way_back_is_refused() {
    let v_notch = "{ to = \"sump\", v_notch = { crest_mm = 550, angle_deg = 60 } }";
    let standpipe = "{ to = \"sump\", standpipe = { crest_mm = 755, bore_mm = 103.6 } }";
    let away = |part: &str| part.replace("\"sump\"", "\"away\"");
    let text = changed(SHARED, v_notch, &away(v_notch));
    // One way back is enough.
    Scenario::parse("half.toml", &text).unwrap();
    let text = changed(&text, standpipe, &away(standpipe));
    let found = faults(&text);
    assert_eq!(
        found.iter().filter(|f| f.message.contains("no way back")).count(),
        2,
        "{found:#?}"
    );
}

#[test]
fn none_or_too_many_tanks_and_lifts_are_refused() {
    let cut = DEFAULT.find("[[lift]]").unwrap();
    let found = faults(&DEFAULT[..cut]);
    assert!(
        found
            .iter()
            .any(|f| f.kind == Kind::Count && f.message.contains("there is no lift")),
        "{found:#?}"
    );
    let found = faults("");
    for what in ["no tank", "no lift", "no [air]"] {
        assert!(found.iter().any(|f| f.message.contains(what)), "{what}: {found:#?}");
    }
    let lift = &SHARED[SHARED.find("[[lift]]\nname = \"small\"").unwrap()..SHARED.find("[truth]").unwrap()];
    let mut text = SHARED.to_owned();
    for number in 0..LIFTS {
        text.push_str(&lift.replace("\"small\"", &format!("\"small {number}\"")));
    }
    let found = faults(&text);
    assert!(
        found
            .iter()
            .any(|f| f.kind == Kind::Count && f.message.contains("14 lifts")),
        "{found:#?}"
    );
}

#[test]
fn an_event_after_the_end_and_a_doubtful_length_are_warnings_with_their_lines() {
    let text = changed(DEFAULT, "at_h = 20", "at_h = 30");
    let scenario = Scenario::parse("late.toml", &text).unwrap();
    assert_eq!(scenario.warnings.len(), 1);
    let line = line_of(&text, "at_h = 30");
    assert!(
        scenario.warnings[0].starts_with(&format!("line {line},")),
        "{:?}",
        scenario.warnings
    );
}

#[test]
fn no_text_makes_the_reader_panic() {
    // Every prefix and every single-line loss of a good file: broken in a thousand ways.
    for (end, _) in DEFAULT.char_indices().step_by(97) {
        let _ = Scenario::parse("prefix.toml", &DEFAULT[..end]).map_err(|report| report.to_string());
    }
    let lines: Vec<&str> = DEFAULT.lines().collect();
    for skip in 0..lines.len() {
        let text: String = lines
            .iter()
            .enumerate()
            .filter(|(n, _)| *n != skip)
            .map(|(_, line)| format!("{line}\n"))
            .collect();
        let _ = Scenario::parse("line.toml", &text).map_err(|report| report.to_string());
    }
}

#[test]
fn a_list_written_with_one_bracket_is_told_once_a_header_and_not_once_a_key() {
    let text = DEFAULT.replace("[[lift]]", "[lift]");
    let report = Scenario::parse("single.toml", &text)
        .expect_err("the file is wrong")
        .to_string();
    assert!(report.contains("write [[lift]] above each lift"), "{report}");
    // Three lifts: the parser stumbles at the second and at the third.
    let said = faults(&text);
    assert_eq!(said.iter().filter(|fault| !fault.only_warns).count(), 2, "{report}");
}

#[test]
fn a_key_in_another_unit_is_told_what_to_write() {
    let text = changed(DEFAULT, "rim_mm = 1300", "rim_cm = 130");
    let report = Scenario::parse("cm.toml", &text)
        .expect_err("the file is wrong")
        .to_string();
    assert!(
        report.contains("there is no key rim_cm") && report.contains("write rim_mm = 1300"),
        "{report}"
    );
}

#[test]
fn slips_of_the_pen_are_told_what_to_write_beside_what_the_parser_says() {
    for (from, to, says) in [
        ("fish = true", "fish = yes", "write fish = true"),
        ("area_m2 = 0.5", "area_m2 = 0,5", "write area_m2 = 0.5"),
        ("\"Halfmoon Shed\"", "\u{201c}Halfmoon Shed\u{201d}", "straight quotes"),
    ] {
        let text = changed(DEFAULT, from, to);
        let report = Scenario::parse("slip.toml", &text)
            .expect_err("the file is wrong")
            .to_string();
        assert!(
            report.contains("this is not TOML") && report.contains(says),
            "{to}: {report}"
        );
    }
}
