//! `risertrim board` as people run it, against a board on a socket, a serial line and a line that loses frames. The board is the
//! firmware's own application in a thread of this test. (The emulated one is in the tests of the whole.)

mod end;
mod lossy;
mod told;

use end::{Listening, Running, start, start_logging};
use lossy::{Done, Lossy};
use risertrim_sim::board::{BoardControl, Client, Patience, Tcp, send_installation};
use risertrim_sim::live::{Action, LiveView, Session, Source};
use risertrim_sim::log::{Entry, LogReader, What};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;
use serialport::{SerialPort, TTYPort};
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::Duration;

fn risertrim(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(name)
}

fn default() -> Scenario {
    Scenario::by_name_or_path("default").unwrap_or_else(|report| panic!("{report}"))
}

/// A board on the loopback, and its address.
fn on_tcp<const BENCH: bool>(levels: Vec<f32>) -> (Running, String) {
    let (line, address) = Listening::new();
    (start::<BENCH>(line, levels), address.to_string())
}

/// The number before (or behind, when it ends with a space) these words.
fn number(text: &str, before: &str, after: &str) -> u64 {
    let rest = text
        .split_once(before)
        .unwrap_or_else(|| panic!("{before:?} in {text}"))
        .1;
    let digits = rest
        .split_once(after)
        .unwrap_or_else(|| panic!("{after:?} in {rest}"))
        .0;
    digits.trim().parse().unwrap_or_else(|_| panic!("{digits:?} in {text}"))
}

#[test]
fn a_lossy_line_is_survived_and_counted_and_every_decision_is_right() {
    let (line, address) = Listening::new();
    let (line, told) = Lossy::new(line, 7);
    let _board = start::<true>(line, Vec::new());
    let address = address.to_string();
    let run = risertrim(&[
        "board", "--tcp", &address, "--hours", "0.15", "--wait", "0.03", "--json",
    ]);
    let said = said(&run);
    assert_eq!(run.status.code(), Some(0), "{said}");
    assert!(
        said.contains("540 steps on the board, each the same bit by bit"),
        "{said}"
    );
    let [to, from]: [Done; 2] = *told.lock().expect("nobody panics with it");
    println!("to the board {to:?}\nfrom the board {from:?}\n{said}");
    for way in [to, from] {
        let least = way.lost.min(way.torn).min(way.damaged).min(way.repeated).min(way.held);
        assert!(least >= 5, "each happened several times: {way:?}");
    }
    // What is lost, torn or damaged on either way is asked for again. A frame held back at a question's last answer is late.
    let asked_again = number(&said, "asked again ", " times");
    let harmed = u64::from(to.lost + to.torn + to.damaged + from.lost + from.torn + from.damaged);
    assert!(asked_again >= harmed / 2, "{asked_again} of {harmed}");
    let here_damaged = number(&said, "arrived here ", " damaged");
    assert!(
        here_damaged >= u64::from(from.damaged + from.torn) / 2,
        "{here_damaged}"
    );
    let board_damaged = number(&said, "arrived at the board ", " damaged");
    assert!(board_damaged >= u64::from(to.damaged + to.torn) / 2, "{board_damaged}");
    let by_board = said.lines().last().unwrap_or_default();
    let board_repeated = number(by_board, "damaged, ", " repeated");
    assert!(
        board_repeated >= u64::from(to.repeated) / 2,
        "{board_repeated} of {}",
        to.repeated
    );
    let late = number(by_board, "repeated, ", " late");
    assert!(late >= 3, "frames that came behind newer ones: {said}");
    // The same day without a board gives the same figures, but for the time it took.
    let alone = risertrim(&["simulate", "--hours", "0.15", "--json"]);
    let figures = |output: &Output| {
        let mut value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let object = value.as_object_mut().expect("an object");
        object.retain(|key, _| !key.contains("wall") && !key.contains("speed") && !key.contains("times"));
        value
    };
    assert_eq!(figures(&run), figures(&alone));
}

#[test]
fn an_installation_is_sent_over_a_socket_read_back_and_told_among_the_events() {
    let (_board, address) = on_tcp::<true>(Vec::new());
    let empty = risertrim(&["board", "--tcp", &address, "--read"]);
    assert_eq!(empty.status.code(), Some(1));
    assert!(said(&empty).contains("--send"), "{}", said(&empty));
    let sent = risertrim(&["board", "--tcp", &address, "--send", "default"]);
    assert_eq!(sent.status.code(), Some(0), "{}", said(&sent));
    assert!(
        said(&sent).contains("the board checked it and keeps it"),
        "{}",
        said(&sent)
    );
    let read = risertrim(&["board", "--tcp", &address, "--read", "--quiet"]);
    let expected = serde_json::to_string_pretty(&default().told).expect("JSON") + "\n";
    assert_eq!(out(&read), expected);
    let events = out(&risertrim(&["board", "--tcp", &address, "--events", "--quiet"]));
    assert!(
        events.contains("started ") && events.contains(" taken over"),
        "{events}"
    );
}

