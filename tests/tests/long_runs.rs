//! Short versions of the long runs: `risertrim soak` makes the whole ones.

use risertrim_sim::scenario::Scenario;
use risertrim_sim::soak::{calm, hostile, years};

fn places() -> Vec<(String, Scenario)> {
    Scenario::shipped()
        .iter()
        .map(|(name, text)| ((*name).to_owned(), Scenario::parse(name, text).unwrap()))
        .collect()
}

#[test]
fn two_days_without_a_fault_raise_no_alarm() {
    let result = calm(&places(), 2.0, 2, &|_| {}).unwrap();
    assert_eq!(result.runs, 8);
    assert!(result.false_alarms.is_empty(), "{:#?}", result.false_alarms);
}

#[test]
fn hostile_readings_clocks_and_commands_get_sound_answers() {
    let result = hostile(&places(), 200_000, 7, &|_| {});
    assert!(result.commands > 1000);
    assert!(result.faults.is_empty(), "{:#?}", result.faults);
}

#[test]
fn two_months_with_a_season_and_a_cleaning_wrap_the_clock_and_leave_no_trace() {
    let scenario = Scenario::by_name_or_path("default").unwrap();
    let result = years(&scenario, 62, None, &mut |_| {}).unwrap();
    assert_eq!(result.years[0].wraps, 1);
    assert_eq!(result.cleanings.len(), 1, "the first lift was cleaned on day 60");
    let broken = result.broken();
    assert!(broken.is_empty(), "{broken:?}");
    for error in &result.years[0].flow_error_percent {
        assert!(error.abs() < 4.0, "{error}");
    }
}
