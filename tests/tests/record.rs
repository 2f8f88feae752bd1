//! Logs: written by a simulation, read back, damaged in every way, replayed.

use risertrim::frame::{FrameReader, Taken};
use risertrim::record::Plan;
use risertrim_sim::log::{
    Entry, FileSink, HostRecord, LogError, LogReader, LoggedController, Replay, ReplayOutcome, Start, Stretch, Summary,
    Uncompared, What, replay_text, samples,
};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Control, Simulation};
use risertrim_tests::logs::log_of;

fn scenario(name: &str) -> Scenario {
    Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"))
}

fn entries(log: &[u8]) -> Vec<Entry> {
    LogReader::open(log)
        .expect("a log")
        .collect::<Result<_, _>>()
        .expect("readable to its end")
}

fn replay(log: &[u8], start: Start) -> ReplayOutcome {
    let mut replay = Replay::new(start);
    for entry in entries(log) {
        replay.take(&entry).expect("settings that suit");
    }
    replay.finish().0
}

#[test]
fn a_simulated_log_is_replayed_bit_by_bit() {
    for (name, hours) in [("default", 24.0), ("shared_tank", 8.0), ("tight_blower", 4.0)] {
        let outcome = replay(&log_of(name, hours, Plan::WHOLE), Start::Logged);
        assert!(outcome.is_equal(), "{name}: {outcome:?}");
        assert!(outcome.inexact.is_empty(), "{name}: {:?}", outcome.inexact);
        assert_eq!(outcome.compared, outcome.steps, "{name}: every step was logged");
        assert_eq!(outcome.steps as f64, hours * 3600.0, "{name}");
    }
}

#[test]
fn a_replay_of_a_thinned_log_says_what_it_could_not_compare() {
    for (plan, why) in [
        (Plan::SPARING, Uncompared::MeansOnly),
        (Plan::ON_CHANGE, Uncompared::ReadingsThinned),
    ] {
        let log = log_of("default", 2.0, plan);
        let logged = entries(&log)
            .iter()
            .filter(|entry| matches!(entry.what, What::Record(HostRecord::Step(_))))
            .count() as u64;
        let outcome = replay(&log, Start::Logged);
        assert_eq!(
            outcome.compared + outcome.uncompared_steps(),
            logged,
            "every logged step"
        );
        assert!(outcome.uncompared_steps() > logged / 2, "{why:?}: {outcome:?}");
        assert!(outcome.uncompared.contains_key(&why), "{why:?}: {outcome:?}");
        assert!(!outcome.is_equal(), "{why:?}: what was not compared is not the same");
        assert!(outcome.what_was_compared_is_equal(), "{why:?}: {outcome:?}");
        let text = replay_text(&outcome, &Start::Logged);
        assert!(
            text.contains("could not be compared") && text.contains(&why.to_string()),
            "{text}"
        );
        assert!(!text.contains("The same decisions"), "{text}");
    }
}

#[test]
fn a_replay_with_a_commissioning_in_it_finds_the_same_and_stays_exact() {
    let log = log_of("commission", 6.0, Plan::USUAL);
    let trials = entries(&log)
        .iter()
        .filter(|entry| matches!(entry.what, What::Record(HostRecord::Commissioned(_))))
        .count();
    assert!(trials > 0, "the trial scenario commissions");
    let outcome = replay(&log, Start::Logged);
    assert!(outcome.is_equal(), "{outcome:?}");
    assert!(outcome.inexact.is_empty(), "{:?}", outcome.inexact);
}

#[test]
fn a_restart_in_the_middle_is_replayed_from_what_was_loaded() {
    let scenario = scenario("default");
    let controller = Simulation::controller(&scenario).expect("it starts");
    let logged = LoggedController::new(controller, Plan::WHOLE, Vec::new());
    let mut simulation = Simulation::driven_by(&scenario, 3, logged).expect("it starts");
    for step in 0..3000 {
        if step == 1000 {
            simulation.control_mut().restart(true).expect("it starts again");
        }
        if step == 2000 {
            simulation.control_mut().restart(false).expect("it starts again");
        }
        simulation.step().expect("it runs");
    }
    let log = simulation.into_control().finish().expect("memory takes everything").0;
    let outcome = replay(&log, Start::Logged);
    assert!(outcome.is_equal() && outcome.inexact.is_empty(), "{outcome:?}");
    assert_eq!((outcome.starts, outcome.compared), (3, 3000));
    let cuts: Vec<Stretch> = samples(LogReader::open(log.as_slice()).expect("a log"))
        .filter_map(|sample| sample.expect("readable").begins)
        .collect();
    assert_eq!(cuts.len(), 3, "{cuts:?}");
    assert_eq!(cuts.first(), Some(&Stretch::First));
    assert!(cuts.iter().skip(1).all(|cut| *cut == Stretch::Restarted), "{cuts:?}");
}

