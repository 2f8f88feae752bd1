//! The whole installation: promises that hold whatever is done to it.

use super::example::three_lifts;
use super::*;

const L_MIN: f64 = 1.0 / 60_000.0;

fn plant() -> Plant {
    Plant::new(three_lifts()).expect("the example is sound")
}

/// Water there was, plus what came, less what went, less what there is, m3.
pub(super) fn unaccounted_m3(plant: &Plant, start_m3: f64) -> f64 {
    let s = plant.state();
    start_m3 + s.water_in_m3 - s.water_out_m3 - s.volume_m3()
}

#[test]
fn the_example_settles_with_every_lift_running_and_nothing_spilled() {
    let mut plant = plant();
    plant.advance(3600.0, &[0.5, 0.5, 0.5]);
    let state = plant.state().clone();
    for (lift, spec) in state.lifts.iter().zip(&plant.spec().lifts) {
        println!(
            "{}: water {:.1} air {:.1} L/min",
            spec.name,
            lift.water_m3_s / L_MIN,
            lift.air_m3_s / L_MIN
        );
        assert!(lift.water_m3_s > 10.0 * L_MIN);
    }
    for tank in &state.tanks {
        println!("level {:.4} m", tank.level_m);
        assert!(tank.spilled_m3 == 0.0 && tank.dry_s == 0.0);
    }
    println!("manifold {:.0} Pa, {:.1} W", state.manifold_pa, state.power_w);
    // In balance: each receiving tank's outlets pass what its lift brings.
    for (lift, tank) in state.lifts.iter().zip(&state.tanks[1..]) {
        assert!((lift.water_m3_s / tank.outflow_m3_s - 1.0).abs() < 0.01);
    }
}

#[test]
fn a_tank_drains_through_a_hole_in_the_exact_time() {
    // t = 2A/(Cd a sqrt(2g)) (sqrt h1 - sqrt h2): 1 m2, 25 mm, 0.5 to 0.1 m: 589.518 s. With inflow, the exact integral:
    // 32 mm, 1 L/s, 50 to 200 mm: 1021.973 s.
    for (bore, inflow, from, to, time) in [
        (0.025, 0.0, 0.5, 0.1, 589.518_287),
        (0.032, 1e-3, 0.05, 0.2, 1_021.973_056),
    ] {
        let mut spec = three_lifts();
        spec.lifts.clear();
        let mut tank = spec.tanks.remove(0);
        // Centre at half a bore up: heads count from it.
        let centre = 0.5 * bore;
        tank.area = Area::Constant(1.0);
        tank.start_m = from + centre;
        tank.inflow_m3_s = inflow;
        tank.outlets = vec![OutletSpec {
            to: None,
            law: OutletLaw::Hole {
                centre_m: centre,
                bore_m: bore,
                cd: 0.61,
            },
            coefficient: 1.0,
        }];
        spec.tanks = vec![tank];
        let mut plant = Plant::new(spec).expect("sound");
        plant.advance(time, &[]);
        let level = plant.state().tanks[0].level_m - centre;
        assert!((level - to).abs() < 2e-6, "{level}");
    }
}

#[test]
fn a_step_cut_in_parts_ends_where_the_whole_one_does() {
    let (mut whole, mut parts) = (plant(), plant());
    for _ in 0..600 {
        whole.advance(1.0, &[0.6, 0.5, 0.7]);
        for _ in 0..10 {
            parts.advance(0.1, &[0.6, 0.5, 0.7]);
        }
    }
    for (a, b) in whole.state().tanks.iter().zip(&parts.state().tanks) {
        assert!((a.level_m - b.level_m).abs() < 2e-4, "{} {}", a.level_m, b.level_m);
    }
}

#[test]
fn the_same_seed_gives_the_same_day_to_the_bit() {
    let (mut a, mut b) = (plant(), plant());
    for k in 0..500 {
        let x = 0.3 + 0.001 * f64::from(k);
        a.advance(1.0, &[x, 0.5, 0.6]);
        b.advance(1.0, &[x, 0.5, 0.6]);
        assert_eq!(a.read(), b.read());
    }
    assert_eq!(a.state(), b.state());
}

