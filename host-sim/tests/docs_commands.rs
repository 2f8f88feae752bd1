//! The pages that people follow: every command of the tutorial runs in an empty folder, every key that the reader of place files
//! knows is explained, and what one page calls a key the reader knows.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

const TUTORIAL: &str = include_str!("../docs/tutorial.md");
const PLACE_FILE: &str = include_str!("../docs/place-file.md");

/// Words in the reader's source that look like keys and are none: parts and units for messages, names of scenarios and of the
/// controller's own fields, values that keys take (those are explained with their keys).
const NO_KEYS: [&str; 55] = [
    "area",
    "away",
    "back",
    "bar",
    "cm",
    "cm2",
    "crest_m",
    "curve",
    "default",
    "delivery_shock",
    "delivery_spread",
    "delivery_walk",
    "fails",
    "floor_m",
    "gauge_noise_pa",
    "h",
    "here",
    "inches",
    "km",
    "least_air_m3_s",
    "least_opening",
    "level_deadband_m",
    "linear",
    "m",
    "m3",
    "mbar",
    "mended",
    "micrometres",
    "min",
    "missing",
    "mm",
    "mm2",
    "most_opening",
    "ms",
    "one_lift",
    "outlets",
    "peak_share",
    "period_ms",
    "preset_opening",
    "radians",
    "ramp_per_s",
    "rim_m",
    "runs",
    "s",
    "shared_tank",
    "starts",
    "stop_every_s",
    "stop_for_s",
    "stops",
    "stuck",
    "tight_blower",
    "unseen_flow_m3_s",
    "valve_deadband",
    "l",
    "kpa",
];

/// The commands of a page: lines set in by four spaces that call the program.
fn commands(page: &str) -> Vec<Vec<String>> {
    let lines = page.lines().filter_map(|line| line.strip_prefix("    risertrim "));
    lines.map(words).collect()
}

/// Words of a command line, double quotes holding some together.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().unwrap_or_else(|| unreachable!()).push(letter),
        }
    }
    words
}

#[test]
fn every_command_of_the_tutorial_runs_in_an_empty_folder() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("tutorial");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let points = TUTORIAL
        .split_once("```csv\n")
        .and_then(|(_, rest)| rest.split_once("```"))
        .unwrap()
        .0;
    std::fs::write(folder.join("points.csv"), points).unwrap();
    let commands = commands(TUTORIAL);
    assert!(commands.len() >= 12, "{} commands found", commands.len());
    for arguments in commands {
        let run = Command::new(env!("CARGO_BIN_EXE_risertrim"))
            .current_dir(&folder)
            .args(&arguments)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&run.stderr);
        assert_eq!(run.status.code(), Some(0), "{arguments:?}: {said}");
        assert!(!run.stdout.is_empty(), "{arguments:?} says nothing");
    }
    for made in ["farm.toml", "day.html", "day.rtlog", "sweep.csv", "compared.html"] {
        assert!(folder.join(made).exists(), "{made} was not written");
    }
}

/// Everything in the reader's source that looks like a key, tests left out, and what people write who do not know the keys.
fn keys_of_the_reader() -> BTreeSet<String> {
    let mut keys = BTreeSet::new();
    let mut folders = vec![PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/src/scenario"))];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().and_then(|name| name.to_str()).unwrap_or("").to_owned();
            if path.is_dir() && name != "tests" {
                folders.push(path);
            } else if name.ends_with(".rs") && name != "tests.rs" && name != "slip.rs" {
                let text = std::fs::read_to_string(&path).unwrap();
                let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or("");
                let says_no_key = |line: &str| line.starts_with("//") || line.starts_with("#[cfg(");
                for line in code.lines().filter(|line| !says_no_key(line.trim_start())) {
                    keys.extend(
                        line.split('"')
                            .skip(1)
                            .step_by(2)
                            .filter(|word| is_key(word))
                            .map(str::to_owned),
                    );
                }
            }
        }
    }
    keys
}

fn is_key(word: &str) -> bool {
    word.starts_with(|first: char| first.is_ascii_lowercase())
        && !word.ends_with('_')
        && word
            .chars()
            .all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '_')
}

/// Words in backticks of the page, also those inside braces and brackets.
fn explained() -> BTreeSet<String> {
    let code = PLACE_FILE.split('`').skip(1).step_by(2);
    let words = code.flat_map(|code| code.split(|letter: char| !(letter.is_ascii_alphanumeric() || letter == '_')));
    words.filter(|word| is_key(word)).map(str::to_owned).collect()
}

#[test]
fn every_key_of_a_place_file_is_explained() {
    let explained = explained();
    let keys = keys_of_the_reader();
    assert!(keys.len() > 150, "{} keys found", keys.len());
    let missing: Vec<&String> = keys
        .iter()
        .filter(|key| !NO_KEYS.contains(&key.as_str()) && !explained.contains(*key))
        .collect();
    assert!(missing.is_empty(), "docs/place-file.md does not explain: {missing:?}");
}

#[test]
fn the_page_explains_no_key_that_the_reader_does_not_know() {
    let keys = keys_of_the_reader();
    let unknown: Vec<String> = explained()
        .into_iter()
        .filter(|word| word.contains('_') && !keys.contains(word))
        .collect();
    assert!(unknown.is_empty(), "the reader does not know: {unknown:?}");
}

#[test]
fn links_between_the_pages_lead_somewhere() {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/docs"));
    for page in [TUTORIAL, PLACE_FILE] {
        for link in page.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            assert!(folder.join(link).exists(), "{link} is not there");
        }
    }
}
