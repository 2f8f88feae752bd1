//! Tests of the reader: good files, and every way we know of to get one wrong.

mod events;
mod mistakes;

use super::*;
use crate::plant::Change;
use risertrim::Command;

const DEFAULT: &str = include_str!("tests/three_lifts.toml");
const SHARED: &str = include_str!("tests/shared.toml");

/// `text` with one place changed; the place must be there exactly once.
fn changed(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "{from}");
    text.replace(from, to)
}

/// Line of the only place where `text` holds `part`.
fn line_of(text: &str, part: &str) -> usize {
    assert_eq!(text.matches(part).count(), 1, "{part}");
    text[..text.find(part).unwrap()].matches('\n').count() + 1
}

#[test]
fn every_shipped_scenario_reads_without_a_warning_and_steps_every_two_seconds_or_less() {
    assert!(Scenario::shipped().len() >= 4);
    for (name, text) in Scenario::shipped() {
        let scenario = Scenario::parse(name, text).unwrap_or_else(|report| panic!("{report}"));
        assert_eq!(scenario.warnings, Vec::<String>::new(), "{name}");
        assert!(scenario.told.settings.period_ms <= 2000, "{name}");
        assert!((scenario.hours - 24.0).abs() < 1e-9, "{name}");
        for seed in 1..=5 {
            crate::plant::Plant::new(scenario.plant(seed).unwrap()).unwrap();
        }
    }
    for (name, text) in Scenario::trials() {
        Scenario::parse(name, text).unwrap_or_else(|report| panic!("{report}"));
    }
}

#[test]
fn shipped_scenarios_begin_near_rest_with_targets_that_their_lifts_can_reach() {
    for (name, text) in Scenario::shipped().iter().filter(|(name, _)| *name != "default") {
        let scenario = Scenario::parse(name, text).unwrap();
        let told = &scenario.told;
        let start: Vec<f32> = scenario.base.tanks.iter().map(|tank| tank.start_m as f32).collect();
        let mut fed = vec![0.0f32; start.len()];
        for lift in &told.lifts {
            let conditions = told.site.conditions();
            let receiver = told.receiver_above_source_floor_m(lift, start[usize::from(lift.to)]);
            let source = start[usize::from(lift.from)];
            let curve =
                risertrim::lift::Curve::new(&lift.riser, &lift.calibration, &conditions, source, Some(receiver));
            let share = lift.target.m3_s / curve.peak().flow.m3_s;
            assert!((0.39..=0.56).contains(&share), "{name}: {share} of the peak");
            let onset = curve.onset().unwrap();
            assert!(
                lift.air_floor.m3_s <= 0.4 * onset.m3_s,
                "{name}: floor {:?} onset {onset:?}",
                lift.air_floor
            );
            fed[usize::from(lift.to)] += lift.target.m3_s;
        }
        for (tank, fed) in told.tanks.iter().zip(&fed).filter(|(tank, _)| !tank.outlets.is_empty()) {
            let index = told.tanks.iter().position(|other| std::ptr::eq(other, tank)).unwrap();
            let out: f32 = tank
                .outlets
                .iter()
                .map(|outlet| outlet.at(start[index], None).flow_m3_s)
                .sum();
            assert!(
                (out / fed - 1.0).abs() < 0.05,
                "{name}, tank {index}: in {fed}, out {out}"
            );
        }
    }
}

#[test]
fn what_is_left_out_takes_its_documented_default() {
    let scenario = Scenario::parse("default.toml", DEFAULT).unwrap();
    let lift = &scenario.told.lifts[0];
    assert_eq!(lift.riser.darcy_friction, 0.022);
    assert_eq!((lift.riser.entrance_loss, lift.riser.outlet_loss), (0.5, 0.0));
    assert!(lift.may_stop);
    assert_eq!(scenario.told.settings, risertrim::installation::Settings::default());
    assert_eq!(scenario.told.tanks[0].sensor.scale, risertrim::level::Scale::METRES);
    assert_eq!(scenario.told.tanks[1].outlets[0].coefficient, 1.0);
}

#[test]
fn the_controller_and_the_plant_are_told_the_same_in_their_own_units() {
    let mut scenario = Scenario::parse("default.toml", DEFAULT).unwrap();
    scenario.truth = Truth::default();
    let spec = scenario.plant(7).unwrap();
    let close = |a: f32, b: f64| assert!((f64::from(a) - b).abs() <= 1e-6 * b.abs(), "{a} {b}");
    let (told, real) = (&scenario.told.lifts[2], &spec.lifts[2]);
    close(told.riser.bore_m, real.riser.bore_m);
    close(told.valve.conductance_m3_s_pa, real.valve.sonic_m3_s_pa);
    close(told.target.m3_s, 280.0 / 60_000.0);
    assert!((real.riser.bore_m - 0.1036).abs() < 1e-12);
    assert!((real.valve.sonic_m3_s_pa - 14.0e-8).abs() < 1e-18);
    assert_eq!((real.from, real.to, told.from, told.to), (0, 3, 0, 3));
    close(scenario.told.air.curve[1].pressure_pa, spec.blower.points[1].1);
    close(scenario.told.tanks[3].limits.high_act_m, 0.77);
    assert!((spec.tanks[3].start_m - 0.692).abs() < 1e-12);
}

#[test]
fn the_same_seed_gives_the_same_plant_and_another_seed_another() {
    let scenario = Scenario::parse("default.toml", DEFAULT).unwrap();
    assert_eq!(scenario.plant(3).unwrap(), scenario.plant(3).unwrap());
    assert_ne!(scenario.plant(3).unwrap().lifts, scenario.plant(4).unwrap().lifts);
}