#[test]
fn a_fouled_lift_loses_its_share_and_gets_it_back_clean() {
    let mut plant = plant();
    plant.advance(1800.0, &[0.5; 3]);
    let riser = |plant: &Plant| {
        let lift = &plant.lifts[2];
        lift.riser
            .water_m3_s(lift.heads, plant.state.lifts[2].air_m3_s, &mut 0.0)
    };
    let before = riser(&plant);
    let mut fouled = plant.clone();
    fouled
        .begin(Change::FoulLift { lift: 2, lost: 0.25 }, 0.0)
        .expect("a lift");
    assert!((riser(&fouled) / before - 0.75).abs() < 1e-3);
    fouled.begin(Change::CleanLift { lift: 2 }, 0.0).expect("a lift");
    assert!((riser(&fouled) / before - 1.0).abs() < 1e-6);
    // Over twenty hours it creeps.
    plant
        .begin(Change::FoulLift { lift: 2, lost: 0.25 }, 72_000.0)
        .expect("a lift");
    plant.advance(3600.0, &[0.5; 3]);
    let k = plant.lifts[2].riser.fouling_k;
    plant.advance(3600.0, &[0.5; 3]);
    assert!((plant.lifts[2].riser.fouling_k / k - 2.0).abs() < 1e-2);
}

#[test]
fn a_lift_shut_by_hand_has_no_air_and_opens_again() {
    let mut plant = plant();
    plant
        .begin(Change::ShutLift { lift: 0, shut: true }, 0.0)
        .expect("a lift");
    plant.advance(60.0, &[1.0; 3]);
    assert_eq!(plant.state().lifts[0].air_m3_s, 0.0);
    assert_eq!(plant.state().lifts[0].water_m3_s, 0.0);
    plant
        .begin(Change::ShutLift { lift: 0, shut: false }, 0.0)
        .expect("a lift");
    plant.advance(60.0, &[1.0; 3]);
    assert!(plant.state().lifts[0].water_m3_s > 0.0);
}

#[test]
fn a_clogged_return_raises_its_tank_and_a_full_one_spills_what_it_counts() {
    let mut plant = plant();
    plant.advance(1800.0, &[0.5; 3]);
    let level = plant.state().tanks[2].level_m;
    plant
        .begin(
            Change::ClogOutlet {
                tank: 2,
                outlet: 0,
                left: 0.0,
            },
            600.0,
        )
        .expect("an outlet");
    plant
        .begin(
            Change::ClogOutlet {
                tank: 2,
                outlet: 1,
                left: 0.0,
            },
            600.0,
        )
        .expect("an outlet");
    let start = plant.state().volume_m3() - plant.state().water_in_m3 + plant.state().water_out_m3;
    plant.advance(7200.0, &[0.5, 0.9, 0.5]);
    let tank = plant.state().tanks[2];
    assert!(tank.level_m > level + 0.02);
    assert!(tank.spilled_m3 > 0.0, "{}", tank.level_m);
    assert!(unaccounted_m3(&plant, start).abs() < 1e-9);
}

#[test]
fn top_ups_leaks_and_scoops_move_just_what_they_say() {
    let mut plant = plant();
    let start = plant.state().volume_m3();
    plant.begin(Change::TopUp { tank: 0, m3: 0.03 }, 600.0).expect("a tank");
    plant.advance(300.0, &[0.5; 3]);
    assert!((plant.state().volume_m3() - start - 0.015).abs() < 1e-9);
    plant.advance(900.0, &[0.5; 3]);
    assert!((plant.state().volume_m3() - start - 0.03).abs() < 1e-9);
    plant.begin(Change::Leak { tank: 0, m3_s: 1e-5 }, 0.0).expect("a tank");
    plant
        .begin(
            Change::Evaporate {
                tank: 0,
                m3_s: 0.02 / 86_400.0,
            },
            0.0,
        )
        .expect("a tank");
    plant.begin(Change::Scoop { tank: 1, m3: 0.01 }, 0.0).expect("a tank");
    plant.advance(1000.0, &[0.5; 3]);
    let lost = 0.01 + 1000.0 * (1e-5 + 0.02 / 86_400.0);
    assert!((plant.state().volume_m3() - start - 0.03 + lost).abs() < 1e-9);
    assert!(unaccounted_m3(&plant, start).abs() < 1e-9);
}

#[test]
fn a_stopped_blower_stops_the_water_and_a_sag_weakens_it() {
    let mut plant = plant();
    plant.advance(600.0, &[0.5; 3]);
    let well = plant.state().clone();
    plant.begin(Change::SagBlower { left: 0.8 }, 0.0).expect("a blower");
    plant.advance(60.0, &[0.5; 3]);
    assert!(plant.state().lifts[2].air_m3_s < well.lifts[2].air_m3_s);
    plant.begin(Change::RunBlower { on: false }, 0.0).expect("a blower");
    plant.advance(60.0, &[0.5; 3]);
    assert!(
        plant
            .state()
            .lifts
            .iter()
            .all(|l| l.air_m3_s == 0.0 && l.water_m3_s <= 0.0)
    );
    assert_eq!(plant.state().power_w, 0.0);
}

