//! The command line as people and programs meet it.

use risertrim_sim::scenario::Scenario;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn risertrim(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments)
        .output()
        .unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// An empty folder of this test alone.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

fn same_keys(value: &Value, promised: &[&str]) {
    let (mut found, mut promised) = (keys(value), promised.to_vec());
    found.sort_unstable();
    promised.sort_unstable();
    assert_eq!(found, promised);
}

#[test]
fn the_json_has_exactly_the_promised_keys() {
    let output = risertrim(&["simulate", "shared_tank", "--hours", "1", "--seed", "3", "--json"]);
    assert_eq!(output.status.code(), Some(0));
    let outcome: Value = serde_json::from_slice(&output.stdout).unwrap();
    same_keys(
        &outcome,
        &[
            "scenario",
            "seed",
            "simulated_s",
            "wall_s",
            "control_period_s",
            "counted_share",
            "lifts",
            "tanks",
            "shared",
            "air",
            "alarms",
        ],
    );
    assert_eq!(outcome["seed"], 3);
    assert_eq!(outcome["simulated_s"], 3600.0);
    let lifts = outcome["lifts"].as_array().unwrap();
    assert!(!lifts.is_empty());
    for lift in lifts {
        same_keys(
            lift,
            &[
                "name",
                "target_l_min",
                "delivered_mean_l_min",
                "delivered_rms_error_percent",
                "estimate_rms_error_percent",
                "settle_s",
                "past_peak_s",
                "without_air_s",
                "air_mean_l_min",
                "valve_travel_strokes",
                "delivery_factor",
                "percent_of_clean",
                "cleaning_days",
            ],
        );
    }
    let tanks = outcome["tanks"].as_array().unwrap();
    assert!(!tanks.is_empty());
    for tank in tanks {
        same_keys(
            tank,
            &[
                "name",
                "level_min_m",
                "level_max_m",
                "spilled_l",
                "dry_s",
                "fish_without_air_s",
            ],
        );
    }
    same_keys(&outcome["air"], &["free_air_m3", "blower_energy_kwh"]);
    let shared = outcome["shared"].as_array().unwrap();
    assert!(!shared.is_empty());
    for sum in shared {
        same_keys(sum, &["tank", "lifts", "sum_target_l_min", "sum_delivered_mean_l_min"]);
    }
}

#[test]
fn alarms_in_the_json_say_when_what_and_what_to_do() {
    // Lifts that cannot be told apart and may not be stopped: the alarm stands from the first step.
    let output = risertrim(&["simulate", "shared_tank_no_stops", "--hours", "0.2", "--json"]);
    let outcome: Value = serde_json::from_slice(&output.stdout).unwrap();
    let alarm = outcome["alarms"]
        .as_array()
        .unwrap()
        .iter()
        .find(|alarm| alarm["kind"] == "not_told_apart")
        .unwrap();
    same_keys(
        alarm,
        &[
            "at_s",
            "cleared_s",
            "kind",
            "subject",
            "text",
            "urgency",
            "what",
            "means",
            "act",
            "figure_at_onset",
            "figure_last",
            "figure_of",
        ],
    );
    assert!(alarm["cleared_s"].is_null());
    let subject = alarm["subject"].as_str().unwrap();
    assert!(subject.starts_with("lift ") || subject.contains("lift"), "{subject}");
    let text = alarm["text"].as_str().unwrap();
    assert!(text.contains("told apart") && text.contains("stops"), "{text}");
}

