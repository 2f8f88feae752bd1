//! `risertrim mount` and `risertrim aerate` as they are called.

use risertrim_sim::scenario::Scenario;
use std::process::{Command, Output};

fn risertrim(arguments: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments.split_whitespace())
        .output()
        .expect("the program runs")
}

/// What a command that worked printed.
fn printed(output: &Output) -> String {
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{error}");
    String::from_utf8(output.stdout.clone()).expect("text")
}

fn scratch(name: &str) -> std::path::PathBuf {
    std::env::temp_dir().join(format!("risertrim-mount-{}-{name}", std::process::id()))
}

#[test]
fn a_lift_of_an_installation_gets_its_sheet_too() {
    let path = scratch("beds.svg");
    let output = risertrim(&format!("mount default --lift beds --sheet {}", path.display()));
    let text = printed(&output);
    let svg = std::fs::read_to_string(&path).expect("the drawing");
    std::fs::remove_file(&path).expect("clean up");
    assert!(svg.starts_with("<svg") && svg.contains("850 deep"));
    assert!(text.contains("OD 110") && text.contains("(common practice)"), "{text}");
}

#[test]
fn the_air_floor_for_the_fish_is_written_and_all_else_stays() {
    let path = scratch("floor.toml");
    let fish = "--fish-kg 8 --feed-kg-day 0.06 --oxygen-mg-l 5";
    let output = risertrim(&format!("aerate default {fish} --write {}", path.display()));
    let text = printed(&output);
    let written = std::fs::read_to_string(&path).expect("the file");
    std::fs::remove_file(&path).expect("clean up");
    let was = include_str!("../scenarios/default.toml");
    let changed: Vec<(&str, &str)> = was.lines().zip(written.lines()).filter(|(a, b)| a != b).collect();
    // Only the fry tank has fish, and one lift fills it.
    assert_eq!(changed.len(), 1, "{changed:?}");
    let floor: f64 = changed[0]
        .1
        .strip_prefix("air_floor_l_min = ")
        .expect("the key")
        .parse()
        .expect("a number");
    // 0.06 kg x 0.5 x 1.4 / 24 h is 1.75 g/h; the unfed need 8 kg x 0.2 g/kg h x 1.07^2 x 1.4 = 2.56 g/h, which is more. A litre a
    // minute brings 16.5 g/h of oxygen, of which 2 % a metre x 0.8 x about 0.4 of saturation dissolves: near 0.1 g/h.
    assert!((12.0..60.0).contains(&floor), "{floor}\n{text}");
    assert!(Scenario::parse("floor.toml", &written).is_ok());
    assert!(text.contains("oxygen meter"), "{text}");
}

#[test]
fn what_cannot_be_drawn_or_written_is_told() {
    let path = scratch("never.toml");
    let to = path.display();
    for (arguments, words) in [
        (
            format!("mount default --sheet {to}"),
            vec!["--lift", "fry, filter, beds"],
        ),
        (
            format!("mount default --lift cod --sheet {to}"),
            vec!["no lift \"cod\"", "fry, filter, beds"],
        ),
        (
            format!("aerate default --fish-kg 8 --feed-kg-day 0.1 --oxygen-mg-l 14 --write {to}"),
            vec!["14 mg/L", "allowed: below"],
        ),
        (
            format!("aerate default --fish-kg 90000 --feed-kg-day 900 --write {to}"),
            vec!["air_floor_l_min", "Nothing was written", "--other-oxygen-g-h"],
        ),
        (
            format!("aerate default --write {to}"),
            vec!["--fish-kg", "--feed-kg-day"],
        ),
    ] {
        let output = risertrim(&arguments);
        let error = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{arguments}: {error}");
        for word in words {
            assert!(error.contains(word), "{arguments}: {word} is missing in: {error}");
        }
        assert!(!path.exists(), "{arguments}");
    }
}

#[test]
fn a_floor_is_lowered_only_where_that_is_asked_for_and_another_mass_of_fish_is_told() {
    let path = scratch("lower.toml");
    let written = |more: &str| {
        let output = risertrim(&format!(
            "aerate shared_tank --fish-kg 1 --feed-kg-day 0.01 --write {} {more}",
            path.display()
        ));
        let text = printed(&output);
        let file = std::fs::read_to_string(&path).expect("the file");
        std::fs::remove_file(&path).expect("clean up");
        let named = Scenario::parse("lower.toml", &file).expect("sound");
        let floors: Vec<f32> = named.told.lifts.iter().map(|lift| lift.air_floor.l_min()).collect();
        (floors, text.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let before = Scenario::by_name_or_path("shared_tank").expect("shipped");
    let (kept, text) = written("");
    for (kept, lift) in kept.iter().zip(&before.told.lifts) {
        assert!(*kept > 0.999 * lift.air_floor.l_min(), "{text}");
    }
    assert!(text.contains("lift large keeps its air floor of 12.0 L/min"), "{text}");
    // The file tells 30 kg.
    assert!(text.contains("--fish-kg 1 is far from the 30 kg"), "{text}");
    let (lower, text) = written("--lower-floors");
    assert!(lower[0] < 12.0 && text.contains("goes down from 12.0"), "{text}");
    let output = risertrim("aerate shared_tank --fish-kg 25 --feed-kg-day 0.3");
    assert!(!printed(&output).contains("is far from"));
}