#[test]
fn a_failed_sensor_says_what_its_fault_says() {
    let mut plant = plant();
    let begin = |plant: &mut Plant, fault| {
        plant.begin(Change::Sensor { tank: 1, fault }, 0.0).expect("a sensor");
        plant.advance(5.0, &[0.5; 3]);
        plant.read().level_m[1]
    };
    assert_eq!(begin(&mut plant, SensorFault::Missing), None);
    assert_eq!(begin(&mut plant, SensorFault::Reads(9.9)), Some(9.9));
    let stuck = begin(&mut plant, SensorFault::Stuck);
    plant.begin(Change::Scoop { tank: 1, m3: 0.05 }, 0.0).expect("a tank");
    assert_eq!(plant.read().level_m[1], stuck);
    begin(&mut plant, SensorFault::Mended);
    let jumped = begin(&mut plant, SensorFault::Jump(0.05)).expect("a reading");
    assert!((jumped - plant.state().tanks[1].level_m - 0.05).abs() < 0.006);
}

#[test]
fn a_change_to_a_part_that_is_not_there_is_refused_in_words() {
    let fault = plant()
        .begin(Change::CleanLift { lift: 7 }, 0.0)
        .expect_err("no such lift");
    assert_eq!(fault.to_string(), "change: there is no lift number 7 (counting from 0)");
    let mut spec = three_lifts();
    spec.tanks[1].rim_m = f64::NAN;
    let fault = Plant::new(spec).expect_err("not a number");
    assert!(fault.to_string().starts_with("tank \"fry tank\": rim_m is NaN"));
}

#[test]
fn past_the_peak_is_seen() {
    let mut spec = three_lifts();
    spec.blower.flow_multiplier = 5.0;
    spec.lifts[0].valve.multiplier = 30.0;
    spec.lifts[0].line.bore_m = 0.04;
    spec.lifts[0].diffuser.loss_pa = 10.0;
    let mut plant = Plant::new(spec).expect("sound");
    plant.advance(60.0, &[0.1, 0.5, 0.5]);
    assert!(!plant.state().lifts[0].past_peak);
    plant.advance(60.0, &[1.0, 0.5, 0.5]);
    assert!(plant.state().lifts[0].past_peak);
}

#[test]
fn an_emptied_tank_stays_empty_and_loses_nothing_it_has_not() {
    let mut spec = three_lifts();
    spec.tanks[1].outlets.push(OutletSpec {
        to: None,
        law: OutletLaw::Hole {
            centre_m: 0.0,
            bore_m: 0.06,
            cd: 0.61,
        },
        coefficient: 1.0,
    });
    let mut plant = Plant::new(spec).expect("sound");
    let start = plant.state().volume_m3();
    plant.begin(Change::Leak { tank: 1, m3_s: 2e-3 }, 0.0).expect("a tank");
    plant.advance(3600.0, &[0.0; 3]);
    assert!(plant.state().tanks[1].volume_m3 < 1e-6);
    assert!(plant.state().tanks[1].dry_s > 1000.0);
    assert!(unaccounted_m3(&plant, start).abs() < 1e-9);
}

/// `cargo test --release -p risertrim-sim -- --ignored --nocapture speed`
#[test]
#[ignore = "prints a figure, proves nothing"]
fn speed_of_one_second() {
    let mut plant = plant();
    plant.advance(600.0, &[0.5; 3]);
    for (what, wander) in [("valves still", 0.0), ("valves moving", 0.05)] {
        let before = plant.work();
        let start = std::time::Instant::now();
        let steps = 400_000;
        for k in 0..steps {
            let x = 0.5 + wander * (f64::from(k) * 0.01).sin();
            plant.advance(1.0, &[x, x, 1.0 - x]);
        }
        let each = start.elapsed().as_secs_f64() / f64::from(steps);
        let after = plant.work();
        println!(
            "{what}: {:.2} us for one second; {:.2} Newton steps of the manifold; {} brackets",
            each * 1e6,
            (after.0 - before.0) as f64 / f64::from(steps),
            after.1 - before.1
        );
    }
}
