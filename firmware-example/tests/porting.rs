//! What people port it by: the README's example is the one that compiles, and PORTING.md names what is there.

use risertrim_firmware as _;
use std::path::Path;

const README: &str = include_str!("../../README.md");
const LIBRARY: &str = include_str!("../src/lib.rs");
const PORTING: &str = include_str!("../PORTING.md");

/// The first block of Rust in a text.
fn example(text: &str, fence: &str) -> String {
    let behind = text.split_once(fence).expect("an example begins").1;
    behind.split_once("```").expect("an example ends").0.to_owned()
}

#[test]
fn the_readmes_example_is_the_documentation_test_of_the_library_and_has_forty_lines() {
    let comments = LIBRARY.lines().map_while(|line| line.strip_prefix("//!"));
    let lines: String = comments
        .map(|line| line.strip_prefix(' ').unwrap_or(line).to_owned() + "\n")
        .collect();
    let compiled = example(&lines, "```\n");
    assert_eq!(example(README, "```rust\n"), compiled);
    let lines = compiled.lines().filter(|line| !line.trim().is_empty()).count();
    assert!(lines <= 40, "{lines} lines");
}

#[test]
fn every_driver_command_option_and_file_that_the_page_names_exists() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let core: String = ["core/src/drive/mod.rs", "host-sim/src/cli/board/mod.rs"]
        .map(|file| std::fs::read_to_string(root.join("..").join(file)).expect("it is there"))
        .concat();
    let application = std::fs::read_to_string(root.join("src/board.rs")).expect("it is there");
    let mut named = 0;
    for word in PORTING.split('`').skip(1).step_by(2) {
        if word.starts_with("boards/") && word != "boards/mine/main.rs" && word != "boards/mine/memory.x" {
            assert!(root.join(word).exists(), "{word}");
            named += 1;
        } else if word.starts_with("scripts/") || word.starts_with("tests/") {
            let file = word.split(' ').next().unwrap_or_default();
            assert!(root.join("..").join(file).exists(), "{file}");
            named += 1;
        } else if application.contains(&format!("fn {word}(")) {
            named += 1;
        }
    }
    for driver in [
        "Proportional",
        "Solenoid",
        "Stepper",
        "Servo",
        "RelayBank",
        "SpeedBlower",
        "CurrentLoop",
        "Ratiometric",
        "from_fn",
        "AlarmContact",
        "Heartbeat",
    ] {
        assert!(
            core.contains(driver) && PORTING.contains(&format!("`{driver}`")),
            "{driver}"
        );
    }
    for option in ["port", "hours", "log", "events", "run-again", "send", "watch"] {
        assert!(PORTING.contains(&format!("--{option}")), "{option}");
        let field = option.replace('-', "_");
        assert!(core.contains(&format!("\n    {field}: ")), "{option}");
    }
    assert!(named >= 15, "{named} names found");
}
