//! Logs as they come: with gaps, restarts, damage, thinned out, in several files.

use crate::site::{logged, out_of_service, scenario, with_stops};
use risertrim::record::Plan;
use risertrim_sim::tune::{Fitted, fit, read_bytes};

fn fitted(logs: &[&[u8]]) -> Fitted {
    let scenario = scenario("default");
    let series = read_bytes(logs, None).expect("a log");
    fit(&scenario.told, &series, |_| {}).expect("it fits")
}

/// The filter's outlet, which is told in every one of these logs.
fn outlet(fitted: &Fitted) -> risertrim_sim::tune::Estimate {
    fitted.tanks[2].outlets[0].times_told
}

#[test]
fn gaps_damage_and_several_files_lose_what_is_missing_and_no_more() {
    let place = with_stops(scenario("default"), 15.0);
    let (log, truth) = logged(&place, 5, 8.0, Plan::USUAL);
    let truth = truth.outlets[2].1.expect("water runs");
    let whole = fitted(&[&log]);
    assert!(
        outlet(&whole).told && outlet(&whole).holds(truth),
        "{:?}",
        outlet(&whole)
    );
    assert_eq!((whole.counted.gaps, whole.counted.restarts), (0, 0));

    // A tenth of the log lost in the middle, and a thousand damaged bytes elsewhere.
    let tenth = log.len() / 10;
    let mut harmed = [&log[..6 * tenth], &log[7 * tenth..]].concat();
    for at in 0..1000 {
        harmed[8 * tenth + 7 * at] ^= 0x10;
    }
    let holed = fitted(&[&harmed]);
    assert!(holed.counted.gaps >= 2, "{:?}", holed.counted);
    assert!(holed.counted.covered_s < whole.counted.covered_s - 0.08 * 8.0 * 3600.0);
    assert!(
        outlet(&holed).told && outlet(&holed).holds(truth),
        "{:?}",
        outlet(&holed)
    );

    // The same log in two files, cut anywhere.
    let cut = log.len() * 3 / 4 + 11;
    let halves = fitted(&[&log[..cut], &log[cut..]]);
    assert!((halves.counted.covered_s - whole.counted.covered_s).abs() < 120.0);
    assert!(
        outlet(&halves).told && outlet(&halves).holds(truth),
        "{:?}",
        outlet(&halves)
    );
}

/// How many deviations each outlet of the default place is beside the truth, `None` where nothing is told of it.
fn beside(times: usize, minutes: f64, by_hand: bool, seed: u64) -> Vec<Option<f64>> {
    let mut place = scenario("default");
    place.truth.outlet_percent = 25.0;
    place.truth.level_noise_mm = Some(1.0);
    let stops = out_of_service(place.clone(), times, minutes, by_hand);
    let (log, truth) = logged(&stops, seed, 24.0, Plan::USUAL);
    let found = fitted(&[&log]);
    let of = |tank: usize| {
        let times = found.tanks[tank].outlets[0].times_told;
        let true_one = truth.outlets.iter().find(|(name, _)| *name == (tank, 0));
        let off = (times.value / true_one?.1?).ln() / times.sigma;
        println!(
            "seed {seed}, tank {tank}: {:.3} +- {:.3}, {off:+.2} deviations off, told {}",
            times.value, times.sigma, times.told
        );
        times.told.then_some(off)
    };
    (1..4).map(of).collect()
}

#[test]
fn short_stops_tell_outlets_a_quarter_off_within_their_intervals() {
    // Once a short stop in whose middle the level was taken for that before and after it gave an outlet 25 % off and sure of it.
    let all: Vec<f64> = (2..5).flat_map(|seed| beside(3, 4.0, true, seed)).flatten().collect();
    assert!(all.len() >= 8, "{all:?}");
    assert!(all.iter().all(|off| off.abs() < 3.0), "{all:?}");
    assert!(all.iter().filter(|off| off.abs() > 1.96).count() <= 1, "{all:?}");
}

#[test]
fn stops_with_an_open_hand_valve_are_told_rightly_or_not_at_all() {
    let all: Vec<f64> = (2..5).flat_map(|seed| beside(1, 15.0, false, seed)).flatten().collect();
    assert!(all.iter().all(|off| off.abs() < 3.0), "{all:?}");
}

#[test]
fn a_restart_begins_a_stretch() {
    let mut place = with_stops(scenario("default"), 15.0);
    for (at_s, event) in [
        (6.0 * 3600.0, risertrim_sim::scenario::BoardEvent::Stops),
        (
            6.0 * 3600.0 + 300.0,
            risertrim_sim::scenario::BoardEvent::Starts { remembers: true },
        ),
    ] {
        place.timeline.push(risertrim_sim::scenario::Timed {
            at_s,
            repeats_daily: false,
            what: risertrim_sim::scenario::Happening::Board(event),
            line: 0,
        });
    }
    place.timeline.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    let (log, truth) = logged(&place, 6, 8.0, Plan::USUAL);
    let found = fitted(&[&log]);
    assert_eq!(found.counted.restarts, 1);
    let truth = truth.outlets[2].1.expect("water runs");
    assert!(
        outlet(&found).told && outlet(&found).holds(truth),
        "{:?}, {truth}",
        outlet(&found)
    );
}

#[test]
fn a_sparing_log_tells_nothing_wrong() {
    let place = with_stops(scenario("default"), 15.0);
    let (sparing, truth) = logged(&place, 7, 8.0, Plan::SPARING);
    let sparing = fitted(&[&sparing]);
    let truth = truth.outlets[2].1.expect("water runs");
    assert!(outlet(&sparing).holds(truth), "{:?}, {truth}", outlet(&sparing));
    for tank in &sparing.tanks {
        let noise = tank.noise.expect("means tell noise too");
        assert!((noise.sigma_m - 0.001).abs() < 0.000_15, "{noise:?}");
    }
    let (changes, _) = logged(&place, 7, 8.0, Plan::ON_CHANGE);
    let changes = fitted(&[&changes]);
    assert!(changes.counted.thinned && changes.tanks.iter().all(|tank| tank.noise.is_none()));
}

#[test]
#[ignore = "prints how long a million readings take; run with: cargo test --release -p risertrim-tests --test tuning million -- --ignored --nocapture"]
fn a_million_readings_are_fitted_in_seconds() {
    let place = scenario("default");
    let (log, _) = logged(&place, 1, 70.0, Plan::USUAL);
    let start = std::time::Instant::now();
    let series = read_bytes(&[&log], None).expect("a log");
    let read_s = start.elapsed().as_secs_f64();
    let found = fit(&place.told, &series, |_| {}).expect("it fits");
    println!(
        "{} readings: read in {read_s:.1} s, fitted in {:.1} s",
        found.counted.readings,
        start.elapsed().as_secs_f64() - read_s
    );
    assert!(found.counted.readings > 1_000_000);
}
