//! The controller as a microcontroller binary, the modelled installation here: the same, bit by bit.

use risertrim::record::{Plan, Record};
use risertrim_sim::board::{
    BesideCore, BoardControl, BoardError, LoggedBoard, Processor, fetch_installation, send_installation,
};
use risertrim_sim::log::{LogReader, Replay, Start, What};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{HostController, Simulation};
use risertrim_tests::emulated::{board, connect};

fn scenario(name: &str) -> Scenario {
    Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"))
}

/// Runs a scenario on a board with the core beside it; steps that were the same, and what differed.
fn run(processor: Processor, name: &str, hours: f64) -> Option<(u64, Option<String>)> {
    let scenario = scenario("default");
    let mut client = connect(board(processor, name)?);
    let hello = client.greet().expect("the board answers");
    send_installation(&mut client, &hello, &scenario.told).expect("the board takes it");
    let control = BoardControl::begin(client).expect("the board is in bench mode");
    let core = HostController::new(&scenario.told, &[]).expect("a shipped installation is sound");
    let mut simulation = Simulation::driven_by(&scenario, scenario.seed, BesideCore::new(control, core))
        .unwrap_or_else(|error| panic!("{error}"));
    while simulation.time_s() < hours * 3600.0 {
        simulation.step().unwrap_or_else(|error| panic!("{error}"));
        if simulation.control().difference().is_some() {
            break;
        }
    }
    let beside = simulation.control();
    Some((beside.compared(), beside.difference().map(ToString::to_string)))
}

fn a_day_is_the_same_on(processor: Processor, name: &str) {
    let Some((compared, difference)) = run(processor, name, 24.0) else {
        return;
    };
    assert_eq!(difference, None);
    assert_eq!(compared, 86_400, "a day of seconds");
    println!("{name}: {compared} steps, every one the same bit by bit");
}

#[test]
fn a_simulated_day_is_bit_identical_on_a_cortex_m4f() {
    a_day_is_the_same_on(Processor::M4, "emulated-m4");
}

#[test]
fn a_simulated_day_is_bit_identical_on_a_cortex_m3_without_floating_point() {
    a_day_is_the_same_on(Processor::M3, "emulated-m3");
}

#[test]
fn a_constant_changed_by_a_hundredth_of_a_percent_on_one_side_is_noticed() {
    let Some((compared, difference)) = run(Processor::M4, "emulated-m4-wrong", 24.0) else {
        return;
    };
    let difference = difference.expect("the board does not run what was sent");
    println!("noticed after {compared} steps: {difference}");
}

#[test]
fn a_board_without_bench_mode_refuses_modelled_levels() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-no-bench") else {
        return;
    };
    let mut client = connect(emulator);
    let hello = client.greet().expect("the board answers");
    assert!(!hello.bench);
    let scenario = scenario("default");
    send_installation(&mut client, &hello, &scenario.told).expect("the board takes it");
    let refused = BoardControl::begin(client).expect_err("its levels are its own");
    assert!(
        matches!(refused, BoardError::Not(risertrim::link::Not::BenchMode)),
        "{refused}"
    );
}

#[test]
fn an_installation_comes_back_from_the_board_as_it_was_sent() {
    for name in ["default", "tight_blower"] {
        let Some(emulator) = board(Processor::M4, "emulated-m4") else {
            return;
        };
        let told = scenario(name).told;
        let mut client = connect(emulator);
        let hello = client.greet().expect("the board answers");
        assert_eq!(hello.fingerprint, None, "nothing was sent yet");
        let fingerprint = send_installation(&mut client, &hello, &told).expect("the board takes it");
        assert_eq!(fetch_installation(&mut client).expect("it has one"), told, "{name}");
        assert_eq!(
            client.greet().expect("the board answers").fingerprint,
            Some(fingerprint)
        );
        assert_eq!(
            risertrim::frame::fingerprint(&told),
            Some(fingerprint),
            "the mark of the value itself"
        );
    }
}

/// Who writes the log.
#[derive(Clone, Copy, PartialEq)]
enum By {
    Host,
    Board,
}

/// Runs the default place on an emulated board for some hours, and replays the log of it here. The core of this machine runs beside it.
fn replayed(by: By, hours: u32) {
    let Some(emulator) = board(Processor::M4, "emulated-m4") else {
        return;
    };
    let scenario = scenario("default");
    let mut client = connect(emulator);
    let hello = client.greet().expect("the board answers");
    send_installation(&mut client, &hello, &scenario.told).expect("the board takes it");
    let control = BoardControl::begin(client).expect("the board is in bench mode");
    let core = HostController::new(&scenario.told, &[]).expect("a shipped installation is sound");
    let mut log = Vec::new();
    let mut logged = LoggedBoard::new(BesideCore::new(control, core));
    match by {
        By::Host => logged.log(Plan::WHOLE, hello.reset, &mut log),
        By::Board => logged.fetch_log(&mut log).expect("the board keeps a log"),
    }
    let mut simulation =
        Simulation::driven_by(&scenario, scenario.seed, logged).unwrap_or_else(|error| panic!("{error}"));
    while simulation.time_s() < 3600.0 * f64::from(hours) {
        simulation.step().unwrap_or_else(|error| panic!("{error}"));
    }
    let mut logged = simulation.into_control();
    let fetched = logged.end_log().expect("memory takes everything");
    assert_eq!(fetched.is_some(), by == By::Board);
    assert!(fetched.is_none_or(|fetch| fetch.lost == 0), "{fetched:?}");
    assert!(logged.beside_mut().difference().is_none());
    drop(logged);
    let mut replay = Replay::new(Start::Logged);
    let mut written_by = Vec::new();
    for entry in LogReader::open(log.as_slice()).expect("a log") {
        let entry = entry.expect("readable to its end");
        if let What::Record(Record::Header(header)) = &entry.what {
            written_by = header.firmware.to_vec();
        }
        replay.take(&entry).expect("nothing is set");
    }
    let outcome = replay.finish().0;
    assert!(outcome.is_equal() && outcome.inexact.is_empty(), "{outcome:?}");
    assert_eq!(
        outcome.compared,
        u64::from(3600 * hours),
        "every step that the board made"
    );
    assert_eq!(written_by.starts_with(b"emulated"), by == By::Board);
    println!("{} steps in {} bytes, replayed bit by bit", outcome.compared, log.len());
}

#[test]
fn a_log_of_what_a_board_decided_is_replayed_bit_by_bit() {
    replayed(By::Host, 7);
}

#[test]
fn a_log_that_the_board_itself_wrote_is_replayed_bit_by_bit() {
    replayed(By::Board, 7);
}