#[test]
fn setting_one_spread_to_nothing_leaves_all_other_draws_as_they_were() {
    let mut scenario = Scenario::parse("default.toml", DEFAULT).unwrap();
    let with = scenario.plant(3).unwrap();
    scenario.truth.slip_percent = 0.0;
    scenario.truth.outlet_percent = 0.0;
    let mut without = scenario.plant(3).unwrap();
    for (a, b) in with.lifts.iter().zip(&mut without.lifts) {
        assert_eq!(b.riser.slip_multiplier, 1.0);
        assert_ne!(a.riser.slip_multiplier, 1.0);
        b.riser.slip_multiplier = a.riser.slip_multiplier;
    }
    for (a, b) in with.tanks.iter().zip(&mut without.tanks) {
        b.outlets.clone_from(&a.outlets);
    }
    assert_eq!(with, without);
}

#[test]
fn spreads_are_drawn_evenly_over_their_whole_width() {
    let scenario = Scenario::parse("default.toml", DEFAULT).unwrap();
    let draws: Vec<f64> = (0..2000)
        .map(|seed| scenario.plant(seed).unwrap().lifts[1].valve.multiplier)
        .collect();
    let mean = draws.iter().sum::<f64>() / 2000.0;
    let variance = draws.iter().map(|draw| (draw - mean).powi(2)).sum::<f64>() / 2000.0;
    assert!(draws.iter().all(|draw| (0.7..=1.3).contains(draw)));
    // Even over 0.6: standard deviation 0.6/sqrt(12) = 0.1732; of 2000 draws within about 0.004.
    assert!(
        (mean - 1.0).abs() < 0.012 && (variance.sqrt() - 0.1732).abs() < 0.007,
        "{mean} {variance}"
    );
}

#[test]
fn shutting_a_lift_tells_the_controller_unless_it_is_untold() {
    let scenario = Scenario::parse("default.toml", DEFAULT).unwrap();
    let shut = |scenario: &Scenario| {
        scenario
            .timeline
            .iter()
            .find(|timed| (timed.at_s - 16.0 * 3600.0).abs() < 1.0)
            .unwrap()
            .what
    };
    let change = Change::ShutLift { lift: 1, shut: true };
    assert_eq!(
        shut(&scenario),
        Happening::Both {
            command: Command::OutOfService { lift: 1 },
            change
        }
    );
    let text = changed(DEFAULT, "shut = true", "shut = true\nuntold = true");
    let untold = Scenario::parse("untold.toml", &text).unwrap();
    assert_eq!(shut(&untold), Happening::Plant { change, over_s: 0.0 });
}

#[test]
fn the_timeline_is_in_order_and_daily_happenings_come_again() {
    let text = changed(DEFAULT, "l_min = 150", "l_min = 150\nevery_day = true");
    let scenario = Scenario::parse("daily.toml", &text).unwrap();
    assert!(scenario.timeline.windows(2).all(|pair| pair[0].at_s <= pair[1].at_s));
    let all = scenario.happenings(72.0 * 3600.0);
    assert_eq!(all.len(), scenario.timeline.len() + 2);
    assert!(all.windows(2).all(|pair| pair[0].0 <= pair[1].0));
    let six: Vec<f64> = all
        .iter()
        .filter(|(_, timed)| timed.repeats_daily)
        .map(|(at_s, _)| at_s / 3600.0)
        .collect();
    assert_eq!(six, [6.0, 30.0, 54.0]);
    assert_eq!(scenario.happenings(3600.0).len(), 1);
}

#[test]
fn an_installation_alone_reads_without_run_truth_events_or_starting_levels() {
    let cut = SHARED.find("[truth]").unwrap();
    let mut text: String = SHARED[..cut]
        .lines()
        .filter(|line| !line.starts_with("start_mm"))
        .map(|line| format!("{line}\n"))
        .collect();
    let from = text.find("[run]").unwrap();
    let to = text.find("[air]").unwrap();
    text.replace_range(from..to, "");
    let named = parse_installation("bare.toml", &text).unwrap_or_else(|report| panic!("{report}"));
    assert_eq!(named.lift_names, ["large", "small"]);
    assert_eq!(named.told, Scenario::parse("whole.toml", SHARED).unwrap().told);
    assert!(
        Scenario::parse("bare.toml", &text).is_err(),
        "a scenario needs starting levels"
    );
}

#[test]
fn a_sensor_with_its_own_scale_shows_its_own_unit() {
    let sensor = "start_mm = 1050";
    let text = changed(DEFAULT, sensor, "start_mm = 1050");
    let text = text.replacen(
        "sensor = { noise_mm = 1, resolution_mm = 1 }",
        "sensor = { noise_mm = 1, resolution_mm = 1, level_mm_at_reading = [[4, 0], [20, 1600]] }",
        1,
    );
    let scenario = Scenario::parse("milliamps.toml", &text).unwrap();
    assert!((scenario.raw_reading(0, 0.8) - 12.0).abs() < 1e-5);
    assert!((scenario.told.tanks[0].sensor.scale.level_m(12.0) - 0.8).abs() < 1e-6);
    assert!((scenario.raw_reading(1, 0.8) - 0.8).abs() < 1e-6);
}

#[test]
fn a_scenario_is_found_by_its_name_and_a_wrong_name_gets_help() {
    assert_eq!(Scenario::by_name_or_path("one_lift").unwrap().lift_names, ["trout"]);
    assert_eq!(
        Scenario::by_name_or_path("shared_tank_no_stops")
            .unwrap()
            .lift_names
            .len(),
        2
    );
    let report = Scenario::by_name_or_path("one_lfit").unwrap_err();
    assert!(report.to_string().contains("did you mean one_lift?"), "{report}");
    let report = Scenario::by_name_or_path("nowhere/at_all.toml").unwrap_err();
    assert!(report.to_string().contains("cannot be read"), "{report}");
}