#[test]
fn a_broken_scenario_ends_with_code_two_and_nothing_is_written() {
    let folder = folder("broken");
    let file = folder.join("broken.toml");
    let (_, text) = risertrim_sim::scenario::Scenario::shipped()[0];
    std::fs::write(&file, text.replace("riser_bore_mm", "riser_boar_mm")).unwrap();
    let csv = folder.join("csv");
    let output = risertrim(&["simulate", file.to_str().unwrap(), "--csv", csv.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    assert!(String::from_utf8_lossy(&output.stderr).contains("riser_boar_mm"));
    assert!(!csv.exists());
}

#[test]
fn impossible_arguments_end_with_code_two_and_nothing_is_written() {
    let folder = folder("arguments");
    let csv = folder.join("csv");
    let csv = csv.to_str().unwrap();
    for arguments in [
        ["simulate", "no-such-place", "--csv", csv].as_slice(),
        &["simulate", "--hours", "-1", "--csv", csv],
        &["simulate", "--hours", "nan", "--csv", csv],
        &["simulate", "--csv-every", "0", "--csv", csv],
        &["simulate", "--seed", "one", "--csv", csv],
        &["no-such-command"],
    ] {
        let output = risertrim(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(output.stdout.is_empty(), "{arguments:?}");
        assert!(!output.stderr.is_empty(), "{arguments:?}");
        assert!(!Path::new(csv).exists(), "{arguments:?}");
    }
}

#[test]
fn csv_files_hold_a_row_for_each_part_and_interval() {
    let folder = folder("csv");
    let output = risertrim(&[
        "simulate",
        "--hours",
        "0.1",
        "--quiet",
        "--csv-every",
        "60",
        "--csv",
        folder.to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(0));
    let rows = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap().lines().count();
    // Six minutes and the header; the default has three lifts and four tanks.
    assert_eq!(rows("lifts.csv"), 1 + 6 * 3);
    assert_eq!(rows("tanks.csv"), 1 + 6 * 4);
    assert_eq!(rows("air.csv"), 1 + 6);
    assert!(rows("alarms.csv") >= 1);
}

#[test]
fn help_fits_a_screen() {
    for arguments in [["--help"].as_slice(), &["simulate", "--help"], &["simulate", "--list"]] {
        let output = risertrim(arguments);
        assert_eq!(output.status.code(), Some(0));
        let text = out(&output);
        assert!(text.lines().count() <= 40, "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    }
    assert!(out(&risertrim(&["simulate", "--help"])).contains("Example"));
}

#[test]
fn tables_are_plain_text_that_fits_a_hundred_columns() {
    for (name, _) in risertrim_sim::scenario::Scenario::shipped() {
        let output = risertrim(&["simulate", name, "--hours", "1"]);
        assert_eq!(output.status.code(), Some(0), "{name}");
        let text = out(&output);
        assert!(!text.contains('\u{1b}'), "{name}");
        assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
        assert!(text.contains("times real time"), "{text}");
    }
}

#[test]
fn a_fault_that_a_place_has_no_part_for_is_said_to_be_not_tried_and_the_others_are() {
    let (_, text) = Scenario::shipped()
        .iter()
        .find(|(name, _)| *name == "one_lift")
        .unwrap();
    let overflow = "    { to = \"sump\", standpipe = { crest_mm = 740, bore_mm = 103.6 } },\n";
    assert!(text.contains(overflow));
    let file = folder("one_outlet").join("mine.toml");
    std::fs::write(&file, text.replace(overflow, "")).unwrap();
    let path = file.display().to_string();
    let asked = [
        "faults",
        &path,
        "--quiet",
        "--only",
        "overflow both clog",
        "--only",
        "clogs wholly",
    ];
    let text = out(&risertrim(&asked));
    assert!(text.contains("return clogs wholly"), "{text}");
    let not_tried = "return and overflow both clog: not tried: tank trout tank has no second outlet";
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(plain(&text).contains(not_tried), "{text}");
}

#[test]
fn a_battery_alarm_tells_its_minutes_at_the_onset_and_at_the_end() {
    let folder = folder("battery");
    let (_, text) = Scenario::shipped()
        .iter()
        .find(|(name, _)| *name == "one_lift")
        .unwrap();
    let event = "\n[[event]]\nat_h = 0.5\nmains = \"fails\"\n";
    let text = text.replacen("[air]\n", "[air]\nbackup = { energy_wh = 120, wanted_h = 4 }\n", 1) + event;
    let file = folder.join("mine.toml");
    std::fs::write(&file, text).unwrap();
    let (file, csv) = (file.display().to_string(), folder.join("csv"));
    let output = risertrim(&[
        "simulate",
        &file,
        "--hours",
        "1.5",
        "--json",
        "--csv",
        csv.to_str().unwrap(),
    ]);
    let outcome: Value = serde_json::from_slice(&output.stdout).unwrap();
    let alarms = outcome["alarms"].as_array().unwrap();
    let battery = |alarm: &&Value| {
        alarm["figure_of"]
            .as_str()
            .is_some_and(|of| of.starts_with("min of battery"))
    };
    let alarm = alarms.iter().find(battery).unwrap_or_else(|| panic!("{alarms:#?}"));
    let (first, last) = (
        alarm["figure_at_onset"].as_i64().unwrap(),
        alarm["figure_last"].as_i64().unwrap(),
    );
    assert!(
        alarm["cleared_s"].is_null() && first > 0 && last > 0 && first != last,
        "{first} {last}"
    );
    let text = alarm["text"].as_str().unwrap();
    assert!(
        text.contains(&format!("About {last} min")) && text.contains(&format!("When it came up: about {first} min.")),
        "{text}"
    );
    let rows = std::fs::read_to_string(csv.join("alarms.csv")).unwrap();
    assert!(
        rows.lines()
            .next()
            .unwrap()
            .ends_with("figure_at_onset,figure_last,figure_of")
    );
    assert!(rows.contains(&format!(",{first},{last},min of battery")), "{rows}");
}
