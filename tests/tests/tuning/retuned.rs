//! The loop with what was tuned, beside the loop as it was told, on the true place.

use crate::site::{logged, out_of_service, rms_percent, scenario, total};
use risertrim::record::Plan;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::tune::{MOST_SENSITIVITY, decide, fit, read_bytes, wanted};
use std::ops::RangeInclusive;

/// Worse by less than this is no worse, % of a target: a tenth of what outlets that are told within 2 % cost.
const NO_WORSE: f64 = 0.1;

/// RMS of each lift before and after tuning from these logs, as the command does it: with a trial on the fitted place.
fn before_and_after(scenario: &Scenario, logs: &[&[u8]], seed: u64) -> (Vec<f64>, Vec<f64>) {
    let series = read_bytes(logs, None).expect("a log");
    let fitted = fit(&scenario.told, &series, |_| {}).expect("it fits");
    let decision = decide(scenario, &fitted, true).expect("the fitted place runs");
    for shape in decision.proposal.shapes.iter().flatten() {
        let (before, after) = shape.sensitivity;
        assert!(after <= before.max(MOST_SENSITIVITY), "{before} to {after}");
    }
    let before = rms_percent(scenario, seed, 24.0, &scenario.told);
    let after = rms_percent(scenario, seed, 24.0, &decision.proposal.installation);
    println!(
        "seed {seed}: before {before:.2?} after {after:.2?}; {:.2} to {:.2} {}",
        total(&before),
        total(&after),
        decision.note
    );
    (before, after)
}

#[test]
fn a_loop_that_was_told_well_is_no_worse_after_tuning() {
    let scenario = scenario("default");
    for seed in 1..4 {
        let (log, _) = logged(&scenario, seed, 24.0, Plan::USUAL);
        let (before, after) = before_and_after(&scenario, &[&log], seed);
        for (lift, (before, after)) in before.iter().zip(&after).enumerate() {
            assert!(
                *after <= before + NO_WORSE,
                "seed {seed}, lift {lift}: {before:.2} to {after:.2} %"
            );
        }
    }
}

/// Outlets told a quarter off at most, sensors told six times as noisy, valves that hardly move.
fn poorly(mut place: Scenario) -> Scenario {
    place.truth.outlet_percent = 25.0;
    place.told.settings.trim_s = 200.0;
    place.told.settings.valve_deadband = 0.03;
    place.told.settings.move_interval_s = 120;
    place.truth.level_noise_mm = Some(1.0);
    for tank in &mut place.told.tanks {
        tank.sensor.noise_m = 0.006;
    }
    place
}

/// A day is logged and fitted; the small tests that the report asks for are made on the day after; both logs tune the loop.
/// Lifts that got worse.
fn a_quarter_better(place: &Scenario, seeds: RangeInclusive<u64>) -> Vec<String> {
    let (mut first, mut last) = (0.0, 0.0);
    let mut worse = Vec::new();
    for seed in seeds {
        let (day, _) = logged(place, seed, 24.0, Plan::USUAL);
        let series = read_bytes(&[&day], None).expect("a log");
        let asked = wanted(&fit(&place.told, &series, |_| {}).expect("it fits"));
        let stops: Vec<_> = asked.iter().filter(|test| test.tank.is_some()).collect();
        assert!(!stops.is_empty(), "a day without stops tells no outlet well");
        let times = stops.iter().map(|test| test.times).max().unwrap_or(0) as usize;
        let minutes = stops.iter().map(|test| test.minutes).max().unwrap_or(0);
        let tested = out_of_service(place.clone(), times, f64::from(minutes), true);
        let (tests, _) = logged(&tested, seed, 24.0, Plan::USUAL);
        let (before, after) = before_and_after(place, &[&day, &tests], seed);
        first += total(&before);
        last += total(&after);
        for (lift, (before, after)) in before.iter().zip(&after).enumerate() {
            if *after > before + NO_WORSE {
                worse.push(format!("seed {seed}, lift {lift}: {before:.2} to {after:.2} %"));
            }
        }
    }
    println!("all: {first:.2} to {last:.2} %; worse: {worse:?}");
    assert!(last <= 0.75 * first, "{first:.2} to {last:.2} %");
    worse
}

#[test]
fn one_lift_tuned_poorly_is_a_quarter_better_after_tuning() {
    let worse = a_quarter_better(&poorly(scenario("one_lift")), 1..=4);
    assert!(worse.is_empty(), "{worse:?}");
}

/// Seed 1 was refused its settings once: a trial came to each target from one side, where a wide deadband made up by chance for an outlet
/// that passed more than told.
#[test]
fn no_lift_of_three_tuned_poorly_is_worse_after_tuning_and_all_are_a_quarter_better() {
    let worse = a_quarter_better(&poorly(scenario("default")), seeds(1..=8));
    assert!(worse.is_empty(), "{worse:?}");
}

/// These, or those of `RISERTRIM_SEED_RANGE` (`9-16`).
pub fn seeds(usual: RangeInclusive<u64>) -> RangeInclusive<u64> {
    let Ok(range) = std::env::var("RISERTRIM_SEED_RANGE") else {
        return usual;
    };
    let (from, to) = range.split_once('-').expect("FROM-TO");
    from.parse().expect("a seed")..=to.parse().expect("a seed")
}
