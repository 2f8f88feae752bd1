//! What comes up in the days that ship with the program: nothing but what happens in them.

use super::DAY_S;
use risertrim::alarm::{Kind, Subject};
use risertrim_sim::plant::Change;
use risertrim_sim::scenario::{Happening, Scenario};
use risertrim_sim::simulate::Simulation;
use risertrim_sim::soak::fault_free;
use std::collections::BTreeSet;

/// A valve that stands nearly as far open as it goes.
const WIDE_OPEN: f64 = 0.95;
/// How long air must be short before it is said, and may be said after it was, s.
const SAID_WITHIN_S: f64 = 900.0;

fn day(name: &str, seeds: std::ops::RangeInclusive<u64>) {
    let scenario = Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"));
    let fouled: BTreeSet<u8> = scenario
        .timeline
        .iter()
        .filter_map(|timed| match timed.what {
            Happening::Plant {
                change: Change::FoulLift { lift, .. },
                ..
            } => u8::try_from(lift).ok(),
            _ => None,
        })
        .collect();
    let mut named = 0;
    for seed in seeds {
        let mut simulation = Simulation::new(&scenario, seed).unwrap();
        let mut seen = BTreeSet::new();
        let mut wide_open_s = f64::NEG_INFINITY;
        while simulation.time_s() < DAY_S {
            let moment = simulation.step().unwrap();
            if moment.truth.lifts.iter().any(|lift| lift.opening > WIDE_OPEN) {
                wide_open_s = moment.time_s;
            }
            for alarm in moment.step.alarms.iter().filter(|alarm| alarm.stands()) {
                let explained = match (alarm.kind, alarm.subject) {
                    (Kind::LiftFouling, Subject::Lift(lift)) => fouled.contains(&lift),
                    (Kind::AirShort, Subject::Place) => moment.time_s - wide_open_s < SAID_WITHIN_S,
                    _ => false,
                };
                if !explained {
                    seen.insert(format!("{:?} of {:?}", alarm.kind, alarm.subject));
                }
                named += u32::from(alarm.kind == Kind::LiftFouling);
            }
        }
        assert!(seen.is_empty(), "{name}, seed {seed}: {seen:?}");
    }
    assert!(named > 0, "what fouls is named");
}

#[test]
fn the_default_day_raises_what_happens_in_it_and_nothing_else() {
    day("default", 1..=20);
}

#[test]
fn the_day_of_one_lift_raises_what_happens_in_it_and_nothing_else() {
    day("one_lift", 1..=20);
}

#[test]
fn the_day_of_a_shared_tank_raises_what_happens_in_it_and_nothing_else() {
    day("shared_tank", 1..=10);
}

#[test]
fn the_day_of_a_tight_blower_raises_what_happens_in_it_and_nothing_else() {
    day("tight_blower", 1..=5);
}

#[test]
fn a_fortnight_without_a_fault_on_eight_lifts_raises_nothing() {
    for seed in [8, 20] {
        let scenario = Scenario::by_name_or_path("tight_blower").unwrap_or_else(|report| panic!("{report}"));
        let mut simulation = Simulation::new(&fault_free(&scenario, 14.0), seed).unwrap();
        super::run(&mut simulation, 14.0 * DAY_S, |moment| {
            let standing: Vec<_> = moment.step.alarms.iter().filter(|alarm| alarm.stands()).collect();
            assert!(
                standing.is_empty(),
                "seed {seed}, day {:.2}: {standing:?}",
                moment.time_s / DAY_S
            );
        });
    }
}
