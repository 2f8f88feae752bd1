//! `risertrim calibrate` and `risertrim curve` as they are called: from buckets to an installation that the others take.

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

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// A folder of one test alone, with the shipped place as a file of the person's own.
struct Desk {
    folder: PathBuf,
}

impl Desk {
    fn new(name: &str) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("calibrate").join(name);
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        let desk = Self { folder };
        let (_, place) = risertrim_sim::scenario::Scenario::shipped()
            .iter()
            .find(|(name, _)| *name == "default")
            .unwrap();
        desk.put("place.toml", place);
        desk
    }

    fn path(&self, name: &str) -> String {
        self.folder.join(name).to_str().unwrap().to_owned()
    }

    fn put(&self, name: &str, text: &str) -> String {
        std::fs::write(self.folder.join(name), text).unwrap();
        self.path(name)
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.folder.join(name)).unwrap()
    }

    fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(&self.folder).unwrap();
        let mut names: Vec<String> = entries
            .map(|entry| entry.unwrap().file_name().to_str().unwrap().to_owned())
            .collect();
        names.sort();
        names
    }
}

/// Fills of a bucket at the filter's lift; invented, somewhat less water than the plain riser gives.
const POINTS: &str = "\
air_l_min,litres,seconds,source_level_mm,note
20,10,12.4,1050,\"first of the day\"
20,10,12.9,1050,
40,20,11.9,1050,
70,20,8.3,1050,
110,40,13.9,1050,
160,40,12.7,1050,
";

