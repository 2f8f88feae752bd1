//! The command `replay` as people and programs meet it.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn run(arguments: &[&str]) -> (Option<i32>, String, String) {
    let Output { status, stdout, stderr } = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (status.code(), text(&stdout), text(&stderr))
}

/// An empty folder of one test alone.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("replay-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn log(folder: &Path, scenario: &str, plan: &str) -> String {
    let path = folder.join("board.rtlog").display().to_string();
    let (code, _, said) = run(&["simulate", scenario, "--hours", "1", "--log", &path, "--log-plan", plan]);
    assert_eq!(code, Some(0), "{said}");
    path
}

#[test]
fn a_log_of_this_version_is_exact_also_over_a_restart() {
    let folder = folder("exact");
    let place = folder.join("place.toml").display().to_string();
    let told = include_str!("../scenarios/one_lift.toml");
    let off = "\n[[event]]\nat_h = 0.5\nboard = \"stops\"\n\n[[event]]\nat_h = 0.52\nboard = \"starts\"\n";
    std::fs::write(&place, told.to_owned() + off).unwrap();
    let path = log(&folder, &place, "usual");
    let (code, text, said) = run(&["replay", &path, "--exact"]);
    assert_eq!(code, Some(0), "{said}{text}");
    assert!(text.contains("The same decisions, bit by bit."), "{text}");
    let (_, json, _) = run(&["replay", &path, "--exact", "--json"]);
    let json: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["equal"], true);
    assert_eq!(json["starts"], 2);
    assert!(json["compared"].as_u64().unwrap() > 340);
    assert_eq!(json["compared"], json["equal_steps"]);
}

#[test]
fn another_setting_shows_when_and_in_what_it_decides_otherwise() {
    let folder = folder("tuned");
    let path = log(&folder, "one_lift", "whole");
    let (code, text, said) = run(&["replay", &path, "--set", "valve_deadband=0.05"]);
    assert_eq!(code, Some(0), "{said}");
    for told in [
        "with other settings",
        "First difference at",
        "causes first",
        "lift 1",
        "opening commanded",
        "% of steps from",
    ] {
        assert!(text.contains(told), "{told}: {text}");
    }
    // What came before the first difference was equal; a deadband changes no reading.
    let (_, json, _) = run(&["replay", &path, "--set", "valve_deadband=0.05", "--json"]);
    let json: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["equal"], false);
    assert!(json["first_difference_s"].as_f64().unwrap() > 0.0);
    assert!(json["equal_steps"].as_u64().unwrap() > 0);
    let all = json["differences"].as_array().unwrap();
    assert!(
        all.iter()
            .any(|field| field["unit"] == "%" && field["widest"].as_f64().unwrap() != 0.0)
    );
    assert!(
        !all.iter()
            .any(|field| field["what"].as_str().unwrap().starts_with("worth of the reading"))
    );
    // --exact makes it a failure, the text is the same.
    let (code, again, said) = run(&["replay", &path, "--set", "valve_deadband=0.05", "--exact"]);
    assert_eq!((code, again), (Some(1), text));
    assert!(said.contains("not exact"), "{said}");
}

#[test]
fn another_calibration_is_replayed_from_its_file() {
    let folder = folder("recalibrated");
    let path = log(&folder, "one_lift", "usual");
    let place = folder.join("new.toml").display().to_string();
    let told = include_str!("../scenarios/one_lift.toml");
    let recalibrated = told.replace("angle_deg = 60 } },", "angle_deg = 60 }, coefficient = 1.1 },");
    assert_ne!(recalibrated, told);
    std::fs::write(&place, recalibrated).unwrap();
    let (code, text, said) = run(&["replay", &path, "--installation", &place]);
    assert_eq!(code, Some(0), "{said}");
    assert!(
        text.contains("on another installation") && text.contains("lift 1: delivery factor"),
        "{text}"
    );
    // The same file as it was: the same decisions.
    let (code, text, said) = run(&["replay", &path, "--installation", "one_lift", "--exact"]);
    assert_eq!(code, Some(0), "{said}{text}");
}

#[test]
fn a_log_that_cannot_be_replayed_says_so_and_is_not_exact() {
    let folder = folder("sparing");
    let path = log(&folder, "one_lift", "sparing");
    let (code, text, said) = run(&["replay", &path, "--exact"]);
    assert_eq!(code, Some(1), "{text}");
    assert!(text.contains("only as means over several steps"), "{text}");
    assert!(said.contains("could not be compared"), "{said}");
}

#[test]
fn records_that_are_missing_are_named_as_what_keeps_it_from_being_exact() {
    let folder = folder("gap");
    let path = log(&folder, "one_lift", "whole");
    let whole = std::fs::read(&path).unwrap();
    let ends: Vec<usize> = (0..whole.len()).filter(|at| whole[*at] == 0).collect();
    let cut = [&whole[..=ends[2000]], &whole[ends[2200] + 1..]].concat();
    std::fs::write(&path, cut).unwrap();
    let (code, text, _) = run(&["replay", &path]);
    assert_eq!(code, Some(0));
    assert!(
        text.contains("What keeps it from being exact:") && text.contains("missing"),
        "{text}"
    );
    // The same with damage instead.
    let mut harmed = whole;
    harmed[ends[2000] + 4] ^= 1;
    std::fs::write(&path, harmed).unwrap();
    let (_, text, _) = run(&["replay", &path]);
    assert!(text.contains("What keeps it from being exact:"), "{text}");
}

#[test]
fn settings_that_are_none_are_refused_with_those_there_are() {
    let folder = folder("refused");
    let path = log(&folder, "one_lift", "usual");
    for (arguments, reasons) in [
        (["--set", "trim=30"], ["there is no setting \"trim\"", "trim_s"]),
        (["--set", "trim_s"], ["give NAME=VALUE", "trim_s=30"]),
        (["--set", "trim_s=soon"], ["setting trim_s", "\"soon\" is no value"]),
        (["--set", "trim_s=-5"], ["cannot be run so", "trim"]),
        (
            ["--installation", "nowhere.toml"],
            ["nowhere.toml cannot be read", "Give the path"],
        ),
    ] {
        let (code, text, said) = run(&[&["replay", path.as_str()][..], &arguments].concat());
        assert_eq!(code, Some(2), "{arguments:?}: {text}{said}");
        for reason in reasons {
            assert!(said.contains(reason), "{arguments:?}: {said}");
        }
        assert!(text.is_empty(), "{text}");
    }
}
