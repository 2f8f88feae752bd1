//! What a plan keeps, and what a full sink leaves out.

use crate::reading::{entries, scenario};
use risertrim::record::Plan;
use risertrim_sim::log::{Entry, FileSink, HostRecord, Summary, What};
use risertrim_sim::simulate::Simulation;
use risertrim_tests::logs::log_of;

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
fn a_sink_that_is_full_for_a_while_leaves_a_gap_with_its_size() {
    use risertrim::record::{Recorder, Sink, SinkFull};
    struct Sometimes {
        inner: FileSink<Vec<u8>>,
        refuses: bool,
    }
    impl Sink for Sometimes {
        fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
            if self.refuses {
                Err(SinkFull)
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
    recorder.begin(began, controller.installation(), &[], &mut sink);
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
