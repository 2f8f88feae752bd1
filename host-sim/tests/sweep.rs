//! A sweep stopped and taken up again, cut into parts and merged says the same as one run through; bad files are refused by name.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn sweep(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .current_dir(folder)
        .args(["sweep", "one_lift", "--hours", "1", "--quiet"])
        .args(arguments)
        .output()
        .unwrap_or_else(|error| panic!("{error}"))
}

fn done(output: &Output) -> String {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn refused(output: &Output, words: &str) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains(words), "\"{words}\" is not in: {said}");
}

struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("risertrim-sweep-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).unwrap_or_else(|error| panic!("{error}"));
        Self(path)
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.0.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.0.join(name), text).unwrap_or_else(|error| panic!("{name}: {error}"));
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

#[test]
fn stopped_and_taken_up_again_it_says_the_same() {
    let folder = Folder::new("resume");
    let whole = done(&sweep(&folder.0, &["--seeds", "6", "--out", "whole.csv"]));
    let text = folder.read("whole.csv");
    // The first two rows are there, the third was cut off in the middle of a number.
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 7);
    folder.write(
        "cut.csv",
        &format!("{}\n{}\n{}\n{}", lines[0], lines[2], lines[1], &lines[3][..40]),
    );
    let again = done(&sweep(&folder.0, &["--seeds", "6", "--out", "cut.csv"]));
    assert_eq!(folder.read("cut.csv"), text);
    assert_eq!(again, whole);
}

#[test]
fn parts_merged_are_the_whole() {
    let folder = Folder::new("parts");
    done(&sweep(&folder.0, &["--seeds", "5", "--out", "whole.csv"]));
    done(&sweep(&folder.0, &["--seeds", "5", "--out", "a.csv", "--shard", "1/2"]));
    done(&sweep(&folder.0, &["--seeds", "5", "--out", "b.csv", "--shard", "2/2"]));
    done(&sweep(
        &folder.0,
        &[
            "--merge", "b.csv", "--merge", "a.csv", "--merge", "a.csv", "--out", "all.csv",
        ],
    ));
    assert_eq!(folder.read("all.csv"), folder.read("whole.csv"));
}

#[test]
fn the_worst_case_is_named_with_the_seed_that_gives_it_again() {
    let folder = Folder::new("worst");
    let json = done(&sweep(&folder.0, &["--seeds", "4", "--json"]));
    let summary: serde_json::Value = serde_json::from_str(&json).unwrap_or_else(|error| panic!("{error}"));
    let worst = &summary["spreads"][0];
    let run = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args([
            "simulate",
            "one_lift",
            "--hours",
            "1",
            "--json",
            "--seed",
            &worst["worst_seed"].to_string(),
        ])
        .output()
        .unwrap_or_else(|error| panic!("{error}"));
    let outcome: serde_json::Value = serde_json::from_slice(&run.stdout).unwrap_or_else(|error| panic!("{error}"));
    let number = |name: &str| outcome["lifts"][0][name].as_f64().unwrap_or(f64::NAN);
    let mean = 100.0 * (number("delivered_mean_l_min") / number("target_l_min") - 1.0);
    assert!((worst["worst"].as_f64().unwrap_or(f64::NAN) - mean.abs()).abs() < 1e-9);
}

/// With one lift whose flow is read through its outlet, what is not known of the outlet decides the mean error.
#[test]
fn the_outlet_matters_most_for_the_mean() {
    let folder = Folder::new("matters");
    let json = done(&sweep(&folder.0, &["--seeds", "24", "--json"]));
    let summary: serde_json::Value = serde_json::from_str(&json).unwrap_or_else(|error| panic!("{error}"));
    let first = &summary["matters"][0];
    assert_eq!(first["kind"], "outlets");
    // More through the outlet than told: more water than believed, so more is delivered.
    assert!(
        first["with_mean_error"].as_f64().is_some_and(|rho| rho > 0.9),
        "{first}"
    );
}

#[test]
fn every_bad_file_is_refused_with_its_name_and_what_to_do() {
    let folder = Folder::new("bad");
    done(&sweep(&folder.0, &["--seeds", "2", "--out", "good.csv"]));
    let good = folder.read("good.csv");
    let mut lines: Vec<String> = good.lines().map(str::to_owned).collect();
    folder.write("columns.csv", "a,b\n1,2\n");
    refused(
        &sweep(&folder.0, &["--seeds", "2", "--out", "columns.csv"]),
        "columns.csv has other columns",
    );
    folder.write("ragged.csv", &format!("{}\n1,2\n", lines[0]));
    refused(
        &sweep(&folder.0, &["--seeds", "2", "--out", "ragged.csv"]),
        "ragged.csv cannot be read as CSV",
    );
    let other = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .current_dir(&folder.0)
        .args([
            "sweep", "one_lift", "--hours", "0.5", "--seeds", "2", "--out", "good.csv",
        ])
        .output()
        .unwrap_or_else(|error| panic!("{error}"));
    refused(&other, "another place, day or length");
    let mut cells: Vec<&str> = lines[1].split(',').collect();
    cells[3] = "much";
    let broken = cells.join(",");
    folder.write("word.csv", &format!("{}\n{broken}\n", lines[0]));
    refused(
        &sweep(&folder.0, &["--seeds", "2", "--out", "word.csv"]),
        "line 2: worst_mean_percent is no number",
    );
    cells[3] = "0.5";
    lines[1] = cells.join(",");
    folder.write("twice.csv", &(lines.join("\n") + "\n"));
    refused(
        &sweep(&folder.0, &["--merge", "good.csv", "--merge", "twice.csv"]),
        "seed 1 is there twice",
    );
    refused(&sweep(&folder.0, &["--merge", "none.csv"]), "none.csv");
    refused(&sweep(&folder.0, &["--shard", "3/2"]), "give I/N");
}
