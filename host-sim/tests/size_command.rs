//! `risertrim size` as it is called: what it prints, writes and refuses.

use risertrim_sim::scenario::Scenario;
use std::process::{Command, Output};

fn size(arguments: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .arg("size")
        .args(arguments.split_whitespace())
        .output()
        .expect("the program runs")
}

fn printed(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

const TASK: &str = "--flow-l-min 60 --depth-mm 1000 --lift-mm 100";

#[test]
fn a_task_is_answered_with_a_recommendation_that_the_marched_model_checked() {
    let output = size(TASK);
    let text = printed(&output);
    assert_eq!(output.status.code(), Some(0));
    for word in [
        "RECOMMENDED",
        "Checked with the marched riser model",
        "1.7 m",
        "Blower:",
    ] {
        assert!(text.contains(word), "{word} is missing:\n{text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 110), "{text}");
}

#[test]
fn json_is_one_object_with_units_in_its_keys() {
    let json: serde_json::Value = serde_json::from_str(&printed(&size(&format!("{TASK} --json")))).expect("JSON");
    let chosen = &json["candidates"][usize::try_from(json["recommended"]["candidate"].as_u64().unwrap()).unwrap()];
    assert!(chosen["share_of_peak"].as_f64().unwrap() <= 0.8);
    assert!(chosen["air_l_min"].as_f64().unwrap() > chosen["onset_air_l_min"].as_f64().unwrap());
    let marched = json["recommended"]["marched_l_min"].as_f64().unwrap();
    assert!((marched / 60.0 - 1.0).abs() < 0.08, "{marched}");
}

#[test]
fn a_sheet_is_drawn_and_told_in_words() {
    let path = std::env::temp_dir().join(format!("risertrim-size-{}.svg", std::process::id()));
    let output = size(&format!("{TASK} --sheet {}", path.display()));
    let svg = std::fs::read_to_string(&path).expect("the drawing");
    std::fs::remove_file(&path).expect("clean up");
    assert_eq!(output.status.code(), Some(0));
    assert!(svg.starts_with("<svg") && svg.contains("1000 deep"));
    assert!(printed(&output).contains("(common practice)"));
}

#[test]
fn bad_arguments_end_with_2_and_name_field_value_and_range() {
    for (arguments, words) in [
        (
            "--flow-l-min 60 --depth-mm 1 --lift-mm 100",
            vec!["depth in mm is 1, allowed: 150 to 5000", "given in m?"],
        ),
        (
            "--flow-l-min 60..40 --depth-mm 1000 --lift-mm 100",
            vec!["flow in L/min is 60..40", "smaller value first"],
        ),
        (
            "--flow-l-min 60 --depth-mm 1000 --lift-mm -5",
            vec!["lift in mm is -5", "0 to 1500"],
        ),
        (
            "--flow-l-min much --depth-mm 1000 --lift-mm 100",
            vec!["--flow-l-min", "\"much\" is no number"],
        ),
        (
            "--flow-l-min 60 --depth-mm 1000 --lift-mm 100 --water-c 55",
            vec!["water temperature in C is 55", "0 to 40"],
        ),
        (
            "--flow-l-min 60 --depth-mm 1000 --lift-mm 100 --blower 0:26",
            vec!["blower curve", "2 to 8 points"],
        ),
        (
            "--flow-l-min 60 --depth-mm 1000 --lift-mm 100 --pipes lead",
            vec!["'lead'", "soil-pvc"],
        ),
        ("--installation nowhere", vec!["nowhere", "default"]),
    ] {
        let output = size(arguments);
        let error = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{arguments}: {error}");
        assert!(output.stdout.is_empty(), "{arguments}");
        for word in words {
            assert!(error.contains(word), "{arguments}: {word} is missing in: {error}");
        }
    }
}

#[test]
fn deep_air_is_warned_of_and_shallow_air_is_not() {
    let warns = |depth: &str| {
        let output = size(&format!("--flow-l-min 60 --depth-mm {depth} --lift-mm 100"));
        printed(&output).contains("gas bubble disease")
    };
    assert!(warns("1500") && !warns("900"));
}

#[test]
fn several_lifts_get_a_duty_point_and_the_check_with_every_valve_open() {
    let output = size("--installation default");
    let text = printed(&output);
    assert_eq!(output.status.code(), Some(0));
    assert!(
        text.contains("duty point") && text.contains("With every valve open at full blower"),
        "{text}"
    );
}

fn with_valve(valve: &str) -> Result<Scenario, String> {
    let place = include_str!("../src/size/several/place.toml");
    let text = place.replace("sonic_conductance_dm3_s_bar = 1.6", valve);
    Scenario::parse("test.toml", &text).map_err(|report| report.to_string())
}

#[test]
fn a_valve_may_be_told_by_kv_bore_or_measured_points() {
    let c = |valve: &str| {
        let scenario = with_valve(valve).unwrap_or_else(|error| panic!("{valve}: {error}"));
        f64::from(scenario.told.lifts[0].valve.conductance_m3_s_pa) * 1e8
    };
    // About 0.21 Kv to 1 dm3/(s bar) at small drops (IEC 60534-2-1 against ISO 6358).
    assert!((c("kv = 0.336") / 1.6 - 1.0).abs() < 0.03, "{}", c("kv = 0.336"));
    // 0.7 of an ideal nozzle of 5 mm: 19.9 dm3/(s bar) a cm2.
    assert!(
        (c("bore_mm = 5") / (0.7 * 19.92 * 0.196_35) - 1.0).abs() < 0.01,
        "{}",
        c("bore_mm = 5")
    );
    // C 1, b 0.3 passes 34.27 L/min from 121.3 to 111.3 kPa (ISO 6358): the site lies at 99.9 kPa, so 21.4 kPa above it.
    let one = c("measured_drop_kpa_l_min = [[10, 34.2]], measured_at_kpa = 21.4");
    assert!((one - 1.0).abs() < 0.01, "{one}");
}

#[test]
fn a_valve_told_twice_or_wrongly_is_refused() {
    let error = with_valve("kv = 0.3, bore_mm = 5").expect_err("twice");
    assert!(error.contains("told twice"), "{error}");
    let error = with_valve("kv = -1").expect_err("negative");
    assert!(error.contains("kv"), "{error}");
    let error = with_valve("critical_ratio = 0.3").expect_err("nothing");
    assert!(error.contains("sonic_conductance_dm3_s_bar is missing"), "{error}");
    let error = with_valve("measured_drop_kpa_l_min = [[200, 34]]").expect_err("vacuum behind the valve");
    assert!(error.contains("absolute"), "{error}");
}