#[test]
fn a_changed_setting_and_a_changed_calibration_show_as_differences() {
    let log = log_of("default", 0.5, Plan::USUAL);
    let tuned = replay(&log, Start::Tuned(vec!["trim_s=15.01".to_owned()]));
    assert!(!tuned.is_equal() && !tuned.first.is_empty(), "{tuned:?}");
    let mut other = scenario("default").told;
    other.lifts[0].calibration.losses *= 1.000_1;
    let calibrated = replay(&log, Start::With(Box::new(other)));
    assert!(!calibrated.is_equal() && !calibrated.first.is_empty(), "{calibrated:?}");
    let unchanged = replay(&log, Start::Tuned(vec!["trim_s=15".to_owned()]));
    assert!(unchanged.is_equal(), "the setting it had: {unchanged:?}");
}

#[test]
fn a_flipped_bit_in_a_reading_with_a_right_checksum_shows_as_a_difference() {
    // The replay itself must notice what no checksum can: one reading of another sensor, properly framed.
    let log = log_of("default", 0.2, Plan::WHOLE);
    let mut replay = Replay::new(Start::Logged);
    let mut changed = false;
    for mut entry in entries(&log) {
        if let What::Record(HostRecord::Readings(readings)) = &mut entry.what
            && readings.basis.now.0 > 300_000
            && !changed
        {
            readings.levels.swap(0, 1);
            changed = true;
        }
        replay.take(&entry).expect("its own settings");
    }
    let outcome = replay.finish().0;
    assert!(changed && !outcome.is_equal());
    assert!((300.0..302.0).contains(&outcome.first_s), "{}", outcome.first_s);
}

/// A quarter of a minute of a small place, small enough to be harmed in every way.
fn small() -> Vec<u8> {
    log_of("one_lift", 0.004, Plan::WHOLE)
}

/// The frames of a log that is intact: where each begins, and where the next.
fn frames(log: &[u8]) -> Vec<(usize, usize)> {
    let mut begin = 0;
    let mut frames = Vec::new();
    for (at, byte) in log.iter().enumerate() {
        if *byte == 0 {
            frames.push((begin, at + 1));
            begin = at + 1;
        }
    }
    frames
}

/// What is read of a harmed log: the payloads of intact frames, and whether damage was told.
fn payloads(log: &[u8]) -> (Vec<Vec<u8>>, usize) {
    let mut reader = FrameReader::<4096>::new();
    let mut read = Vec::new();
    for byte in log {
        if let Taken::Payload(payload) = reader.take(*byte) {
            read.push(payload.to_vec());
        }
    }
    let _ = reader.finish();
    (read, reader.damaged() as usize)
}

/// Of the frames that were written, all but the touched are read, in order, nothing else is, and the damage is told.
fn check(written: &[Vec<u8>], touched: &[usize], harmed: &[u8], what: &str) {
    let (read, damaged) = payloads(harmed);
    let untouched: Vec<&Vec<u8>> = written
        .iter()
        .enumerate()
        .filter(|(index, _)| !touched.contains(index))
        .map(|(_, payload)| payload)
        .collect();
    let lost = written.len() - read.len().min(written.len());
    assert!(lost <= touched.len(), "{what}: {lost} lost, {touched:?} touched");
    let mut rest = written.iter();
    for payload in &read {
        assert!(
            rest.any(|known| known == payload),
            "{what}: something was read that was never written"
        );
    }
    for payload in untouched {
        assert!(read.contains(payload), "{what}: an untouched frame was lost");
    }
    assert!(lost == 0 || damaged > 0, "{what}: loss without a word");
}

