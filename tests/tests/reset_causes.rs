//! Why a board started, as bytes: in the log, where the numbers are only appended to, and on the line to a host, which has its own.

use risertrim::ResetCause;
use risertrim::controller::Learned;
use risertrim::link::{Answer, Event, Hello, LogEntry, Reply, Running};
use risertrim::record::{Began, FORMAT, Plan};
use risertrim_sim::log::{FileSink, HostRecord, HostRecorder, LogReader, What};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;

/// Every cause with its number in the log and on the line. Numbers once given away stay: old logs and old boards have them.
const NUMBERS: [(ResetCause, u8, u8); 10] = [
    (ResetCause::Unknown, 0, 7),
    (ResetCause::PowerOn, 1, 0),
    (ResetCause::BrownOut, 2, 1),
    (ResetCause::Watchdog, 3, 2),
    (ResetCause::Fault, 4, 8),
    (ResetCause::Asked, 5, 5),
    (ResetCause::Simulated, 6, 9),
    (ResetCause::Panic, 7, 3),
    (ResetCause::HardFault, 8, 4),
    (ResetCause::Pin, 9, 6),
];

#[test]
fn in_the_log_every_cause_has_its_number() {
    for (cause, in_log, _) in NUMBERS {
        let began = Began::Started(cause);
        let bytes = postcard::to_stdvec(&began).expect("two bytes");
        assert_eq!(bytes, [0, in_log], "{cause:?}");
        assert_eq!(postcard::from_bytes(&bytes), Ok(began));
    }
    assert!(postcard::from_bytes::<Began>(&[0, 10]).is_err(), "no such cause");
}

#[test]
fn on_the_line_every_cause_has_its_number_in_the_hello_and_in_the_events() {
    for (cause, _, on_line) in NUMBERS {
        let hello = Hello {
            version: 1,
            fingerprint: None,
            bench: true,
            lifts: 8,
            tanks: 9,
            running: Running::Trimming,
            reset: cause,
        };
        let reply = Reply::<8, 9> {
            number: 5,
            answer: Answer::Hello(hello),
        };
        let bytes = postcard::to_stdvec(&reply).expect("few bytes");
        // Number, hello, version, no fingerprint, bench, lifts, tanks, trimming, cause.
        assert_eq!(bytes, [5, 0, 1, 0, 1, 8, 9, 1, on_line], "{cause:?}");
        assert_eq!(postcard::from_bytes(&bytes), Ok(reply));

        let entry = LogEntry {
            at: risertrim::Millis(300),
            event: Event::Started(cause),
        };
        let bytes = postcard::to_stdvec(&entry).expect("few bytes");
        assert_eq!(bytes, [0xAC, 0x02, 0, on_line], "{cause:?}");
        assert_eq!(postcard::from_bytes(&bytes), Ok(entry));
    }
    assert!(
        postcard::from_bytes::<LogEntry>(&[0, 0, 10]).is_err(),
        "no such cause on the line"
    );
}

/// What the lift had learned before each start: all that it can have.
fn learned() -> Learned {
    Learned {
        most: 180,
        // Factor 0.9 when clean, 1 / 0.8^2 by the trend and 0.005 a day more, after 20 looks; due in 40 days.
        trend: postcard::from_bytes(&[0xD0, 0x8C, 0x01, 0xEA, 0x30, 0xE8, 0x07, 20, 40]).expect("a trend"),
        // 3 % under its curve when new, at 60 % of its air.
        blower: postcard::from_bytes(&[0xFA, 120, 0]).expect("a blower"),
        ..Learned::new(0.8, 0.01, risertrim::Opening::new(0.5))
    }
}

/// A log of starts by every cause with a few steps after each.
fn log_of_starts() -> Vec<u8> {
    let scenario = Scenario::by_name_or_path("one_lift").unwrap_or_else(|report| panic!("{report}"));
    let mut recorder = HostRecorder::new(Plan::WHOLE, "test 1");
    let mut sink = FileSink::new(Vec::new());
    let mut now = risertrim::Millis(0);
    for (cause, ..) in NUMBERS {
        let mut controller = Simulation::controller(&scenario).expect("it starts");
        let began = Began::Started(cause);
        recorder.begin(began, controller.installation(), &[learned()], &mut sink);
        for step in 0..3u8 {
            now = now.plus(1000);
            let levels = (0..scenario.told.tanks.len())
                .map(|tank| scenario.raw_reading(tank, 0.5 + 0.001 * f64::from(step)))
                .map(risertrim::Reading::Value)
                .collect();
            let manifold = risertrim::Reading::Missing;
            let readings = risertrim::Readings { now, levels, manifold };
            let made = controller.step(&readings);
            recorder.step(&readings, &made, &controller, &mut sink);
        }
    }
    sink.finish().expect("memory takes everything").0
}

fn causes(log: &[u8]) -> Vec<(u16, ResetCause)> {
    let entries = LogReader::open(log).expect("a log");
    let header = |what: What| match what {
        What::Record(HostRecord::Header(header)) => match header.began {
            Began::Started(cause) => Some((header.format, cause)),
            _ => None,
        },
        What::Record(_)
        | What::Installation {
            installation: Some(_), ..
        } => None,
        other => panic!("{other:?}"),
    };
    entries
        .filter_map(|entry| header(entry.expect("readable to its end").what))
        .collect()
}

#[test]
fn a_log_of_format_2_written_once_is_still_read_with_every_cause_in_it() {
    let expected: Vec<_> = NUMBERS.iter().map(|(cause, ..)| (2, *cause)).collect();
    assert_eq!(causes(include_bytes!("logs/format_2.rtlog")), expected);
}

#[test]
fn a_log_of_format_3_written_once_is_still_read_with_all_that_a_lift_had_learned() {
    let frozen = include_bytes!("logs/format_3.rtlog");
    let expected: Vec<_> = NUMBERS.iter().map(|(cause, ..)| (3, *cause)).collect();
    assert_eq!(causes(frozen), expected);
    let entries = LogReader::open(&frozen[..]).expect("a log");
    let loaded = entries.filter_map(|entry| match entry.expect("readable to its end").what {
        What::Record(HostRecord::Loaded(lifts)) => Some(lifts),
        _ => None,
    });
    let loaded: Vec<_> = loaded.collect();
    assert_eq!(loaded.len(), NUMBERS.len());
    let lift = loaded[0][0];
    assert_eq!(lift, learned());
    assert_eq!(
        (lift.trend.percent_of_clean(), lift.trend.due_days()),
        (Some(89), Some(40))
    );
    let expected: Vec<_> = NUMBERS.iter().map(|(cause, ..)| (FORMAT, *cause)).collect();
    assert_eq!(causes(&log_of_starts()), expected);
}

#[test]
#[ignore = "writes the log that is kept; only for a new format"]
fn freeze() {
    let path = format!("{}/tests/logs/format_{FORMAT}.rtlog", env!("CARGO_MANIFEST_DIR"));
    std::fs::write(path, log_of_starts()).expect("written");
}
