//! The command `tune` as people use it.

use std::path::PathBuf;
use std::process::{Command, Output};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments)
        .output()
        .unwrap()
}

fn text(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

/// A folder of its own for a test.
fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("tune-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn log(folder: &std::path::Path, scenario: &str, hours: &str) -> String {
    let path = folder.join(format!("{scenario}.rtlog")).display().to_string();
    let output = run(&["simulate", scenario, "--hours", hours, "--log", &path]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output));
    path
}

#[test]
fn a_log_gives_a_report_and_a_new_installation_with_its_comments() {
    let folder = folder("whole");
    let log = log(&folder, "one_lift", "4");
    let told = include_str!("../scenarios/one_lift.toml");
    let file = folder.join("farm.toml").display().to_string();
    // A level sensor that is told five times as noisy as it is, and a trim that is ten times too slow.
    let poor = told.replace(
        "sensor = { noise_mm = 1, resolution_mm = 1 }",
        "sensor = { noise_mm = 5, resolution_mm = 1 } # the cheap one",
    ) + "\n[control]\ntrim_s = 300 # to be sure\n";
    assert_ne!(poor, told);
    std::fs::write(&file, &poor).unwrap();
    let (out, report) = (folder.join("new.toml"), folder.join("report.txt"));
    let output = run(&[
        "tune",
        &log,
        "--installation",
        &file,
        "--out",
        &out.display().to_string(),
        "--report",
        &report.display().to_string(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output));
    assert!(
        text(&output).contains("another state of this place"),
        "{}",
        text(&output)
    );
    let new = std::fs::read_to_string(&out).unwrap();
    assert!(new.contains("# the cheap one") && new.contains("# to be sure"), "{new}");
    let value = |key: &str| -> f64 {
        let line = new.split(key).nth(1).unwrap_or_else(|| panic!("{key} in {new}"));
        let digits: String = line
            .trim_start_matches([' ', '='])
            .chars()
            .take_while(|c| c.is_ascii_digit() || *c == '.')
            .collect();
        digits.parse().unwrap()
    };
    assert!((value("noise_mm") - 1.0).abs() < 0.1, "{new}");
    assert!(value("trim_s") < 100.0, "{new}");
    let told = std::fs::read_to_string(&report).unwrap();
    for word in ["What the log tells", "Proposed", "Tried for", "trim_s"] {
        assert!(told.contains(word), "{word}: {told}");
    }
    // What was written is an installation that runs.
    let output = run(&["check", &out.display().to_string()]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output));
}

#[test]
fn json_is_one_object_and_several_files_are_one_log() {
    let folder = folder("several");
    let log = log(&folder, "one_lift", "1");
    let output = run(&["tune", &log, &log, "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let hours = json["hours"].as_f64().unwrap();
    assert!((hours - 2.0).abs() < 0.01, "{hours}");
    assert_eq!(json["tanks"].as_array().unwrap().len(), 2);
}

#[test]
fn what_cannot_be_fitted_is_refused_with_the_reason() {
    let folder = folder("refused");
    let short = log(&folder, "one_lift", "0.1");
    let long = log(&folder, "shared_tank", "0.5");
    let csv = folder.join("no.csv").display().to_string();
    std::fs::write(&csv, "a,b\n1,2\n").unwrap();
    for (arguments, reason) in [
        (vec!["tune", &short], "at least 900 s are needed"),
        (vec!["tune", &csv], "is no log of risertrim"),
        (vec!["tune", "nowhere.rtlog"], "nowhere.rtlog cannot be read"),
        (
            vec!["tune", &long, "--installation", "one_lift"],
            "they are not the same place",
        ),
        (vec!["tune", &long, "--out", "x.toml"], "--installation"),
    ] {
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", text(&output));
        assert!(text(&output).contains(reason), "{arguments:?}: {}", text(&output));
        assert!(output.stdout.is_empty(), "{arguments:?}");
    }
}
