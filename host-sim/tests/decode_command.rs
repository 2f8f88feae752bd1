//! The command `decode` as people and programs meet it. What it reads is written by `simulate --log`; what is counted here is counted in
//! the bytes of the log (zeros end frames), or follows from what the scenario does.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments)
        .output()
        .unwrap()
}

/// Runs it, and it must go well.
fn well(arguments: &[&str]) -> String {
    let output = run(arguments);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {said}");
    String::from_utf8(output.stdout).unwrap()
}

/// An empty folder of one test alone.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("decode-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// An hour of one lift: a level sensor silent for six minutes, the board off for three.
fn log() -> &'static [u8] {
    static LOG: OnceLock<Vec<u8>> = OnceLock::new();
    LOG.get_or_init(|| {
        let folder = folder("written");
        let place = folder.join("place.toml");
        let told = include_str!("../scenarios/one_lift.toml");
        let events = r#"
[[event]]
at_h = 0.3
tank = "trout tank"
sensor = "missing"

[[event]]
at_h = 0.4
tank = "trout tank"
sensor = "mended"

[[event]]
at_h = 0.6
board = "stops"

[[event]]
at_h = 0.65
board = "starts"
"#;
        std::fs::write(&place, told.to_owned() + events).unwrap();
        let log = folder.join("hour.rtlog").display().to_string();
        well(&["simulate", &place.display().to_string(), "--hours", "1", "--log", &log]);
        std::fs::read(log).unwrap()
    })
}

/// Writes bytes as a log of one test, and gives its path.
fn written(folder: &Path, bytes: &[u8]) -> String {
    let path = folder.join("board.rtlog");
    std::fs::write(&path, bytes).unwrap();
    path.display().to_string()
}

/// Where each frame of a log begins and ends, its zero included.
fn frames(log: &[u8]) -> Vec<(usize, usize)> {
    let mut from = 0;
    let mut frames = Vec::new();
    for (at, byte) in log.iter().enumerate() {
        if *byte == 0 {
            if at > from {
                frames.push((from, at + 1));
            }
            from = at + 1;
        }
    }
    frames
}

fn summary(path: &str) -> Value {
    serde_json::from_str(&well(&["decode", path, "--json"])).unwrap()
}

