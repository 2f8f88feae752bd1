//! What each fault does to the water and the air.

use super::example::three_lifts;
use super::tests::unaccounted_m3;
use super::*;

const OPEN: [f64; 3] = [0.5; 3];

fn settled() -> Plant {
    let mut plant = Plant::new(three_lifts()).expect("the example is sound");
    plant.advance(1800.0, &OPEN);
    plant
}

fn begin(plant: &mut Plant, change: Change) {
    plant.begin(change, 0.0).expect("the part is there");
}

#[test]
fn a_lift_whose_source_stands_above_its_outlet_runs_without_air() {
    let mut plant = settled();
    begin(&mut plant, Change::RunBlower { on: false });
    plant.advance(60.0, &OPEN);
    assert!(plant.state().lifts.iter().all(|lift| lift.water_m3_s <= 0.0));
    // 0.6 m3 into the sump of 3 m2 raises it above the outlets at 1.17 to 1.2 m.
    begin(&mut plant, Change::TopUp { tank: 0, m3: 0.6 });
    plant.advance(5.0, &[0.0; 3]);
    for lift in &plant.state().lifts {
        assert!(lift.air_m3_s == 0.0 && lift.water_m3_s > 1e-5, "{lift:?}");
    }
}

#[test]
fn with_the_air_off_water_returns_through_a_drowned_outlet_and_stops_at_its_invert() {
    let mut spec = three_lifts();
    // The fry lift's outlet 30 mm under the tank's water, and no other way out of the tank.
    spec.lifts[0].outlet_m = spec.tanks[1].floor_m + spec.tanks[1].start_m - 0.03;
    spec.tanks[1].outlets.clear();
    let mut plant = Plant::new(spec).expect("sound");
    begin(&mut plant, Change::RunBlower { on: false });
    plant.advance(2.0, &OPEN);
    assert!(plant.state().lifts[0].water_m3_s < -1e-5);
    plant.advance(1800.0, &OPEN);
    let left = plant.state().tanks[1].level_m - (plant.spec().tanks[1].start_m - 0.03);
    assert!((0.0..0.002).contains(&left), "{left}");
}

#[test]
fn a_line_that_came_off_takes_the_blowers_air_and_gives_the_lift_none() {
    let wide = [0.5, 0.9, 0.5];
    let mut plant = settled();
    plant.advance(60.0, &wide);
    let before = plant.state().clone();
    let off = |off| Change::AirLineOff { lift: 1, off };
    begin(&mut plant, off(true));
    plant.advance(10.0, &wide);
    let now = plant.state().clone();
    assert_eq!(now.lifts[1].air_m3_s, 0.0);
    assert!(now.lifts[0].air_m3_s < 0.95 * before.lifts[0].air_m3_s);
    assert!(now.air_m3_s > before.air_m3_s && now.manifold_pa < before.manifold_pa);
    begin(&mut plant, off(false));
    plant.advance(10.0, &wide);
    assert!((plant.state().lifts[1].air_m3_s / before.lifts[1].air_m3_s - 1.0).abs() < 0.05);
}

#[test]
fn a_leaking_check_valve_siphons_when_the_air_stops_unless_the_line_has_a_loop() {
    let siphoned = |loop_m: f64| {
        let mut plant = settled();
        let start = plant.state().volume_m3() - plant.state().water_in_m3 + plant.state().water_out_m3;
        let m3_s = 5.0 / 60_000.0;
        begin(&mut plant, Change::LeakCheckValve { lift: 0, m3_s, loop_m });
        plant.advance(600.0, &OPEN);
        assert!(
            plant.state().lifts[0].air_m3_s > 0.0,
            "nothing happens while there is pressure"
        );
        let before = plant.state().volume_m3();
        begin(&mut plant, Change::RunBlower { on: false });
        plant.advance(3600.0, &OPEN);
        assert!(unaccounted_m3(&plant, start).abs() < 1e-9);
        let lost = before - plant.state().volume_m3();
        // With the air back the line must be pushed clear before the lift has air.
        begin(&mut plant, Change::RunBlower { on: true });
        plant.advance(2.0, &OPEN);
        assert_eq!(plant.state().lifts[0].air_m3_s, 0.0);
        plant.advance(300.0, &OPEN);
        assert!(plant.state().lifts[0].air_m3_s > 0.0);
        lost
    };
    assert!(siphoned(0.3) > 0.15);
    assert_eq!(siphoned(1.5), 0.0);
}

