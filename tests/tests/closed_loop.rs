//! The whole loop against the modelled installation, whose true curves, valves and blower differ from what the controller was
//! told. Limits are the promises of the project; the figures reached are printed.

use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{LiftOutcome, Outcome, SharedOutcome, run};

const SEEDS: std::ops::RangeInclusive<u64> = 1..=5;

fn scenario(name: &str) -> Scenario {
    Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"))
}

/// Limits in percent: mean, RMS, and RMS of the estimate.
#[derive(Clone, Copy)]
struct Limits {
    mean: f64,
    rms: f64,
    estimate: f64,
}

fn check_lift(who: &str, lift: &LiftOutcome, limits: Limits) {
    let mean = lift.mean_error_percent().expect("counted");
    let rms = lift.delivered_rms_error_percent.expect("counted");
    let estimate = lift.estimate_rms_error_percent.expect("counted");
    println!(
        "{who}, {}: mean {mean:+.2} %, RMS {rms:.2} %, estimate {estimate:.2} %",
        lift.name
    );
    assert!(mean.abs() <= limits.mean, "{who}, {}: mean {mean:+.2} %", lift.name);
    assert!(rms <= limits.rms, "{who}, {}: RMS {rms:.2} %", lift.name);
    assert!(
        estimate <= limits.estimate,
        "{who}, {}: estimate {estimate:.2} %",
        lift.name
    );
}

fn check_safety(who: &str, outcome: &Outcome) {
    for lift in &outcome.lifts {
        assert_eq!(lift.past_peak_s, 0.0, "{who}: {} past its peak", lift.name);
        assert_eq!(lift.without_air_s, 0.0, "{who}: {} below its air floor", lift.name);
    }
    for tank in &outcome.tanks {
        assert_eq!(tank.spilled_l, 0.0, "{who}: {} spilled", tank.name);
        assert_eq!(tank.dry_s, 0.0, "{who}: {} ran dry", tank.name);
    }
    assert!(
        outcome.counted_share >= 0.8,
        "{who}: only {:.2} counted",
        outcome.counted_share
    );
}

fn day(scenario: &Scenario, seed: u64) -> Outcome {
    run(scenario, None, Some(seed)).expect("the scenario is sound")
}

#[test]
fn the_default_day_is_kept_on_target_with_unknown_truth() {
    let scenario = scenario("default");
    for seed in SEEDS {
        let who = format!("default, seed {seed}");
        let outcome = day(&scenario, seed);
        for lift in &outcome.lifts {
            check_lift(
                &who,
                lift,
                Limits {
                    mean: 3.0,
                    rms: 4.0,
                    estimate: 3.0,
                },
            );
        }
        check_safety(&who, &outcome);
    }
}

#[test]
fn with_outlets_and_areas_exact_little_error_is_left() {
    let mut scenario = scenario("default");
    scenario.truth.outlet_percent = 0.0;
    scenario.truth.area_percent = 0.0;
    for seed in SEEDS {
        let who = format!("default, outlets exact, seed {seed}");
        let outcome = day(&scenario, seed);
        for lift in &outcome.lifts {
            check_lift(
                &who,
                lift,
                Limits {
                    mean: 1.5,
                    rms: 1.5,
                    estimate: 1.0,
                },
            );
        }
    }
}

fn sum_error_percent(shared: &SharedOutcome) -> f64 {
    let target = shared.sum_target_l_min.expect("counted");
    100.0 * (shared.sum_delivered_mean_l_min.expect("counted") / target - 1.0)
}

/// Lifts with a tank of their own 5 % and 8 %; lifts that share one 6 % and 10 %, and their sum 3 %.
fn check_scenario(name: &str) {
    let scenario = scenario(name);
    for seed in SEEDS {
        let who = format!("{name}, seed {seed}");
        let outcome = day(&scenario, seed);
        for lift in &outcome.lifts {
            let shares = outcome.shared.iter().any(|shared| shared.lifts.contains(&lift.name));
            let limits = if shares {
                Limits {
                    mean: 6.0,
                    rms: 10.0,
                    estimate: 10.0,
                }
            } else {
                Limits {
                    mean: 5.0,
                    rms: 8.0,
                    estimate: 8.0,
                }
            };
            check_lift(&who, lift, limits);
        }
        for shared in &outcome.shared {
            let sum = sum_error_percent(shared);
            println!("{who}, {}: sum {sum:+.2} %", shared.tank);
            assert!(sum.abs() <= 3.0, "{who}, {}: sum {sum:+.2} %", shared.tank);
        }
        check_safety(&who, &outcome);
    }
}

#[test]
fn one_lift_between_two_tanks_is_kept_on_target() {
    check_scenario("one_lift");
}

#[test]
fn two_lifts_into_one_tank_are_told_apart_by_short_stops() {
    check_scenario("shared_tank");
}

#[test]
fn eight_lifts_on_a_tight_blower_are_kept_on_target() {
    check_scenario("tight_blower");
}

#[test]
fn where_stops_are_not_allowed_it_says_that_lifts_cannot_be_told_apart_and_keeps_their_sum() {
    let scenario = scenario("shared_tank_no_stops");
    for seed in SEEDS {
        let outcome = day(&scenario, seed);
        let said = outcome
            .alarms
            .iter()
            .filter(|alarm| alarm.kind == "not_told_apart")
            .count();
        assert_eq!(said, 2, "seed {seed}: one for each lift");
        for shared in &outcome.shared {
            let sum = sum_error_percent(shared);
            assert!(sum.abs() <= 3.0, "seed {seed}, {}: sum {sum:+.2} %", shared.tank);
        }
    }
}

#[test]
fn shipped_scenarios_step_every_two_seconds_or_less() {
    for (name, _) in Scenario::shipped() {
        assert!(scenario(name).told.settings.period_ms <= 2000, "{name}");
    }
}

#[test]
fn a_fault_free_day_raises_no_alarm_where_the_blower_suffices() {
    let mut scenario = scenario("default");
    scenario.timeline.clear();
    scenario.truth.blower_percent = 0.0;
    for seed in SEEDS {
        let outcome = day(&scenario, seed);
        let alarms: Vec<_> = outcome
            .alarms
            .iter()
            .map(|alarm| (&alarm.kind, &alarm.subject))
            .collect();
        assert!(alarms.is_empty(), "seed {seed}: {alarms:?}");
    }
}
