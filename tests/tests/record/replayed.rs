//! A replay decides bit by bit what was decided, and says what it could not compare.

use crate::reading::{entries, replay, scenario};
use risertrim::record::Plan;
use risertrim_sim::log::{
    HostRecord, LogReader, LoggedController, Replay, Start, Stretch, Uncompared, What, replay_text, samples,
};
use risertrim_sim::simulate::{Control, Simulation};
use risertrim_tests::logs::log_of;

#[test]
fn a_simulated_log_is_replayed_bit_by_bit() {
    for (name, hours) in [("default", 24.0), ("shared_tank", 8.0), ("tight_blower", 4.0)] {
        let outcome = replay(&log_of(name, hours, Plan::WHOLE), Start::Logged);
        assert!(outcome.is_equal(), "{name}: {outcome:?}");
        assert!(outcome.inexact.is_empty(), "{name}: {:?}", outcome.inexact);
        assert_eq!(outcome.compared, outcome.steps, "{name}: every step was logged");
        assert_eq!(outcome.steps as f64, hours * 3600.0, "{name}");
    }
}

#[test]
fn a_replay_of_a_thinned_log_says_what_it_could_not_compare() {
    for (plan, why) in [
        (Plan::SPARING, Uncompared::MeansOnly),
        (Plan::ON_CHANGE, Uncompared::ReadingsThinned),
    ] {
        let log = log_of("default", 2.0, plan);
        let logged = entries(&log)
            .iter()
            .filter(|entry| matches!(entry.what, What::Record(HostRecord::Step(_))))
            .count() as u64;
        let outcome = replay(&log, Start::Logged);
        assert_eq!(
            outcome.compared + outcome.uncompared_steps(),
            logged,
            "every logged step"
        );
        assert!(outcome.uncompared_steps() > logged / 2, "{why:?}: {outcome:?}");
        assert!(outcome.uncompared.contains_key(&why), "{why:?}: {outcome:?}");
        assert!(!outcome.is_equal(), "{why:?}: what was not compared is not the same");
        assert!(outcome.what_was_compared_is_equal(), "{why:?}: {outcome:?}");
        let text = replay_text(&outcome, &Start::Logged);
        assert!(
            text.contains("could not be compared") && text.contains(&why.to_string()),
            "{text}"
        );
        assert!(!text.contains("The same decisions"), "{text}");
    }
}

#[test]
fn a_replay_with_a_commissioning_in_it_finds_the_same_and_stays_exact() {
    let log = log_of("commission", 6.0, Plan::USUAL);
    let trials = entries(&log)
        .iter()
        .filter(|entry| matches!(entry.what, What::Record(HostRecord::Commissioned(_))))
        .count();
    assert!(trials > 0, "the trial scenario commissions");
    let outcome = replay(&log, Start::Logged);
    assert!(outcome.is_equal(), "{outcome:?}");
    assert!(outcome.inexact.is_empty(), "{:?}", outcome.inexact);
}

#[test]
fn a_restart_in_the_middle_is_replayed_from_what_was_loaded() {
    let scenario = scenario("default");
    let controller = Simulation::controller(&scenario).expect("it starts");
    let logged = LoggedController::new(controller, Plan::WHOLE, Vec::new());
    let mut simulation = Simulation::driven_by(&scenario, 3, logged).expect("it starts");
    for step in 0..3000 {
        if step == 1000 {
            simulation.control_mut().restart(true).expect("it starts again");
        }
        if step == 2000 {
            simulation.control_mut().restart(false).expect("it starts again");
        }
        simulation.step().expect("it runs");
    }
    let log = simulation.into_control().finish().expect("memory takes everything").0;
    let outcome = replay(&log, Start::Logged);
    assert!(outcome.is_equal() && outcome.inexact.is_empty(), "{outcome:?}");
    assert_eq!((outcome.starts, outcome.compared), (3, 3000));
    let cuts: Vec<Stretch> = samples(LogReader::open(log.as_slice()).expect("a log"))
        .filter_map(|sample| sample.expect("readable").begins)
        .collect();
    assert_eq!(cuts.len(), 3, "{cuts:?}");
    assert_eq!(cuts.first(), Some(&Stretch::First));
    assert!(cuts.iter().skip(1).all(|cut| *cut == Stretch::Restarted), "{cuts:?}");
}

#[test]
fn a_changed_setting_and_a_changed_calibration_show_as_differences() {
    let log = log_of("default", 0.5, Plan::USUAL);
    let tuned = replay(&log, Start::Tuned(vec!["trim_s=15.01".to_owned()]));
    assert!(!tuned.is_equal() && !tuned.first.is_empty(), "{tuned:?}");
    let mut other = scenario("default").told;
    other.lifts[0].calibration.losses *= 1.000_1;
    let calibrated = replay(&log, Start::With(Box::new(other)));
    assert!(!calibrated.is_equal() && !calibrated.first.is_empty(), "{calibrated:?}");
    let unchanged = replay(&log, Start::Tuned(vec!["trim_s=15".to_owned()]));
    assert!(unchanged.is_equal(), "the setting it had: {unchanged:?}");
}

#[test]
fn a_flipped_bit_in_a_reading_with_a_right_checksum_shows_as_a_difference() {
    // The replay itself must notice what no checksum can: one reading of another sensor, properly framed.
    let log = log_of("default", 0.2, Plan::WHOLE);
    let mut replay = Replay::new(Start::Logged);
    let mut changed = false;
    for mut entry in entries(&log) {
        if let What::Record(HostRecord::Readings(readings)) = &mut entry.what
            && readings.basis.now.0 > 300_000
            && !changed
        {
            readings.levels.swap(0, 1);
            changed = true;
        }
        replay.take(&entry).expect("its own settings");
    }
    let outcome = replay.finish().0;
    assert!(changed && !outcome.is_equal());
    assert!((300.0..302.0).contains(&outcome.first_s), "{}", outcome.first_s);
}