#[test]
fn a_surging_blower_swings_between_all_and_its_trough() {
    let mut plant = settled();
    let steady = plant.state().manifold_pa;
    begin(
        &mut plant,
        Change::SurgeBlower {
            depth: 0.3,
            period_s: 10.0,
        },
    );
    let seen: Vec<f64> = (0..20).map(|_| plant.advance(1.0, &OPEN).manifold_pa).collect();
    let low = seen.iter().copied().fold(f64::INFINITY, f64::min);
    let high = seen.iter().copied().fold(0.0, f64::max);
    assert!(low < 0.85 * steady && high > 0.98 * steady && high < 1.02 * steady);
}

#[test]
fn a_blocked_intake_weakens_all_lifts_and_a_slow_blower_takes_less_power() {
    let mut plant = settled();
    let before = plant.state().clone();
    begin(&mut plant, Change::BlockIntake { lost: 0.4 });
    plant.advance(5.0, &OPEN);
    assert!(
        plant
            .state()
            .lifts
            .iter()
            .zip(&before.lifts)
            .all(|(now, then)| now.air_m3_s < then.air_m3_s)
    );
    begin(&mut plant, Change::BlockIntake { lost: 0.0 });
    plant.drive_blower(0.9, 1.0);
    plant.advance(5.0, &OPEN);
    assert!(plant.state().power_w < 0.9 * before.power_w);
    plant.drive_blower(1.0, f64::NAN);
    plant.advance(5.0, &OPEN);
    assert!((plant.state().power_w / before.power_w - 1.0).abs() < 0.01);
}

#[test]
fn swapped_plugs_exchange_two_readings_and_mending_either_puts_both_right() {
    let mut plant = settled();
    let own: Vec<_> = plant.state().tanks.iter().map(|tank| tank.level_m).collect();
    begin(
        &mut plant,
        Change::SwapSensors {
            tank: 3,
            other: 0,
            swapped: true,
        },
    );
    let read = plant.read().level_m.clone();
    assert!((read[0].expect("answers") - own[3]).abs() < 0.006);
    assert!((read[3].expect("answers") - own[0]).abs() < 0.006);
    let fault = SensorFault::Mended;
    begin(&mut plant, Change::Sensor { tank: 0, fault });
    let read = plant.read().level_m.clone();
    assert!((read[3].expect("answers") - own[3]).abs() < 0.006);
}

#[test]
fn a_noisy_sensor_scatters_as_many_times_as_told() {
    let mut plant = settled();
    let fault = SensorFault::Noise(10.0);
    begin(&mut plant, Change::Sensor { tank: 0, fault });
    let level = plant.state().tanks[0].level_m;
    let square: f64 = (0..2000)
        .map(|_| (plant.read().level_m[0].expect("answers") - level).powi(2))
        .sum();
    assert!(((square / 2000.0).sqrt() / 0.010 - 1.0).abs() < 0.06);
}

#[test]
fn warmer_water_is_thinner_and_the_lifts_feel_it_little() {
    let mut plant = settled();
    let before = plant.state().lifts[0].water_m3_s;
    plant
        .begin(Change::Warm { water_c: 32.0 }, 600.0)
        .expect("a temperature");
    plant.advance(1800.0, &OPEN);
    assert!((plant.spec().place.water_c - 32.0).abs() < 0.11);
    let change = plant.state().lifts[0].water_m3_s / before - 1.0;
    assert!(change.abs() > 1e-4 && change.abs() < 0.05, "{change}");
}

#[test]
fn a_fault_without_its_part_or_out_of_its_range_is_refused_and_changes_nothing() {
    let mut plant = settled();
    for change in [
        Change::AirLineOff { lift: 9, off: true },
        Change::ReverseValve {
            lift: 3,
            reversed: true,
        },
        Change::WidenBacklash { lift: 0, times: 21.0 },
        Change::BlockIntake { lost: 1.0 },
        Change::Warm { water_c: 60.0 },
        Change::SwapSensors {
            tank: 0,
            other: 9,
            swapped: true,
        },
        Change::SurgeBlower {
            depth: 0.2,
            period_s: 0.0,
        },
        Change::LeakCheckValve {
            lift: 0,
            m3_s: f64::NAN,
            loop_m: 0.0,
        },
    ] {
        let mut other = plant.clone();
        assert!(other.begin(change, 0.0).is_err(), "{change:?}");
        assert_eq!(other.advance(10.0, &OPEN), plant.clone().advance(10.0, &OPEN));
    }
    plant.advance(1.0, &OPEN);
}
