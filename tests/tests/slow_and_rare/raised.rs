//! Alarms that no ordinary day raises, each brought about by what the alarm says, with the truth of the plant beside it.

use super::{DAY_S, run, shipped, stands};
use risertrim::Command;
use risertrim::alarm::Kind;
use risertrim_sim::plant::Change;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;

/// What is brought about here.
const RARE: [Kind; 6] = [
    Kind::DeadHeaded,
    Kind::AirBelowFloor,
    Kind::RunsBack,
    Kind::CannotBeHeld,
    Kind::OverflowTooSmall,
    Kind::PowerOnBackup,
];

const HOUR_S: f64 = 3600.0;

fn simulation(scenario: &Scenario) -> Simulation {
    Simulation::new(scenario, 1).unwrap()
}

/// A shipped place with words of its file exchanged, on which nothing happens by itself.
fn changed(text: &str, exchange: &[(&str, &str)]) -> Scenario {
    let mut changed = text.to_owned();
    for (from, to) in exchange {
        assert!(changed.contains(from), "{from}");
        changed = changed.replacen(from, to, 1);
    }
    let mut scenario = Scenario::parse("changed", &changed).unwrap_or_else(|report| panic!("{report}"));
    scenario.timeline.clear();
    scenario
}

const ONE_LIFT: &str = include_str!("../../../host-sim/scenarios/one_lift.toml");
const SHARED_TANK: &str = include_str!("../../../host-sim/scenarios/shared_tank.toml");

/// True when the alarm came up within so many seconds.
fn comes_up(simulation: &mut Simulation, kind: Kind, seconds: f64) -> bool {
    let mut came = false;
    run(simulation, seconds, |moment| came |= stands(moment, kind));
    came
}

#[test]
fn a_sound_day_of_the_default_place_raises_none_of_them() {
    let mut simulation = simulation(&shipped("default"));
    run(&mut simulation, DAY_S, |moment| {
        for kind in RARE {
            assert!(!stands(moment, kind), "{}", kind.name());
        }
    });
}

#[test]
fn a_blower_through_which_too_little_passes_is_dead_headed_though_lifts_get_what_the_tanks_allow() {
    let mut scenario = shipped("default");
    let mut before = simulation(&scenario);
    run(&mut before, 2.0 * HOUR_S, |_| ());
    #[allow(clippy::cast_possible_truncation)]
    let usual_m3_s = before.moment().truth.air_m3_s as f32;
    scenario.told.air.least_air_m3_s = 0.9 * usual_m3_s;
    let mut simulation = simulation(&scenario);
    assert!(!comes_up(&mut simulation, Kind::DeadHeaded, 2.0 * HOUR_S));
    // The biggest lift is cleaned: the two others get more air than their targets need, which is not enough.
    simulation.command(Command::OutOfService { lift: 2 }).unwrap();
    simulation.begin(Change::ShutLift { lift: 2, shut: true }, 0.0).unwrap();
    let two =
        |moment: &risertrim_sim::simulate::Moment<'_>| moment.truth.lifts[0].air_m3_s + moment.truth.lifts[1].air_m3_s;
    let needed_m3_s = two(&simulation.moment());
    assert!(comes_up(&mut simulation, Kind::DeadHeaded, 600.0));
    let moment = simulation.moment();
    assert!(moment.truth.air_m3_s < f64::from(scenario.told.air.least_air_m3_s));
    assert!(two(&moment) > 1.1 * needed_m3_s, "{} {needed_m3_s}", two(&moment));
    let spilled: f64 = moment.truth.tanks.iter().map(|tank| tank.spilled_m3).sum();
    assert!(spilled < 1e-6 && moment.truth.lifts.iter().all(|lift| !lift.past_peak));
    simulation.command(Command::Automatic { lift: 2 }).unwrap();
    simulation
        .begin(Change::ShutLift { lift: 2, shut: false }, 0.0)
        .unwrap();
    run(&mut simulation, HOUR_S, |_| ());
    assert!(!stands(&simulation.moment(), Kind::DeadHeaded));
}

