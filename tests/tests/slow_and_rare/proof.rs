//! A return that clogs, a sensor that drifts and a lift that changed look alike on steady levels; one short stop tells them apart.

use super::{DAY_S, run, shipped, stands};
use risertrim::alarm::Kind;
use risertrim::step::LiftState;
use risertrim_sim::plant::{Change, SensorFault};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;

const HOUR_S: f64 = 3600.0;

/// What came up while it ran, and how many stops were made.
#[derive(Default, Debug)]
struct Seen {
    restricted_s: Option<f64>,
    drifting_s: Option<f64>,
    stops: u32,
}

fn watch(simulation: &mut Simulation, seconds: f64) -> Seen {
    let (mut seen, mut stopped) = (Seen::default(), false);
    let began_s = simulation.time_s();
    run(simulation, seconds, |moment| {
        let after_s = moment.time_s - began_s;
        if stands(moment, Kind::ReturnRestricted) {
            seen.restricted_s.get_or_insert(after_s);
        }
        if stands(moment, Kind::SensorDrifting) {
            seen.drifting_s.get_or_insert(after_s);
        }
        let stops = moment
            .step
            .lifts
            .iter()
            .any(|lift| lift.state == LiftState::StoppedToMeasure);
        seen.stops += u32::from(stops && !stopped);
        stopped = stops;
    });
    seen
}

fn settled(name: &str) -> Simulation {
    let mut simulation = Simulation::new(&shipped(name), 1).unwrap();
    run(&mut simulation, 8.0 * HOUR_S, |_| ());
    simulation
}

/// True flow of a lift over its target, mean of an hour.
fn flow(simulation: &mut Simulation, lift: usize) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    run(simulation, HOUR_S, |moment| {
        sum += moment.truth.lifts[lift].water_m3_s / moment.jobs.lifts[lift].target_m3_s;
        count += 1.0;
    });
    sum / count
}

#[test]
fn a_return_that_clogs_is_proven_by_a_stop_and_let_go_when_it_is_clean() {
    let mut simulation = settled("one_lift");
    let clog = |left| Change::ClogOutlet {
        tank: 1,
        outlet: 0,
        left,
    };
    simulation.begin(clog(0.65), 3.0 * HOUR_S).unwrap();
    let seen = watch(&mut simulation, 12.0 * HOUR_S);
    println!("{seen:?}");
    assert!(
        seen.restricted_s.is_some_and(|after_s| after_s < 9.0 * HOUR_S),
        "{seen:?}"
    );
    assert_eq!(seen.drifting_s, None);
    assert!(seen.stops <= 3, "{seen:?}");
    let held = flow(&mut simulation, 0);
    assert!((held - 1.0).abs() < 0.06, "the lift keeps what it gave: {held}");
    simulation.begin(clog(1.0), 0.0).unwrap();
    run(&mut simulation, 2.0 * HOUR_S, |_| ());
    let moment = simulation.moment();
    assert!(!stands(&moment, Kind::ReturnRestricted) && !stands(&moment, Kind::ReturnSuspect));
    let clean = flow(&mut simulation, 0);
    assert!((clean - 1.0).abs() < 0.04, "{clean}");
}

#[test]
fn a_sensor_that_drifts_up_is_proven_by_the_level_at_which_the_tank_comes_to_rest() {
    let mut simulation = settled("one_lift");
    let fault = SensorFault::Jump(0.02);
    simulation
        .begin(Change::Sensor { tank: 1, fault }, 6.0 * HOUR_S)
        .unwrap();
    let seen = watch(&mut simulation, 12.0 * HOUR_S);
    println!("{seen:?}");
    assert!(seen.drifting_s.is_some(), "{seen:?}");
    assert_eq!(seen.restricted_s, None);
    let held = flow(&mut simulation, 0);
    assert!(held > 0.9, "{held}");
}

#[test]
fn a_return_that_clogs_over_weeks_is_proven_too_and_the_lift_gets_its_air_back() {
    let mut simulation = Simulation::new(&shipped("one_lift"), 1).unwrap();
    run(&mut simulation, 5.0 * DAY_S, |_| ());
    let clog = Change::ClogOutlet {
        tank: 1,
        outlet: 0,
        left: 0.8,
    };
    simulation.begin(clog, 20.0 * DAY_S).unwrap();
    let mut least = 1.0_f64;
    let mut proven = None;
    for day in 0..25 {
        let seen = watch(&mut simulation, DAY_S - HOUR_S);
        assert_eq!(seen.drifting_s, None);
        proven = proven.or(seen.restricted_s.map(|_| day));
        least = least.min(flow(&mut simulation, 0));
    }
    let last = flow(&mut simulation, 0);
    println!("proven on day {proven:?}; least flow {least:.3}, at the end {last:.3}");
    assert!(proven.is_some_and(|day| day < 20), "{proven:?}");
    assert!(least > 0.86 && last > 0.95, "{least} {last}");
}

#[test]
fn a_lift_that_fouls_is_stopped_once_at_most_and_neither_outlet_nor_sensor_is_blamed() {
    let mut simulation = settled("one_lift");
    simulation
        .begin(Change::FoulLift { lift: 0, lost: 0.3 }, 4.0 * HOUR_S)
        .unwrap();
    let seen = watch(&mut simulation, DAY_S);
    println!("{seen:?}");
    assert_eq!((seen.restricted_s, seen.drifting_s), (None, None));
    assert!(seen.stops <= 2, "{seen:?}");
    assert!(stands(&simulation.moment(), Kind::LiftFouling));
}

#[test]
fn a_lift_that_fouls_in_the_default_day_blames_neither_its_outlet_nor_its_sensor() {
    let mut stops = 0;
    for seed in 1..=10 {
        let scenario = Scenario::by_name_or_path("default").unwrap_or_else(|report| panic!("{report}"));
        let mut simulation = Simulation::new(&scenario, seed).unwrap();
        let seen = watch(&mut simulation, DAY_S);
        println!("seed {seed}: {seen:?}");
        assert_eq!((seen.restricted_s, seen.drifting_s), (None, None), "seed {seed}");
        stops += seen.stops;
    }
    assert!(stops > 0, "in some of these days the fouling is looked into");
}

#[test]
fn a_sound_place_makes_no_stop_to_prove_anything() {
    let mut simulation = Simulation::new(&shipped("default"), 1).unwrap();
    let seen = watch(&mut simulation, 4.0 * DAY_S);
    assert_eq!((seen.stops, seen.restricted_s, seen.drifting_s), (0, None, None));
}

#[test]
fn stops_of_lifts_that_share_a_tank_are_as_rare_as_the_accuracy_asked_for_allows() {
    let stops = |accuracy: f32| {
        let mut scenario = shipped("shared_tank");
        scenario.told.settings.share_accuracy = accuracy;
        let mut simulation = Simulation::new(&scenario, 1).unwrap();
        let seen = watch(&mut simulation, 3.0 * DAY_S);
        let off: Vec<f64> = (0..2).map(|lift| (flow(&mut simulation, lift) - 1.0).abs()).collect();
        println!("{accuracy}: {} stops, off by {off:.3?}", seen.stops);
        assert!(
            off.iter().all(|off| *off < f64::from(accuracy).max(0.03) * 2.0),
            "{off:?}"
        );
        seen.stops
    };
    let (fine, rough) = (stops(0.02), stops(0.08));
    assert!(rough >= 1 && 2 * rough <= fine, "{fine} {rough}");
}