fn lines(path: &str) -> Vec<Value> {
    let text = well(&["decode", path, "--json-lines"]);
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn the_summary_tells_span_restarts_alarms_and_that_nothing_is_damaged() {
    let folder = folder("summary");
    let path = written(&folder, log());
    let told = summary(&path);
    assert_eq!(told["bytes"], log().len());
    assert_eq!(told["records"], frames(log()).len());
    assert_eq!(told["starts"], 2, "the board was off once");
    assert_eq!(
        (&told["damage_count"], &told["missing_records"]),
        (&0.into(), &0.into())
    );
    // An hour less three minutes without power, a step a second.
    let readings = told["readings"].as_u64().unwrap();
    assert!((3415..=3425).contains(&readings), "{readings}");
    let missing = told["tanks"][1]["no_reading"].as_u64().unwrap();
    assert!(
        (355..=365).contains(&missing),
        "{missing} readings missing in six minutes"
    );
    let alarms = told["alarms"].as_array().unwrap();
    let silent = alarms.iter().find(|alarm| alarm["subject"] == "tank 2").unwrap();
    let stood_s = silent["stood_s"].as_f64().unwrap();
    assert!((250.0..370.0).contains(&stood_s), "{silent}");
    assert_eq!(silent["stands"], false);

    let text = well(&["decode", &path]);
    for said in [
        "Starts: 2",
        "Damaged frames: 0",
        "tank 2",
        "kB an hour",
        silent["what"].as_str().unwrap(),
        "readings missing",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    // By standard input too.
    let mut child = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["decode", "-"])
        .stdin(std::fs::File::open(&path).unwrap())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut piped = String::new();
    std::io::Read::read_to_string(&mut child.stdout.take().unwrap(), &mut piped).unwrap();
    assert!(child.wait().unwrap().success());
    assert_eq!(piped, text);
}

#[test]
fn a_flipped_bit_costs_one_frame_and_is_told_with_its_offset() {
    let folder = folder("flipped");
    let all = frames(log());
    let (from, to) = all[all.len() / 2];
    let mut harmed = log().to_vec();
    // Not into a zero, which would join two frames.
    let at = (from + 3..to).find(|at| harmed[*at] != 0x10).unwrap();
    harmed[at] ^= 0x10;
    let path = written(&folder, &harmed);
    let told = summary(&path);
    assert_eq!(told["damage_count"], 1, "{told}");
    assert_eq!(told["damage"][0]["byte"], from);
    assert_eq!(told["records"], all.len() - 1);
    assert_eq!(told["missing_records"], 1);
    let text = well(&["decode", &path]);
    assert!(
        text.contains("Damaged frames: 1") && text.contains(&format!("byte {from}: ")),
        "{text}"
    );
    // In the lines it stands where it happened.
    let lines = lines(&path);
    let damaged = lines.iter().find(|line| line.get("damaged").is_some()).unwrap();
    assert_eq!(damaged["byte"], from);
}

#[test]
fn a_piece_cut_out_is_a_gap_with_the_records_that_are_missing() {
    let folder = folder("cut");
    let all = frames(log());
    let (first, last) = (all.len() / 4, all.len() / 4 + 100);
    let cut = [&log()[..all[first].0], &log()[all[last].0..]].concat();
    let told = summary(&written(&folder, &cut));
    assert_eq!(told["missing_records"], 100);
    assert_eq!(told["damage_count"], 0);
    let gaps = told["gaps"].as_array().unwrap();
    let missing: u64 = gaps.iter().map(|gap| gap["records"].as_u64().unwrap()).sum();
    assert_eq!(missing, 100);
    assert!(
        gaps.iter().any(|gap| gap["silent_s"].as_f64().unwrap() > 60.0),
        "{gaps:?}"
    );

    // Torn in the middle of its last frame.
    let torn = &log()[..all[last].1 - 5];
    let told = summary(&written(&folder, torn));
    assert_eq!(told["damage_count"], 1);
    assert_eq!(told["damage"][0]["byte"], all[last].0);
    assert_eq!(told["records"], last);
}

#[test]
fn json_lines_are_one_object_a_frame_with_units_in_their_names() {
    let folder = folder("lines");
    let path = written(&folder, log());
    let lines = lines(&path);
    let all = frames(log());
    assert_eq!(lines.len(), all.len());
    for (line, (from, _)) in lines.iter().zip(&all) {
        assert_eq!(line["byte"], *from);
    }
    let mut before = 0.0;
    for line in &lines {
        let time = line["time_s"].as_f64().unwrap();
        assert!(time >= before, "{line}");
        before = time;
    }
    let header = &lines[0]["record"]["Header"];
    assert!(
        header["firmware"].as_str().unwrap().starts_with("risertrim "),
        "{header}"
    );
    let step = lines.iter().find_map(|line| line["record"].get("Step")).unwrap();
    let lift = step["lifts"][0].as_object().unwrap();
    assert!(
        lift.contains_key("air_m3_s") && lift.contains_key("target_m3_s"),
        "{lift:?}"
    );
    // A reader that goes early (`| head`) is no failure.
    let mut child = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["decode", &path, "--json-lines"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let done = child.wait_with_output().unwrap();
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
}

#[test]
fn csv_tables_hold_every_reading_and_step_under_names_with_units() {
    let folder = folder("csv");
    let path = written(&folder, log());
    let tables = folder.join("tables");
    well(&["decode", &path, "--csv", &tables.display().to_string()]);
    let told = summary(&path);
    let count = |what: &str| told[what].as_u64().unwrap() as usize;
    let table = |name: &str| -> (Vec<String>, Vec<csv::StringRecord>) {
        let mut reader = csv::Reader::from_path(tables.join(name)).unwrap();
        let head = reader.headers().unwrap().iter().map(str::to_owned).collect();
        (head, reader.records().map(Result::unwrap).collect())
    };
    // Two tanks and the gauge a reading, one lift and two tanks a step.
    let (_, readings) = table("readings.csv");
    assert_eq!(readings.len(), 3 * count("readings"));
    let (head, lifts) = table("lifts.csv");
    assert_eq!(lifts.len(), count("steps"));
    assert_eq!(table("tanks.csv").1.len(), 2 * count("steps"));
    assert_eq!(table("air.csv").1.len(), count("steps"));
    let column = |name: &str| head.iter().position(|known| known == name).unwrap();
    for unit in ["target_l_min", "air_l_min", "commanded_percent", "time_s"] {
        column(unit);
    }
    // The target of the place file.
    let target: f64 = lifts.last().unwrap()[column("target_l_min")].parse().unwrap();
    assert!((target - 75.0).abs() < 0.01, "{target}");
    // The same number as in the lines.
    let first = lines(&path)
        .into_iter()
        .find(|line| line["record"].get("Readings").is_some())
        .unwrap();
    let raw = first["record"]["Readings"]["levels"][0]["Number"].as_f64().unwrap();
    assert!((readings[0][4].parse::<f64>().unwrap() - raw).abs() < 1e-6);
    let (_, events) = table("events.csv");
    assert!(events.iter().any(|event| event[3].starts_with("start of risertrim")));
    let (_, alarms) = table("alarms.csv");
    assert!(
        alarms.iter().any(|alarm| &alarm[2] == "on" && &alarm[4] == "tank 2"),
        "{alarms:?}"
    );
}

#[test]
fn what_is_no_log_is_refused_with_what_to_do() {
    let folder = folder("refused");
    let path = |name: &str| folder.join(name).display().to_string();
    std::fs::write(path("empty"), "").unwrap();
    std::fs::write(path("levels.csv"), "time,level\n0,0.7\n").unwrap();
    std::fs::write(path("zeros.bin"), vec![0; 4096]).unwrap();
    std::fs::write(path("picture.png"), b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\x01\0").unwrap();
    std::fs::create_dir(path("logs")).unwrap();
    std::fs::create_dir(path("none")).unwrap();
    std::fs::write(folder.join("logs/monday.rtlog"), log()).unwrap();
    // The same log as a version to come would mark it: the number behind the magic of its header.
    let newer = newer(log());
    std::fs::write(path("newer.rtlog"), newer).unwrap();
    for command in ["decode", "replay", "tune"] {
        for (file, reasons) in [
            ("empty", ["is empty", "simulate --log"]),
            ("levels.csv", ["is no log of risertrim", "a CSV or TOML file is none"]),
            (
                "zeros.bin",
                ["is no log of risertrim", "`risertrim simulate --log FILE` writes"],
            ),
            (
                "picture.png",
                ["is no log of risertrim", "`risertrim simulate --log FILE` writes"],
            ),
            ("logs", ["is a folder", "monday.rtlog"]),
            ("none", ["is a folder", "no .rtlog file in it"]),
            ("nowhere.rtlog", ["cannot be read", "Give the file"]),
            ("newer.rtlog", ["log format 99", "Read it with a newer version"]),
        ] {
            let output = run(&[command, &path(file)]);
            let said = String::from_utf8_lossy(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{command} {file}: {said}");
            assert!(said.contains(file), "{command} {file}: {said}");
            for reason in reasons {
                assert!(said.contains(reason), "{command} {file}: {said}");
            }
            assert!(!said.contains("panicked"), "{said}");
        }
    }
    // Tables cannot be written into a file.
    let good = written(&folder, log());
    let output = run(&["decode", &good, "--csv", &path("empty")]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot write into"));
}

/// A log whose first header says that its format is 99, with its checksum right.
fn newer(log: &[u8]) -> Vec<u8> {
    let mut reader = Box::new(risertrim::frame::FrameReader::<4096>::new());
    let (_, end) = frames(log)[0];
    let mut payload = Vec::new();
    for byte in &log[..end] {
        if let risertrim::frame::Taken::Payload(whole) = reader.take(*byte) {
            payload = whole.to_vec();
        }
    }
    // Number (one byte), kind, four of magic, format.
    assert_eq!(payload[1..6], [0, 0x72, 0x69, 0x54, 0x1A]);
    assert_eq!(u16::from(payload[6]), risertrim::record::FORMAT);
    payload[6] = 99;
    let mut room = [0; 4096];
    let length = risertrim::frame::encode_bytes(&payload, &mut room).unwrap();
    [&room[..length], &log[end..]].concat()
}

#[test]
fn lifts_and_tanks_are_named_where_the_place_is_told() {
    let folder = folder("named");
    let path = written(&folder, log());
    let named = well(&["decode", &path, "-i", "one_lift"]);
    let bare = well(&["decode", &path]);
    assert!(named.contains("trout tank") && named.contains("lift trout"), "{named}");
    assert!(!named.contains("tank 2") && !named.contains("lift 1 "), "{named}");
    assert!(bare.contains("tank 2") && !bare.contains("trout"), "{bare}");
    let lines = well(&["decode", &path, "-i", "one_lift", "--lines"]);
    let numbered = well(&["decode", &path, "--lines"]);
    let alarms = |text: &str| {
        text.lines()
            .filter(|line| line.contains("alarm on"))
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    assert!(
        alarms(&lines)
            .iter()
            .any(|line| line.ends_with("trout tank") || line.contains("trout tank,")),
        "{lines:.2000}"
    );
    assert_eq!(alarms(&lines).len(), alarms(&numbered).len());
    let other = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["decode", &path, "-i", "default"])
        .output()
        .unwrap();
    let note = String::from_utf8_lossy(&other.stderr).into_owned();
    assert!(
        note.contains("the log is of 1 lifts and 2 tanks, the place of 3 and 4"),
        "{note}"
    );
}