#[test]
fn a_blower_too_weak_for_what_the_fish_need_leaves_air_below_the_floor() {
    let mut scenario = changed(SHARED_TANK, &[]);
    let mut before = simulation(&scenario);
    run(&mut before, 2.0 * HOUR_S, |_| ());
    // Fish that need all the air that the lifts get as it is; the blower weakens within two hours.
    for (lift, truth) in scenario.told.lifts.iter_mut().zip(&before.moment().truth.lifts) {
        #[allow(clippy::cast_possible_truncation)]
        let air_m3_s = truth.air_m3_s as f32;
        lift.air_floor.m3_s = air_m3_s;
    }
    let mut simulation = simulation(&scenario);
    assert!(!comes_up(&mut simulation, Kind::AirBelowFloor, 2.0 * HOUR_S));
    simulation.begin(Change::SagBlower { left: 0.4 }, 2.0 * HOUR_S).unwrap();
    let mut came = false;
    while !came && simulation.time_s() < 5.0 * HOUR_S {
        came = comes_up(&mut simulation, Kind::AirBelowFloor, 10.0);
    }
    let moment = simulation.moment();
    let lifts = moment.truth.lifts.iter().zip(&scenario.told.lifts);
    for (truth, told) in lifts {
        println!("{:.5} of {:.5}", truth.air_m3_s, told.air_floor.m3_s);
    }
    println!(
        "{:?}",
        moment
            .step
            .alarms
            .iter()
            .map(|alarm| alarm.kind.name())
            .collect::<Vec<_>>()
    );
    assert!(came);
    assert!(
        moment
            .truth
            .lifts
            .iter()
            .zip(&scenario.told.lifts)
            .any(|(truth, told)| truth.air_m3_s < 0.9 * f64::from(told.air_floor.m3_s))
    );
    simulation.begin(Change::SagBlower { left: 1.0 }, 60.0).unwrap();
    run(&mut simulation, 2.0 * HOUR_S, |_| ());
    assert!(!stands(&simulation.moment(), Kind::AirBelowFloor));
}

#[test]
fn water_runs_back_through_a_drowned_outlet_when_the_blower_stops_and_that_is_said() {
    // The outlet of the trout lift 30 mm under the water of its tank, and a gauge that shows that the air is gone.
    let drowned = [
        ("area_m2 = 0.8", "area_m2 = 4"),
        ("outlet_mm = 1100", "outlet_mm = 1040"),
        (
            "efficiency_percent = 30",
            "efficiency_percent = 30\ngauge_noise_kpa = 0.05",
        ),
    ];
    let mut simulation = simulation(&changed(ONE_LIFT, &drowned));
    assert!(!comes_up(&mut simulation, Kind::RunsBack, 3.0 * HOUR_S));
    simulation.begin(Change::RunBlower { on: false }, 0.0).unwrap();
    let mut back_s = 0.0;
    let mut said_s = None;
    run(&mut simulation, 600.0, |moment| {
        back_s += f64::from(u8::from(moment.truth.lifts[0].water_m3_s < -1e-6));
        if stands(moment, Kind::RunsBack) {
            said_s.get_or_insert(back_s);
        }
    });
    println!("ran back for {back_s} s, said after {said_s:?} s");
    assert!(back_s > 60.0 && said_s.is_some());
    simulation.begin(Change::RunBlower { on: true }, 0.0).unwrap();
    run(&mut simulation, HOUR_S, |_| ());
    assert!(!stands(&simulation.moment(), Kind::RunsBack));
}