/// Water by the `curve` command at an air, L/min, and the half width of its band as a share, where it has one.
fn water(place: &str, air_l_min: f64) -> (f64, Option<f64>) {
    let output = risertrim(&[
        "curve",
        place,
        "--lift",
        "filter",
        "--source-mm",
        "1050",
        "--receiver-mm",
        "0",
        "--json",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let tables: Value = serde_json::from_slice(&output.stdout).unwrap();
    let rows = tables[0]["rows"].as_array().unwrap().clone();
    let number = |row: &Value, key: &str| row[key].as_f64();
    let at = rows
        .windows(2)
        .find(|pair| number(&pair[1], "air_l_min").unwrap() >= air_l_min)
        .unwrap();
    let air = |row: &Value| number(row, "air_l_min").unwrap();
    let share = (air_l_min - air(&at[0])) / (air(&at[1]) - air(&at[0]));
    let between = |key: &str| Some(number(&at[0], key)? * (1.0 - share) + number(&at[1], key)? * share);
    let water = between("water_l_min").unwrap();
    let half = between("high_l_min")
        .zip(between("low_l_min"))
        .map(|(high, low)| 0.5 * (high - low) / water);
    (water, half)
}

#[test]
fn the_calibrated_installation_is_written_and_every_other_command_takes_it() {
    let desk = Desk::new("written");
    let (place, points, calibrated) = (
        desk.path("place.toml"),
        desk.put("points.csv", POINTS),
        desk.path("calibrated.toml"),
    );
    let output = risertrim(&[
        "calibrate",
        &points,
        "--installation",
        &place,
        "--lift",
        "filter",
        "--write",
        &calibrated,
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    assert!(
        text.contains("entrance loss") && text.contains("slip") && text.contains("calibrated.toml"),
        "{text}"
    );
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    // The told place stays as it was; the new one differs by the one value and is sound.
    let (before, after) = (desk.read("place.toml"), desk.read("calibrated.toml"));
    assert!(!before.contains("calibration ="));
    let added: Vec<&str> = after
        .lines()
        .filter(|line| !before.lines().any(|old| old == *line))
        .collect();
    assert!(added.len() == 1 && added[0].starts_with("calibration = "), "{added:?}");
    let named = risertrim_sim::scenario::parse_installation("calibrated.toml", &after).unwrap();
    let fitted: Vec<bool> = named
        .told
        .lifts
        .iter()
        .map(|lift| lift.calibration.fit.is_some())
        .collect();
    assert_eq!(fitted, [false, true, false]);
    // The curve goes by the buckets now: 110 L/min of air gave 40 L in 13.9 s; and it carries a band.
    let told = 60.0 * 40.0 / 13.9;
    let ((plain, no_band), (water_now, band)) = (water(&place, 110.0), water(&calibrated, 110.0));
    assert!(plain > 1.1 * told, "the points must tell something new: {plain}");
    assert!((water_now / told - 1.0).abs() < 0.03, "{water_now} {told}");
    assert!(no_band.is_none() && band.is_some_and(|half| half < 0.06), "{band:?}");
    let run = risertrim(&["simulate", &calibrated, "--hours", "1", "--json"]);
    assert!(
        run.status.code() == Some(0) && out(&run).starts_with('{'),
        "{}",
        err(&run)
    );
    // Again, into the same file: the value is replaced, not added.
    let again = risertrim(&[
        "calibrate",
        &points,
        "-i",
        &calibrated,
        "--lift",
        "filter",
        "-w",
        &calibrated,
    ]);
    assert_eq!(again.status.code(), Some(0), "{}", err(&again));
    assert_eq!(desk.read("calibrated.toml"), after);
}

#[test]
fn json_holds_multipliers_and_points_and_without_write_nothing_is_written() {
    let desk = Desk::new("json");
    let (place, points) = (desk.path("place.toml"), desk.put("points.csv", POINTS));
    let output = risertrim(&[
        "calibrate",
        &points,
        "--installation",
        &place,
        "--lift",
        "filter",
        "--json",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let reports: Value = serde_json::from_slice(&output.stdout).unwrap();
    let report = &reports[0];
    assert_eq!(report["lift"], "filter");
    assert!(
        report["losses"].as_f64().unwrap() > 1.0,
        "less water than a plain pipe end would give: {report}"
    );
    assert_eq!(
        report["points"].as_array().unwrap().len(),
        5,
        "two fills at one air are one point"
    );
    assert_eq!(report["covariance"].as_array().unwrap().len(), 6);
    assert_eq!(desk.files(), ["place.toml", "points.csv"]);
}

#[test]
fn a_faulty_points_file_ends_with_code_two_names_line_field_and_value_and_writes_nothing() {
    for (name, points, words) in [
        (
            "negative",
            POINTS.replace("70,20,8.3", "70,-20,8.3"),
            vec!["line 5", "litres = -20", "0 and more"],
        ),
        (
            "range",
            POINTS.replace("110,40,13.9", "110,40,0.1"),
            vec!["line 6", "seconds = 0.1", "0.5 to 86400"],
        ),
        (
            "word",
            POINTS.replace("160,40", "lots,40"),
            vec!["line 7", "air_l_min = lots", "not a number"],
        ),
        (
            "two",
            POINTS.replace("70,20,8.3", "70,-20,8.3").replace("160,40", "lots,40"),
            vec!["2 mistakes", "line 5", "line 7"],
        ),
        (
            "column",
            POINTS.replace("seconds", "minutes"),
            vec!["line 1", "minutes", "seconds"],
        ),
        (
            "unit",
            "air_l_min,water_l_min,source_level_mm\n20,0.8,1050\n40,1.7,1050\n110,2.9,1050\n".to_owned(),
            vec!["water", "L/s", "multiply by 60"],
        ),
    ] {
        let desk = Desk::new(name);
        let (place, file) = (desk.path("place.toml"), desk.put("points.csv", &points));
        let (written, html) = (desk.path("calibrated.toml"), desk.path("curves.html"));
        let before = desk.read("place.toml");
        for target in [&written, &place] {
            let output = risertrim(&[
                "calibrate",
                &file,
                "-i",
                &place,
                "--lift",
                "filter",
                "--write",
                target,
                "--html",
                &html,
            ]);
            assert_eq!(output.status.code(), Some(2), "{name}: {}", err(&output));
            assert!(output.stdout.is_empty(), "{name}");
            for word in words.iter().chain(&["points.csv"]) {
                assert!(
                    err(&output).contains(word),
                    "{name}: {word} is missing in:\n{}",
                    err(&output)
                );
            }
        }
        assert_eq!(desk.files(), ["place.toml", "points.csv"], "{name}");
        assert_eq!(desk.read("place.toml"), before, "{name}");
    }
}

#[test]
fn a_lift_or_a_file_that_is_not_there_ends_with_code_two_and_names_what_there_is() {
    let desk = Desk::new("not_there");
    let (place, points) = (desk.path("place.toml"), desk.put("points.csv", POINTS));
    let nowhere = desk.path("nowhere.csv");
    for (arguments, words) in [
        (
            vec!["calibrate", &points, "-i", &place, "--lift", "fliter"],
            vec!["fliter", "fry, filter, beds"],
        ),
        (vec!["calibrate", &points, "-i", &place], vec!["lift"]),
        (vec!["calibrate", &nowhere, "-i", &place], vec!["nowhere.csv"]),
        (
            vec!["calibrate", &points, "-i", "no-such-place"],
            vec!["no-such-place", "default"],
        ),
        (
            vec!["curve", &place, "--lift", "fliter"],
            vec!["fliter", "fry, filter, beds"],
        ),
        (vec!["curve", &place, "--source-mm", "-3"], vec!["-3"]),
        (vec!["curve", &place, "--svg", &nowhere], vec!["--svg", "--lift"]),
        (vec!["curve", &place, "--points", &nowhere], vec!["nowhere.csv"]),
    ] {
        let output = risertrim(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", err(&output));
        assert!(output.stdout.is_empty(), "{arguments:?}");
        for word in words {
            assert!(
                err(&output).contains(word),
                "{arguments:?}: {word} is missing in:\n{}",
                err(&output)
            );
        }
    }
    assert_eq!(desk.files(), ["place.toml", "points.csv"]);
}

#[test]
fn a_bad_calibration_in_an_installation_is_told_with_its_range() {
    let desk = Desk::new("bad_calibration");
    let text = desk.read("place.toml").replacen(
        "target_l_min = 120",
        "target_l_min = 120\ncalibration = { losses = 150 }",
        1,
    );
    let place = desk.put("bad.toml", &text);
    let output = risertrim(&["curve", &place]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        err(&output).contains("losses") && err(&output).contains("150"),
        "{}",
        err(&output)
    );
    assert!(
        err(&output).contains("0.02") && err(&output).contains("100"),
        "{}",
        err(&output)
    );
}

#[test]
fn the_curve_is_drawn_and_tabled_with_its_points() {
    let desk = Desk::new("drawn");
    let (place, points) = (desk.path("place.toml"), desk.put("points.csv", POINTS));
    let [svg, html, csv] = ["filter.svg", "filter.html", "filter.csv"].map(|name| desk.path(name));
    let output = risertrim(&[
        "curve", &place, "--lift", "filter", "--points", &points, "--svg", &svg, "--html", &html, "--csv", &csv,
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    for word in ["onset", "best efficiency", "peak", "measured"] {
        assert!(text.contains(word), "{word} is missing:\n{text}");
    }
    assert_eq!(desk.read("filter.svg").matches("<circle").count(), 5);
    assert!(desk.read("filter.html").contains("<svg") && !desk.read("filter.html").contains("http://cdn"));
    let airs: Vec<f64> = desk
        .read("filter.csv")
        .lines()
        .skip(1)
        .map(|l| l.split(',').next().unwrap().parse().unwrap())
        .collect();
    assert!(airs.len() > 80 && airs.windows(2).all(|pair| pair[0] <= pair[1]));
}
