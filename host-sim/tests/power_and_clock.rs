//! Power, board and clock as a scenario can have them fail.

use risertrim::alarm::Kind;
use risertrim_sim::scenario::{BoardEvent, Happening, Scenario};
use risertrim_sim::simulate::Simulation;

fn hours(simulation: &mut Simulation, hours: f64) {
    for _ in 0..(hours * 3600.0) as usize {
        simulation.step().unwrap();
    }
}

fn settled() -> Simulation {
    let mut scenario = Scenario::by_name_or_path("one_lift").unwrap();
    scenario.timeline.clear();
    let mut simulation = Simulation::new(&scenario, 3).unwrap();
    hours(&mut simulation, 2.0);
    simulation
}

fn happen(simulation: &mut Simulation, event: BoardEvent) {
    simulation.let_happen(Happening::Board(event)).unwrap();
}

#[test]
fn without_power_nothing_blows_the_valves_stand_open_and_nobody_is_told() {
    let mut simulation = settled();
    happen(&mut simulation, BoardEvent::PowerFails);
    hours(&mut simulation, 0.1);
    let moment = simulation.moment();
    assert_eq!(moment.truth.lifts[0].air_m3_s, 0.0);
    assert!(moment.truth.lifts[0].opening > 0.999 && moment.step.alarms.is_empty());
}

#[test]
fn a_restart_with_what_was_saved_knows_the_lift_and_one_without_learns_afresh() {
    let after = |remembers| {
        let mut simulation = settled();
        let before = simulation.moment().step.lifts[0].delivery;
        happen(&mut simulation, BoardEvent::Stops);
        hours(&mut simulation, 0.02);
        happen(&mut simulation, BoardEvent::Starts { remembers });
        simulation.step().unwrap();
        (before, simulation.moment().step.lifts[0].delivery)
    };
    let (before, kept) = after(true);
    assert!(
        (before - 1.0).abs() > 0.02,
        "this lift differs from its curve: {before}"
    );
    assert!((kept / before - 1.0).abs() < 0.02);
    assert!((after(false).1 - 1.0).abs() < 0.02);
}

#[test]
fn a_changed_target_outlives_a_power_cut() {
    let mut simulation = settled();
    simulation
        .command(risertrim::Command::Target {
            lift: 0,
            flow: risertrim::WaterFlow::from_l_min(60.0),
        })
        .unwrap();
    hours(&mut simulation, 0.5);
    happen(&mut simulation, BoardEvent::PowerFails);
    hours(&mut simulation, 0.25);
    happen(&mut simulation, BoardEvent::PowerBack);
    hours(&mut simulation, 1.0);
    let l_min = simulation.moment().truth.lifts[0].water_m3_s * 60_000.0;
    assert!((l_min / 60.0 - 1.0).abs() < 0.05, "{l_min}");
}

#[test]
fn a_leap_of_the_clock_is_told_and_a_wrap_passes_without_a_trace() {
    let mut simulation = settled();
    happen(&mut simulation, BoardEvent::ClockWraps);
    simulation.step().unwrap();
    // Setting the counter is itself a leap; what counts is the wrap a minute later.
    hours(&mut simulation, 0.03);
    assert!(simulation.moment().readings.now.0 < 100_000, "it wrapped");
    assert!(
        simulation
            .moment()
            .step
            .alarms
            .iter()
            .all(|alarm| alarm.kind != Kind::ClockJumped)
    );
    let flow = simulation.moment().truth.lifts[0].water_m3_s;
    happen(&mut simulation, BoardEvent::ClockLeaps(-50.0));
    simulation.step().unwrap();
    let moment = simulation.moment();
    assert!(moment.step.alarms.iter().any(|alarm| alarm.kind == Kind::ClockJumped));
    assert!((moment.truth.lifts[0].water_m3_s / flow - 1.0).abs() < 0.02);
}