#[test]
fn a_lift_that_runs_without_air_into_a_tank_too_full_cannot_be_held_and_that_is_said() {
    // The trout tank is too full from 705 mm on, 1105 mm above the floor of the sump, whose rim is at 1150 mm; it overflows to the drain.
    let low = [
        ("high_warn_mm = 720", "high_warn_mm = 695"),
        ("high_act_mm = 755", "high_act_mm = 705"),
        (
            "to = \"sump\", standpipe = { crest_mm = 740",
            "to = \"away\", standpipe = { crest_mm = 712",
        ),
    ];
    let mut simulation = simulation(&changed(ONE_LIFT, &low));
    assert!(!comes_up(&mut simulation, Kind::CannotBeHeld, 3.0 * HOUR_S));
    // A hose is left running into the sump, and the return is clogged.
    let hose = Change::Inflow {
        tank: 0,
        m3_s: 60.0 / 60_000.0,
    };
    simulation.begin(hose, 0.0).unwrap();
    let clogged = Change::ClogOutlet {
        tank: 1,
        outlet: 0,
        left: 0.0,
    };
    run(&mut simulation, 300.0, |_| ());
    simulation.begin(clogged, 60.0).unwrap();
    let (mut ran_s, mut said_s) = (0.0, None);
    run(&mut simulation, HOUR_S, |moment| {
        let held = moment.step.lifts[0].state == risertrim::step::LiftState::HeldByLevel;
        let still = moment.truth.lifts[0].air_m3_s < 2.0 * f64::from(moment.step.lifts[0].air.m3_s) + 1e-4;
        ran_s += f64::from(u8::from(held && still && moment.truth.lifts[0].water_m3_s > 1e-5));
        if stands(moment, Kind::CannotBeHeld) {
            said_s.get_or_insert(ran_s);
        }
    });
    let moment = simulation.moment();
    println!(
        "levels {:?}",
        moment.truth.tanks.iter().map(|tank| tank.level_m).collect::<Vec<_>>()
    );
    println!(
        "believed {:?}",
        moment.step.tanks.iter().map(|tank| tank.level_m).collect::<Vec<_>>()
    );
    println!("ran while held for {ran_s} s, said after {said_s:?} s");
    assert!(ran_s > 60.0 && said_s.is_some());
}

#[test]
fn an_overflow_too_small_for_open_valves_is_said_at_the_start_and_truly_is() {
    let narrow = [
        (
            "v_notch = { crest_mm = 600, angle_deg = 60 }",
            "standpipe = { crest_mm = 600, bore_mm = 42 }",
        ),
        ("crest_mm = 740, bore_mm = 103.6", "crest_mm = 740, bore_mm = 15"),
        ("rim_mm = 800", "rim_mm = 765"),
    ];
    let scenario = changed(ONE_LIFT, &narrow);
    let mut simulation = simulation(&scenario);
    assert!(comes_up(&mut simulation, Kind::OverflowTooSmall, 60.0));
    run(&mut simulation, 2.0 * HOUR_S, |_| ());
    assert!(
        !stands(&simulation.moment(), Kind::OverflowTooSmall),
        "it is said for the first hour"
    );
    for _ in 0..3600 {
        simulation.step().unwrap();
        simulation.openings_mut().fill(1.0);
    }
    let spilled_m3 = simulation.moment().truth.tanks[1].spilled_m3;
    assert!(spilled_m3 > 0.001, "{spilled_m3}");
}

#[test]
fn a_place_on_its_battery_says_so_until_the_mains_is_back() {
    let mut simulation = simulation(&shipped("default"));
    run(&mut simulation, HOUR_S, |_| ());
    simulation.command(Command::OnBackup(true)).unwrap();
    assert!(comes_up(&mut simulation, Kind::PowerOnBackup, 5.0));
    run(&mut simulation, 600.0, |_| ());
    // What is known of this battery is nothing: air goes to the fish first, at the floors.
    for (lift, told) in simulation
        .moment()
        .truth
        .lifts
        .iter()
        .zip(&shipped("default").told.lifts)
    {
        assert!(lift.air_m3_s >= f64::from(told.air_floor.m3_s), "{lift:?}");
    }
    simulation.command(Command::OnBackup(false)).unwrap();
    run(&mut simulation, 60.0, |_| ());
    assert!(!stands(&simulation.moment(), Kind::PowerOnBackup));
}
