use super::*;
use crate::alarm::{Figure, Kind, Name, Subject};
use crate::command::Command;
use crate::controller::Learned;
use crate::frame::{FrameReader, Taken, encode};
use crate::reading::Checked;
use crate::step::{LiftState, Reading};
use crate::{Millis, Opening, WaterFlow};

extern crate std;
use std::format;
use std::string::String;
use std::vec::Vec;

type Small = Record<2, 2>;

fn basis() -> Basis {
    Basis {
        now: Millis(1000),
        curves: 0x1234,
        air: AirReference::Kpa100C20,
        seen: Some(Seen {
            manifold_pa: 14_000.0,
            sump_m: 0.5,
        }),
    }
}

/// The records that RECORD.md shows, by the name they have there.
fn examples() -> Vec<(&'static str, u16, Small)> {
    let firmware = heapless::Vec::from_slice(b"board 1").expect("24 bytes");
    std::vec![
        (
            "header",
            0,
            Record::Header(Header {
                magic: MAGIC,
                format: 3,
                began: Began::Started(ResetCause::Watchdog),
                firmware,
                fingerprint: 0xCBF4_1234,
                period_ms: 1000,
                lifts: 1,
                tanks: 2,
                air: AirReference::Kpa100C20,
            })
        ),
        (
            "loaded",
            2,
            Record::Loaded(heapless::Vec::from_array([Learned::new(
                0.875,
                0.0625,
                Opening::new(0.5)
            )]))
        ),
        (
            "readings",
            3,
            Record::Readings(ReadingsRecord {
                basis: basis(),
                over: 1,
                levels: heapless::Vec::from_array([Logged::Number(12.5), Logged::Missing]),
                manifold: Logged::NotANumber,
            })
        ),
        (
            "step",
            4,
            Record::Step(StepRecord {
                basis: basis(),
                step_ms: 1000,
                lifts: heapless::Vec::from_array([LiftRecord {
                    state: LiftState::Trimming,
                    command: Opening::new(0.5),
                    position: Opening::new(0.25),
                    air_m3_s: 0.0009765625,
                    wanted_air_m3_s: 0.0009765625,
                    flow_m3_s: 0.00048828125,
                    flow_sigma_m3_s: 0.000_030_517_578,
                    target_m3_s: 0.00048828125,
                    delivery: 0.875,
                    delivery_sigma: 0.0625,
                }]),
                tanks: heapless::Vec::from_array([
                    TankRecord {
                        level_m: 0.5,
                        sigma_m: 0.0009765625,
                        reading: Checked::Level(0.5),
                        oxygen_min: Some(40),
                    },
                    TankRecord {
                        level_m: 0.75,
                        sigma_m: 0.0009765625,
                        reading: Checked::Missing,
                        oxygen_min: None,
                    },
                ]),
                blower: BlowerRecord {
                    units: 1,
                    speed: 1.0,
                    air_m3_s: 0.001953125,
                    power_w: 60.0,
                },
                backup_min: None,
            })
        ),
        (
            "alarm",
            5,
            Record::Alarm(AlarmRecord {
                basis: basis(),
                change: AlarmChange::On,
                name: Name {
                    kind: Kind::LevelTooHigh,
                    subject: Subject::Tank(1),
                },
                cause: None,
                figure: Figure::Minutes(12),
            })
        ),
        (
            "command",
            300,
            Record::Command(CommandRecord {
                basis: Basis { seen: None, ..basis() },
                command: Command::Target {
                    lift: 0,
                    flow: WaterFlow::from_m3_s(0.00048828125),
                },
                refused: None,
            })
        ),
        (
            "gap",
            301,
            Record::Gap(GapRecord {
                basis: basis(),
                records: 17,
                cause: GapCause::SinkFull,
            })
        ),
    ]
}

/// The examples in RECORD.md of one kind ("payload" or "frame") by name: hexadecimal bytes, `#` begins a comment.
fn page(kind: &str) -> Vec<(String, Vec<u8>)> {
    let mut examples: Vec<(String, Vec<u8>)> = Vec::new();
    let mut inside = false;
    for line in include_str!("../../RECORD.md").lines() {
        if let Some(name) = line.strip_prefix("```").and_then(|rest| rest.strip_prefix(kind)) {
            examples.push((name.trim().into(), Vec::new()));
            inside = true;
        } else if line.starts_with("```") {
            inside = false;
        } else if inside {
            let (bytes, _) = line.split_once('#').unwrap_or((line, ""));
            let (_, example) = examples.last_mut().expect("an example has begun");
            example.extend(
                bytes
                    .split_whitespace()
                    .map(|byte| u8::from_str_radix(byte, 16).expect("two digits")),
            );
        }
    }
    examples
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02X} ")).collect()
}

#[test]
fn the_payloads_on_the_page_are_what_is_written_and_are_read_as_what_they_are_said_to_be() {
    let page = page("payload");
    let names: Vec<&str> = page.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, examples().iter().map(|(name, ..)| *name).collect::<Vec<_>>());
    for ((name, shown), (_, number, record)) in page.iter().zip(examples()) {
        let mut room = [0; 256];
        let written = postcard::to_slice(&(number, &record), &mut room).expect("short records");
        assert_eq!(hex(written), hex(shown), "{name}");
        assert_eq!(read::<2, 2>(shown), Ok((number, record, &[][..])), "{name}");
    }
}

#[test]
fn the_frame_on_the_page_is_that_of_its_payload() {
    let frames = page("frame");
    let [(name, shown)] = frames.as_slice() else {
        panic!("one frame is shown")
    };
    let (_, number, record) = examples()
        .into_iter()
        .find(|(known, ..)| known == name)
        .expect("a known example");
    let mut room = [0; 256];
    let length = encode(&(number, &record), &mut room).expect("short records");
    assert_eq!(hex(&room[..length]), hex(shown));
    let mut reader = FrameReader::<256>::new();
    let payloads = shown
        .iter()
        .filter(|byte| matches!(reader.take(**byte), Taken::Payload(_)))
        .count();
    assert_eq!(payloads, 1);
}

#[test]
fn a_newer_format_is_told_by_its_number_whatever_else_its_header_holds() {
    let mut payload = [0x2A, 0].to_vec();
    payload.extend(MAGIC);
    payload.extend([0xAC, 0x02, 0xFF, 0xFF, 0xFF]);
    assert_eq!(read::<2, 2>(&payload), Err(Unread::NewerFormat(300)));
}

#[test]
fn a_record_for_more_lifts_than_there_is_room_for_is_no_record_here() {
    let lifts = heapless::Vec::from_array([Learned::new(1.0, 0.1, Opening::SHUT); 2]);
    let mut room = [0; 64];
    let payload = postcard::to_slice(&(7u16, Small::Loaded(lifts)), &mut room).expect("64 bytes");
    assert!(read::<2, 2>(payload).is_ok());
    assert_eq!(read::<1, 2>(payload), Err(Unread::NotARecord));
}

#[test]
fn readings_that_are_no_numbers_never_reach_a_log() {
    for raw in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        assert_eq!(Logged::of(Reading::Value(raw)), Logged::NotANumber);
    }
    assert_eq!(Logged::of(Reading::Value(-0.0)), Logged::Number(-0.0));
    assert!(matches!(Logged::NotANumber.reading(), Reading::Value(value) if !value.is_finite()));
}
