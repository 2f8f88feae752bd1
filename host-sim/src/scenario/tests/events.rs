//! Every event there is, and every way we know of to get one wrong.

use super::*;
use crate::plant::SensorFault;

fn with_event(event: &str) -> Result<Scenario, Report> {
    let text = format!("{SHARED}\n[[event]]\nat_h = 13.5\n{event}\n");
    Scenario::parse("event.toml", &text)
}

fn happens(event: &str) -> Happening {
    let scenario = with_event(event).unwrap_or_else(|report| panic!("{event}: {report}"));
    let found = scenario
        .timeline
        .iter()
        .find(|timed| (timed.at_s - 48_600.0).abs() < 1.0);
    found.expect("it is on the timeline").what
}

#[test]
fn every_fault_can_be_written_in_a_scenario() {
    let plant = |change, over_s| Happening::Plant { change, over_s };
    let sensor = |fault| Change::Sensor { tank: 1, fault };
    let carp = "tank = \"carp tank\"\n";
    let large = "lift = \"large\"\n";
    let l_min = 1.0 / 60_000.0;
    for (event, wanted) in [
        (
            format!("{carp}sensor_reads_mm = 9000"),
            plant(sensor(SensorFault::Reads(9.0)), 0.0),
        ),
        (
            format!("{carp}sensor = \"stuck\""),
            plant(sensor(SensorFault::Stuck), 0.0),
        ),
        (
            format!("{carp}sensor = \"missing\""),
            plant(sensor(SensorFault::Missing), 0.0),
        ),
        (
            format!("{carp}sensor_jump_mm = -40\nover_h = 2"),
            plant(sensor(SensorFault::Jump(-0.04)), 7200.0),
        ),
        (
            format!("{carp}sensor_noise_times = 10"),
            plant(sensor(SensorFault::Noise(10.0)), 0.0),
        ),
        (
            format!("{carp}sensor_swapped_with = \"sump\""),
            plant(
                Change::SwapSensors {
                    tank: 1,
                    other: 0,
                    swapped: true,
                },
                0.0,
            ),
        ),
        (
            format!("{large}valve_jams_at_percent = 100"),
            plant(Change::JamValve { lift: 0, at: Some(1.0) }, 0.0),
        ),
        (
            format!("{large}valve_reversed = true"),
            plant(
                Change::ReverseValve {
                    lift: 0,
                    reversed: true,
                },
                0.0,
            ),
        ),
        (
            format!("{large}valve_backlash_times = 5"),
            plant(Change::WidenBacklash { lift: 0, times: 5.0 }, 0.0),
        ),
        (
            format!("{large}air_line_off = true"),
            plant(Change::AirLineOff { lift: 0, off: true }, 0.0),
        ),
        (
            format!("{large}check_valve_leak_l_min = 6\nair_loop_mm = 300"),
            plant(
                Change::LeakCheckValve {
                    lift: 0,
                    m3_s: 6.0 * l_min,
                    loop_m: 0.3,
                },
                0.0,
            ),
        ),
        (
            "blower_surge_percent = 20".to_owned(),
            plant(
                Change::SurgeBlower {
                    depth: 0.2,
                    period_s: 6.0,
                },
                0.0,
            ),
        ),
        (
            "intake_blocked_percent = 50".to_owned(),
            plant(Change::BlockIntake { lost: 0.5 }, 0.0),
        ),
        (
            "gauge_shift_kpa = -2\nover_min = 5".to_owned(),
            plant(Change::ShiftGauge { pa: -2000.0 }, 300.0),
        ),
        (
            "water_c = 9.5\nover_h = 100".to_owned(),
            plant(Change::Warm { water_c: 9.5 }, 360_000.0),
        ),
        ("power = \"fails\"".to_owned(), Happening::Board(BoardEvent::PowerFails)),
        ("power = \"back\"".to_owned(), Happening::Board(BoardEvent::PowerBack)),
        ("board = \"stops\"".to_owned(), Happening::Board(BoardEvent::Stops)),
        (
            "board = \"starts\"".to_owned(),
            Happening::Board(BoardEvent::Starts { remembers: true }),
        ),
        (
            "board = \"starts afresh\"".to_owned(),
            Happening::Board(BoardEvent::Starts { remembers: false }),
        ),
        (
            "clock_leaps_s = -90".to_owned(),
            Happening::Board(BoardEvent::ClockLeaps(-90.0)),
        ),
        (
            "clock_wraps = true".to_owned(),
            Happening::Board(BoardEvent::ClockWraps),
        ),
    ] {
        let got = happens(&event);
        let same = match (got, wanted) {
            // A leak of 6 L/min by two ways of rounding.
            (
                Happening::Plant {
                    change: Change::LeakCheckValve { m3_s: a, .. },
                    ..
                },
                Happening::Plant {
                    change: Change::LeakCheckValve { m3_s: b, .. },
                    ..
                },
            ) => (a / b - 1.0).abs() < 1e-12,
            (got, wanted) => got == wanted,
        };
        assert!(same, "{event}: {got:?}");
    }
}

#[test]
fn a_wrong_event_is_refused_with_its_line_its_value_and_what_is_allowed() {
    for (event, wanted) in [
        ("tank = \"carp tank\"\nsensor_noise_times = -1", "allowed: 0 to 1000"),
        ("lift = \"large\"\nvalve_backlash_times = 500", "allowed: 0 to 20"),
        ("intake_blocked_percent = 100", "allowed: 0 to 95"),
        (
            "tank = \"carp tank\"\nsensor_swapped_with = \"carp tank\"",
            "cannot be swapped with itself",
        ),
        (
            "tank = \"carp tank\"\nsensor_swapped_with = \"carptank\"",
            "did you mean \"carp tank\"?",
        ),
        ("power = \"on\"", "there are: \"fails\", \"back\""),
        ("clock_wraps = false", "nothing would happen"),
        ("power = \"fails\"\nlift = \"large\"", "power does not concern a lift"),
        ("clock_leaps_s = 1e9", "allowed: -4000000 to 4000000"),
        ("air_loop_mm = 300", "this event says no action"),
    ] {
        let report = with_event(event).expect_err(event);
        let text = report.to_string();
        let from = SHARED.lines().count();
        assert_eq!(report.faults(), 1, "{event}: {text}");
        assert!(
            report.findings().iter().all(|finding| finding.line > from),
            "{event}: {text}"
        );
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(wanted), "{event}: {text}");
    }
}
