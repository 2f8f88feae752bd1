//! What a board logs by `defmt`: decoded from a run of an emulated Cortex-M4F by the decoder of the `defmt` project.

use defmt_decoder::{DecodeError, Table};
use risertrim::{Millis, Reading};
use risertrim_sim::board::{BoardControl, Emulator, Processor, send_installation};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Control, HostReadings};
use risertrim_tests::emulated::{board, connect, firmware};
use std::time::{Duration, Instant};

/// The lines printed so far, in words.
fn lines(table: &Table, printed: &[u8]) -> Vec<String> {
    let mut decoder = table.new_stream_decoder();
    decoder.received(printed);
    let mut lines = Vec::new();
    loop {
        match decoder.decode() {
            Ok(frame) => {
                let level = frame.level().map_or("", |level| level.as_str());
                lines.push(format!("{level} {}", frame.display_message()));
            }
            Err(DecodeError::UnexpectedEof) => return lines,
            Err(DecodeError::Malformed) => panic!("a frame that is none, after {lines:?}"),
        }
    }
}

#[test]
fn an_alarm_and_a_summary_of_a_run_on_the_board_are_read_from_its_defmt_frames() {
    let name = "emulated-m4-defmt";
    let Some(emulator) = board(Processor::M4, name) else {
        return;
    };
    let printed = Emulator::folder(&emulator).join("printed");
    let elf = std::fs::read(firmware(name)).expect("the firmware that runs");
    let table = Table::parse(&elf).expect("a table of defmt").expect("it logs by defmt");
    let scenario = Scenario::by_name_or_path("default").unwrap_or_else(|report| panic!("{report}"));
    let mut client = connect(emulator);
    let hello = client.greet().expect("the board answers");
    let mark = send_installation(&mut client, &hello, &scenario.told).expect("the board takes it");
    let mut control = BoardControl::begin(client).expect("the board is in bench mode");
    // Eleven minutes in which the sensor of the second tank gives nothing.
    for second in 1..=660u32 {
        let restless = 0.001 * f64::from(second % 3);
        let levels = (0..scenario.told.tanks.len()).map(|tank| match tank {
            1 => Reading::Missing,
            _ => Reading::Value(scenario.raw_reading(tank, 0.6 + restless)),
        });
        let readings = HostReadings {
            now: Millis(1000 * second),
            levels: levels.collect(),
            manifold: Reading::Missing,
        };
        control.step(&readings).expect("the board answers");
    }
    let begin = Instant::now();
    let told = loop {
        let told = lines(&table, &std::fs::read(&printed).expect("a file of ours"));
        if told.iter().any(|line| line.contains("alarms stand")) || begin.elapsed() > Duration::from_secs(20) {
            break told;
        }
        std::thread::sleep(Duration::from_millis(10));
    };
    println!("{}", told.join("\n"));
    let find = |parts: &[&str]| {
        let has = |line: &&String| parts.iter().all(|part| line.contains(part));
        assert!(told.iter().any(|line| has(&line)), "{parts:?} in {told:#?}");
    };
    find(&["info ", " ms: Started(PowerOn)"]);
    find(&["info ", &format!("InstallationTaken {{ fingerprint: {mark} }}")]);
    let missing = risertrim::alarm::Kind::SensorSilent.text().what;
    find(&["warn ", " ms: Raised(", "SensorSilent", "Tank(1)", missing]);
    // The summary after ten minutes: what it is doing, how many alarms stand, one line a lift.
    find(&["info Trimming, ", " alarms stand"]);
    for lift in 0..scenario.told.lifts.len() {
        find(&[&format!("info lift {lift}: "), " of its curve, "]);
    }
}
