//! A log that was written once with the first format is still read.

use crate::reading::{entries, scenario};
use risertrim::record::Plan;
use risertrim_sim::log::{Entry, HostRecord, LoggedController, What};
use risertrim_sim::simulate::{Control, Simulation};

#[test]
fn a_log_of_format_1_written_once_is_still_read() {
    let frozen = include_bytes!("../logs/format_1.rtlog");
    let found = entries(frozen);
    assert!(
        found.iter().all(|entry| matches!(
            entry.what,
            What::Record(_)
                | What::Installation {
                    installation: Some(_),
                    ..
                }
        )),
        "a record or the layout of the installation changed: raise FORMAT or LAYOUT in core/src/record/header.rs, keep the old \
         types where logs are read, and add a frozen log of the new format beside the old"
    );
    let Some(Entry {
        what: What::Record(HostRecord::Header(header)),
        ..
    }) = found.first()
    else {
        panic!("a log begins with its header");
    };
    assert_eq!(
        (header.format, header.lifts, header.tanks, header.period_ms),
        (1, 1, 2, 1000)
    );
    let steps = found
        .iter()
        .filter(|entry| matches!(entry.what, What::Record(HostRecord::Step(_))))
        .count();
    let commands = found
        .iter()
        .filter(|entry| matches!(entry.what, What::Record(HostRecord::Command(_))))
        .count();
    assert_eq!((steps, commands), (30, 3));
    // The third reading of the first tank as it was written: bits, not a rounded number.
    let third = found.iter().filter_map(|entry| match &entry.what {
        What::Record(HostRecord::Readings(readings)) => Some(readings.clone()),
        _ => None,
    });
    let third = third.take(3).last().expect("three readings");
    let first_tank = third.levels.first().copied();
    assert_eq!(third.basis.now, risertrim::Millis(u32::MAX - 7000));
    assert_eq!(first_tank, Some(risertrim::record::Logged::Number(0.502)));
}

#[test]
#[ignore = "writes the log that is kept; only for a new format"]
fn freeze() {
    let scenario = scenario("one_lift");
    let controller = Simulation::controller(&scenario).expect("it starts");
    let mut logged = LoggedController::new(controller, Plan::WHOLE, Vec::new());
    let mut readings = risertrim::Readings {
        now: risertrim::Millis(u32::MAX - 10_000),
        ..Default::default()
    };
    for step in 0..30u32 {
        match step {
            5 => drop(logged.command(risertrim::Command::Target {
                lift: 0,
                flow: risertrim::WaterFlow::from_l_min(20.0),
            })),
            6 => drop(logged.command(risertrim::Command::Target {
                lift: 9,
                flow: risertrim::WaterFlow::ZERO,
            })),
            7 => drop(logged.command(risertrim::Command::EssentialAir(false))),
            _ => {}
        }
        readings.levels.clear();
        for tank in 0..scenario.told.tanks.len() {
            let level = if step % 7 == 3 && tank == 0 {
                risertrim::Reading::Missing
            } else {
                risertrim::Reading::Value(scenario.raw_reading(tank, 0.5 + 0.001 * f64::from(step % 5)))
            };
            readings.levels.push(level).expect("room for every tank");
        }
        readings.now = readings.now.plus(1000);
        logged.step(&readings).expect("memory takes everything");
    }
    let (log, _) = logged.finish().expect("memory takes everything");
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/logs/format_1.rtlog");
    assert_eq!(risertrim::record::FORMAT, 1, "that log is kept as it was written");
    std::fs::create_dir_all(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/logs")).expect("a folder");
    std::fs::write(path, log).expect("written");
}