#[test]
fn any_flipped_bit_lost_byte_or_added_byte_loses_only_what_it_touches_and_is_told() {
    let log = small();
    let (written, damaged) = payloads(&log);
    let frames = frames(&log);
    assert_eq!((written.len(), damaged), (frames.len(), 0));
    println!("{} bytes, {} frames", log.len(), frames.len());
    for (index, (begin, end)) in frames.iter().enumerate() {
        for at in *begin..*end {
            // A delimiter belongs to the frames on both of its sides.
            let touched = if at + 1 == *end {
                vec![index, index + 1]
            } else {
                vec![index]
            };
            for bit in 0..8 {
                let mut harmed = log.clone();
                harmed[at] ^= 1 << bit;
                check(&written, &touched, &harmed, &format!("bit {bit} of byte {at}"));
            }
            let mut harmed = log.clone();
            harmed.remove(at);
            check(&written, &touched, &harmed, &format!("without byte {at}"));
            for added in [0, 1, 0x7F, 0xFF, log[at]] {
                let mut harmed = log.clone();
                harmed.insert(at, added);
                check(&written, &touched, &harmed, &format!("{added} before byte {at}"));
            }
        }
    }
}

#[test]
fn a_log_cut_anywhere_gives_everything_before_the_cut_and_says_what_was_torn() {
    let log = small();
    let whole = entries(&log);
    for length in 1..log.len() {
        let cut = &log[..length];
        let complete = cut.iter().filter(|byte| **byte == 0).count();
        match LogReader::open(cut) {
            Err(LogError::NotALog { .. }) => assert_eq!(complete, 0, "{length}"),
            Err(error) => panic!("{length}: {error}"),
            Ok(reader) => {
                let read: Vec<Entry> = reader.collect::<Result<_, _>>().expect("readable");
                assert_eq!(read[..complete], whole[..complete], "{length}");
                let torn = read
                    .iter()
                    .filter(|entry| matches!(entry.what, What::Damaged(_)))
                    .count();
                assert_eq!(torn, usize::from(log[length - 1] != 0), "{length}");
                assert_eq!(read.len(), complete + torn, "{length}");
            }
        }
    }
}

#[test]
fn a_damaged_frame_is_told_by_its_place_and_the_record_by_its_absence() {
    let mut log = small();
    let (begin, end) = frames(&log)[9];
    log[begin + 2] ^= 0x10;
    let found = entries(&log);
    let place = found
        .iter()
        .find_map(|entry| match entry.what {
            What::Damaged(damage) => Some((damage.offset, damage.bytes)),
            _ => None,
        })
        .expect("told");
    assert_eq!(place, (begin as u64, (end - begin) as u64));
    assert!(found.iter().any(|entry| entry.what == What::Missing(1)));
    let mut summary = Summary::new();
    found.iter().for_each(|entry| summary.take(entry));
    assert_eq!(
        (summary.damage_count, summary.missing_records, summary.gap_count),
        (1, 1, 1)
    );
    let outcome = replay(&log, Start::Logged);
    assert!(!outcome.inexact.is_empty(), "a replay says that a record is missing");
}

#[test]
fn a_repeated_and_a_late_record_are_used_once() {
    let log = small();
    let frames = frames(&log);
    let piece = |index: usize| log[frames[index].0..frames[index].1].to_vec();
    let order = (0..12).chain([11, 11, 5]).chain(12..frames.len());
    let shuffled: Vec<u8> = order.flat_map(piece).collect();
    let repeated = entries(&shuffled)
        .iter()
        .filter(|entry| matches!(entry.what, What::Repeated(_)))
        .count();
    assert_eq!(repeated, 3);
    assert!(replay(&shuffled, Start::Logged).is_equal());
}

#[test]
fn files_that_are_no_logs_are_refused_with_the_reason() {
    assert!(matches!(LogReader::open(&b""[..]), Err(LogError::Empty)));
    let text = "time_s,lift\n0,1\n".repeat(200_000);
    let Err(LogError::NotALog { looked_at }) = LogReader::open(text.as_bytes()) else {
        panic!("text is no log");
    };
    assert!(looked_at < 2_000_000, "a long file is not read to its end: {looked_at}");
    let zeros = vec![0u8; 100_000];
    assert!(matches!(
        LogReader::open(zeros.as_slice()),
        Err(LogError::NotALog { .. })
    ));
    // A header of format 300, framed properly.
    let mut payload = vec![0, 0];
    payload.extend(risertrim::record::MAGIC);
    payload.extend([0xAC, 0x02, 9, 9, 9]);
    let mut room = [0; 64];
    let length = risertrim::frame::encode_bytes(&payload, &mut room).expect("64 bytes");
    let newer = LogReader::open(&room[..length]);
    assert!(
        matches!(newer, Err(LogError::Newer { format: 300, offset: 0 })),
        "{newer:?}"
    );
}