#[test]
fn an_installation_with_faults_is_refused_by_the_board_and_the_one_before_runs_on() {
    let (_board, address) = on_tcp::<true>(Vec::new());
    let told = default().told;
    let tcp = Tcp::connect(&address, Duration::from_secs(5)).expect("it listens");
    let (mut client, hello) = Client::connect(tcp, Patience::default()).expect("it answers");
    let mark = send_installation(&mut client, &hello, &told).expect("it is sound");
    let mut broken = told;
    broken.settings.period_ms = 0;
    let refused = send_installation(&mut client, &hello, &broken).expect_err("a period of nothing");
    assert!(refused.to_string().contains("faults"), "{refused}");
    assert_eq!(client.greet().expect("it answers").fingerprint, Some(mark));
}

#[test]
fn a_board_with_sensors_is_watched_and_never_driven_by_modelled_levels() {
    let told = default();
    let levels = (0..told.told.tanks.len()).map(|tank| told.raw_reading(tank, 0.5));
    let (_board, address) = on_tcp::<false>(levels.collect());
    let sent = risertrim(&["board", "--tcp", &address, "--send", "default", "--quiet"]);
    assert_eq!(sent.status.code(), Some(0), "{}", said(&sent));
    let driven = risertrim(&["board", "--tcp", &address]);
    assert_eq!(driven.status.code(), Some(1));
    assert!(said(&driven).contains("without bench mode"), "{}", said(&driven));
    let mut watch = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["board", "--tcp", &address, "--watch"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program runs");
    let shown = BufReader::new(watch.stdout.take().expect("piped"));
    let mut steps = 0;
    for line in shown.lines().map_while(Result::ok) {
        steps += u32::from(line.starts_with("lift 3") && line.contains("L/min  opening"));
        if steps == 2 {
            break;
        }
    }
    watch.kill().expect("it still watches");
    let _ = watch.wait();
    assert_eq!(steps, 2, "two steps of the board's own");
}

/// Every entry but the header, which tells who wrote it.
fn entries(path: &Path) -> Vec<What> {
    let log = LogReader::open(fs::File::open(path).expect("written")).expect("a log");
    let whats = log.map(|entry: Result<Entry, _>| entry.expect("readable to its end").what);
    whats
        .filter(|what| !matches!(what, What::Record(risertrim::record::Record::Header(_))))
        .collect()
}

#[test]
fn over_a_serial_line_a_run_is_logged_as_the_same_run_without_a_board_and_replayed() {
    let (mut board_end, host_end) = TTYPort::pair().expect("a pair of terminals");
    board_end.set_timeout(Duration::from_millis(1)).expect("a port of ours");
    let port = host_end.name().expect("it has one");
    drop(host_end); // the program opens it for itself alone
    let _board = start::<true>(board_end, Vec::new());
    let (on_board, alone) = (file("on-board.rtlog"), file("alone.rtlog"));
    let length = ["--hours", "0.3", "--log-plan", "whole", "--quiet", "--log"];
    let mut arguments = vec!["board", "--port", &port];
    arguments.extend(length);
    let run = risertrim(&[&arguments[..], &[on_board.to_str().expect("text")]].concat());
    assert_eq!(run.status.code(), Some(0), "{}", said(&run));
    assert!(said(&run).contains("1080 steps on the board"), "{}", said(&run));
    arguments = vec!["simulate"];
    arguments.extend(length);
    let run = risertrim(&[&arguments[..], &[alone.to_str().expect("text")]].concat());
    assert_eq!(run.status.code(), Some(0), "{}", said(&run));
    let (on_board, alone) = (on_board.as_path(), alone.as_path());
    let found = entries(on_board);
    assert!(found.len() > 2 * 1080, "{}", found.len());
    assert!(found == entries(alone), "the same records in the same order");
    let path = on_board.to_str().expect("text");
    let replay = risertrim(&["replay", path]);
    assert_eq!(replay.status.code(), Some(0), "{}", said(&replay));
    assert!(out(&replay).contains("The same decisions"), "{}", out(&replay));
    let decoded = out(&risertrim(&["decode", path]));
    assert!(decoded.contains("readings of 1080 moments, 1080 steps"), "{decoded}");
}

#[test]
fn what_a_board_records_itself_is_fetched_as_it_goes_and_is_the_log_of_the_run() {
    let (line, address) = Listening::new();
    let address = address.to_string();
    let _board = start_logging::<true>(line, Vec::new());
    let (by_board, alone, kept) = (file("by-board.rtlog"), file("by-nobody-else.rtlog"), file("kept.rtlog"));
    let run = risertrim(&[
        "board",
        "--tcp",
        &address,
        "--hours",
        "0.3",
        "--quiet",
        "--log-by",
        "board",
        "--log",
        by_board.to_str().expect("text"),
    ]);
    assert_eq!(run.status.code(), Some(0), "{}", said(&run));
    assert!(said(&run).contains("bytes of the board's own log"), "{}", said(&run));
    let run = risertrim(&[
        "simulate",
        "--hours",
        "0.3",
        "--log-plan",
        "whole",
        "--quiet",
        "--log",
        alone.to_str().expect("text"),
    ]);
    assert_eq!(run.status.code(), Some(0), "{}", said(&run));
    // The board began once when it got its installation, and afresh for the run; in its ring the installation is repeated more often.
    let records = |path: &Path| -> Vec<What> {
        let all = entries(path).into_iter();
        all.filter(|what| !matches!(what, What::Installation { .. })).collect()
    };
    let found = records(&by_board);
    let expected = records(&alone);
    assert!(expected.len() > 2 * 1080, "{}", expected.len());
    assert!(
        found.ends_with(&expected),
        "the same records in the same order: {} and {}",
        found.len(),
        expected.len()
    );
    let path = by_board.to_str().expect("text");
    let replay = risertrim(&["replay", path]);
    assert_eq!(replay.status.code(), Some(0), "{}", said(&replay));
    assert!(out(&replay).contains("The same decisions"), "{}", out(&replay));
    // Asked once, without a run: what the ring still holds, which is its newest records.
    let run = risertrim(&["board", "--tcp", &address, "--fetch-log", kept.to_str().expect("text")]);
    assert_eq!(run.status.code(), Some(0), "{}", said(&run));
    let newest = records(&kept);
    assert!(newest.len() > 100 && newest.len() < expected.len(), "{}", newest.len());
    let size = fs::metadata(&kept).expect("written").len();
    assert!((20_000..=32_768).contains(&size), "{size} bytes");
    let decoded = risertrim(&["decode", kept.to_str().expect("text")]);
    assert_eq!(decoded.status.code(), Some(0), "{}", said(&decoded));
}

#[test]
fn a_board_without_a_log_says_so() {
    let (_board, address) = on_tcp::<true>(Vec::new());
    let kept = file("nothing.rtlog");
    let asked = risertrim(&["board", "--tcp", &address, "--fetch-log", kept.to_str().expect("text")]);
    assert_eq!(asked.status.code(), Some(1));
    assert!(
        said(&asked).contains("keeps no log that can be fetched"),
        "{}",
        said(&asked)
    );
}

#[test]
fn a_board_is_watched_live_and_keys_reach_it() {
    let (_board, address) = on_tcp::<true>(Vec::new());
    let scenario = default();
    let tcp = Tcp::connect(&address, Duration::from_secs(5)).expect("it listens");
    let (mut client, hello) = Client::connect(tcp, Patience::default()).expect("it answers");
    send_installation(&mut client, &hello, &scenario.told).expect("it is sound");
    let control = BoardControl::begin(client).expect("it is in bench mode");
    let simulation = Simulation::driven_by(&scenario, 1, control).unwrap_or_else(|error| panic!("{error}"));
    let mut session = Session::new(simulation, 1, 24.0);
    for _ in 0..300 {
        session.step().unwrap_or_else(|error| panic!("{error}"));
    }
    let before = session.snapshot();
    let heard = session.act(Action::Target(0.05), 0);
    assert!(heard.contains("target of lift fry becomes 52.5 L/min"), "{heard}");
    session.act(Action::Shut, 2);
    for _ in 0..60 {
        session.step().unwrap_or_else(|error| panic!("{error}"));
    }
    let after = session.snapshot();
    assert!((before.lifts[0].target_l_min - 50.0).abs() < 0.1);
    assert!((after.lifts[0].target_l_min - 52.5).abs() < 0.1);
    assert_eq!(after.lifts[2].state, risertrim::step::LiftState::OutOfService);
    let mut view = LiveView::new();
    view.remember(&after);
    // Without a terminal there is nothing to watch it in.
    let refused = risertrim(&["board", "--tcp", &address, "--live"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(said(&refused).contains("--live needs a terminal"), "{}", said(&refused));
}

#[test]
fn a_board_that_is_not_there_is_told_with_what_to_look_at() {
    // A port of ours that nobody listens on any more.
    let address = Listening::new().1.to_string();
    let run = risertrim(&["board", "--tcp", &address]);
    assert_eq!(run.status.code(), Some(2));
    assert!(said(&run).contains(&address), "{}", said(&run));
    let run = risertrim(&["board", "--port", "/dev/no-such-port"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(said(&run).contains("/dev/no-such-port"), "{}", said(&run));
    // Somebody who never answers.
    let silent = std::net::TcpListener::bind("127.0.0.1:0").expect("the loopback");
    let address = silent.local_addr().expect("bound").to_string();
    let tcp = Tcp::connect(&address, Duration::from_secs(5)).expect("it listens");
    let patience = Patience {
        wait: Duration::from_millis(10),
        times: 5,
    };
    let silent = Client::connect(tcp, patience).expect_err("nobody answers").to_string();
    assert!(silent.contains("does not answer (asked 5 times)"), "{silent}");
}
