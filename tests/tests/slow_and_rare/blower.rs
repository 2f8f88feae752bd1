//! A blower that ages over months, told from one that is sound, from one that sags and from air stones that foul.

use super::{DAY_S, run, stands};
use risertrim::alarm::Kind;
use risertrim_sim::plant::Change;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;

/// The smallest place with a gauge on its manifold, on which nothing happens by itself.
fn with_gauge() -> Scenario {
    let told = include_str!("../../../host-sim/scenarios/one_lift.toml");
    let with = told.replace(
        "efficiency_percent = 30",
        "efficiency_percent = 30\ngauge_noise_kpa = 0.05",
    );
    assert_ne!(with, told);
    let mut scenario = Scenario::parse("one lift with a gauge", &with).unwrap_or_else(|report| panic!("{report}"));
    scenario.timeline.clear();
    scenario
}

/// The first day, of so many, on which each of these stands.
fn first_days(simulation: &mut Simulation, days: u16, kinds: &[Kind]) -> Vec<Option<u16>> {
    let mut first = vec![None; kinds.len()];
    for day in 0..days {
        run(simulation, DAY_S, |moment| {
            for (kind, first) in kinds.iter().zip(&mut first) {
                if first.is_none() && stands(moment, *kind) {
                    *first = Some(day);
                }
            }
        });
    }
    first
}

#[test]
fn a_blower_that_loses_a_fifth_within_six_weeks_is_said_to_age_and_not_to_sag() {
    let mut simulation = Simulation::new(&with_gauge(), 1).unwrap();
    run(&mut simulation, 2.0 * DAY_S, |_| ());
    simulation.begin(Change::SagBlower { left: 0.8 }, 40.0 * DAY_S).unwrap();
    let days = first_days(
        &mut simulation,
        40,
        &[Kind::BlowerAgeing, Kind::PressureLow, Kind::PressureHigh],
    );
    println!(
        "ageing on day {:?} of 40, low {:?}, high {:?}",
        days[0], days[1], days[2]
    );
    // A fifth of pressure and flow is about a tenth of the highest pressure at the air that passes; it is said from 5 % on.
    assert!(days[0].is_some_and(|day| (7..30).contains(&day)), "{days:?}");
    assert_eq!(&days[1..], [None, None]);
    // A new filter, and all is as it was.
    simulation.begin(Change::SagBlower { left: 1.0 }, 0.0).unwrap();
    run(&mut simulation, 3.0 * DAY_S, |_| ());
    assert!(!stands(&simulation.moment(), Kind::BlowerAgeing));
}

#[test]
fn a_sag_within_minutes_is_low_pressure_and_no_ageing() {
    let mut simulation = Simulation::new(&with_gauge(), 1).unwrap();
    run(&mut simulation, 2.0 * DAY_S, |_| ());
    simulation.begin(Change::SagBlower { left: 0.8 }, 600.0).unwrap();
    let days = first_days(&mut simulation, 6, &[Kind::BlowerAgeing, Kind::PressureLow]);
    assert_eq!(days, [None, Some(0)]);
}

#[test]
fn a_sound_blower_from_summer_to_winter_and_back_does_not_age_nor_do_fouling_air_stones_make_it_seem_so() {
    let scenario = with_gauge();
    let mut simulation = Simulation::new(&scenario, 1).unwrap();
    run(&mut simulation, 2.0 * DAY_S, |_| ());
    let middle_c = f64::from(scenario.told.site.water_c);
    // Seasons in four months, three times as fast as they come.
    for quarter in [6.0, -6.0, 6.0] {
        let water_c = middle_c + quarter;
        simulation.begin(Change::Warm { water_c }, 40.0 * DAY_S).unwrap();
        simulation
            .begin(Change::FoulLift { lift: 0, lost: 0.15 }, 40.0 * DAY_S)
            .unwrap();
        simulation
            .begin(Change::FoulDiffuser { lift: 0, times: 4.0 }, 40.0 * DAY_S)
            .unwrap();
        assert_eq!(first_days(&mut simulation, 40, &[Kind::BlowerAgeing]), [None]);
        simulation.begin(Change::CleanLift { lift: 0 }, 0.0).unwrap();
        simulation
            .begin(Change::FoulDiffuser { lift: 0, times: 1.0 }, 0.0)
            .unwrap();
    }
}