#[test]
fn plans_keep_what_they_promise_and_their_size_is_told() {
    for (name, plan) in [
        ("whole", Plan::WHOLE),
        ("usual", Plan::USUAL),
        ("sparing", Plan::SPARING),
        ("on change", Plan::ON_CHANGE),
    ] {
        let log = log_of("default", 4.0, plan);
        println!("{name}: {} bytes an hour", log.len() / 4);
        let mut summary = Summary::new();
        let all = entries(&log);
        all.iter().for_each(|entry| summary.take(entry));
        assert_eq!(
            (summary.damage_count, summary.gap_count, summary.starts),
            (0, 0, 1),
            "{name}"
        );
        assert!(
            (14_395.0..=14_400.0).contains(&summary.span_s) || name == "on change",
            "{name}: {}",
            summary.span_s
        );
        // Commands are there whatever the plan.
        let commands = scenario("default").happenings(4.0 * 3600.0).len();
        assert!(summary.commands as usize <= commands);
        // Every record with readings carries pressure, sump level, curves and air reference.
        for entry in &all {
            if let What::Record(HostRecord::Readings(readings)) = &entry.what {
                let seen = readings.basis.seen.expect("after a step");
                assert!(seen.manifold_pa > 1000.0 && seen.sump_m > 0.3, "{name}: {seen:?}");
                assert_ne!(readings.basis.curves, 0);
            }
        }
    }
}

#[test]
fn means_of_readings_are_the_means_of_what_was_read() {
    let whole = entries(&log_of("default", 0.1, Plan::WHOLE));
    let sparing = entries(&log_of("default", 0.1, Plan::SPARING));
    let readings = |entries: &[Entry]| -> Vec<(u16, f64)> {
        entries
            .iter()
            .filter_map(|entry| match &entry.what {
                What::Record(HostRecord::Readings(readings)) => match readings.levels.first() {
                    Some(risertrim::record::Logged::Number(raw)) => Some((readings.over, f64::from(*raw))),
                    _ => None,
                },
                _ => None,
            })
            .collect()
    };
    let all = readings(&whole);
    let mut from = 0;
    for (over, mean) in readings(&sparing) {
        let over = usize::from(over);
        let own = all[from..from + over].iter().map(|(_, raw)| raw).sum::<f64>() / over as f64;
        assert!((own - mean).abs() < 1e-4 * own.abs().max(1.0), "{own} {mean}");
        from += over;
    }
    assert!(from > 300, "{from}");
}

#[test]
fn a_log_of_format_1_written_once_is_still_read() {
    let frozen = include_bytes!("logs/format_1.rtlog");
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

#[test]
fn a_sink_that_is_full_for_a_while_leaves_a_gap_with_its_size() {
    use risertrim::record::{Recorder, Refused, Sink};
    struct Sometimes {
        inner: FileSink<Vec<u8>>,
        refuses: bool,
    }
    impl Sink for Sometimes {
        fn put(&mut self, frame: &[u8]) -> Result<(), Refused> {
            if self.refuses {
                Err(Refused)
            } else {
                self.inner.put(frame)
            }
        }
    }
    let scenario = scenario("one_lift");
    let mut controller = Simulation::controller(&scenario).expect("it starts");
    let mut recorder = Recorder::<12, 12, 8192>::new(Plan::WHOLE, "test");
    let mut sink = Sometimes {
        inner: FileSink::new(Vec::new()),
        refuses: false,
    };
    let began = risertrim::record::Began::Started(risertrim::record::ResetCause::PowerOn);
    recorder.begin(began, &scenario.told, &[], &mut sink);
    let mut readings = risertrim::Readings::default();
    for step in 0..20 {
        sink.refuses = (5..8).contains(&step);
        readings.now = readings.now.plus(1000);
        let made = controller.step(&readings);
        recorder.step(&readings, &made, &controller, &mut sink);
    }
    let log = sink.inner.finish().expect("memory").0;
    let gaps: Vec<u32> = entries(&log)
        .iter()
        .filter_map(|entry| match &entry.what {
            What::Record(HostRecord::Gap(gap)) => Some(gap.records),
            What::Missing(_) => panic!("lost records have no numbers"),
            _ => None,
        })
        .collect();
    assert_eq!(gaps, [6], "three steps of two records");
}
