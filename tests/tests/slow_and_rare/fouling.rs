//! The forecast of a cleaning against the day on which the true lift falls under its target.

use super::{DAY_S, run, shipped, stands};
use risertrim::alarm::Kind;
use risertrim_sim::plant::Change;
use risertrim_sim::simulate::Simulation;

/// Days of the run.
const DAYS: u16 = 150;
/// Below this share of its target over a whole day, a lift is truly not made up for any more.
const MISSES: f64 = 0.97;
/// Forecasts count from so many days before the true day on.
const AHEAD: u16 = 28;
/// They may be early by so many days ...
const EARLY_DAYS: f64 = 10.0;
/// ... and late by so many.
const LATE_DAYS: f64 = 10.0;

/// One lift's days.
#[derive(Default)]
struct Days {
    /// Day, forecast in days, percent of clean.
    forecasts: Vec<(u16, u8, u8)>,
    /// The first day on which it truly missed its target.
    missed: Option<u16>,
    /// The first day with an alarm that it fouls.
    said: Option<u16>,
}

/// The fouling lift that others do not take the air from, and the one of the lowest priority.
const SERVED: usize = 1;
const LAST: usize = 2;

#[test]
fn the_day_on_which_a_fouling_lift_falls_under_its_target_is_foreseen_weeks_ahead() {
    let lifts = fouled_lifts();
    assert!(
        lifts[0].forecasts.is_empty(),
        "a lift that stays clean is foreseen nothing: {:?}",
        lifts[0].forecasts
    );
    check_forecasts(&lifts[SERVED]);
    // The last one is foreseen too, as the test below says; here that it is said in time.
    let last = &lifts[LAST];
    assert!(
        last.said
            .zip(last.missed)
            .is_some_and(|(said, missed)| said + 21 <= missed)
    );
}

#[test]
fn the_day_of_the_lift_that_is_served_last_is_foreseen_as_well() {
    check_forecasts(&fouled_lifts()[LAST]);
}

fn fouled_lifts() -> Vec<Days> {
    let scenario = shipped("default");
    let mut simulation = Simulation::new(&scenario, 1).unwrap();
    // The clean lifts learn for a week; then two of the three foul, at paces of their own, and the water warms from winter to summer.
    run(&mut simulation, 7.0 * DAY_S, |_| ());
    for (lift, lost, days) in [(1, 0.6, 140.0), (2, 0.5, 180.0)] {
        simulation.begin(Change::FoulLift { lift, lost }, days * DAY_S).unwrap();
    }
    let water_c = f64::from(scenario.told.site.water_c) + 6.0;
    simulation.begin(Change::Warm { water_c }, 140.0 * DAY_S).unwrap();
    let mut lifts: Vec<Days> = (0..3).map(|_| Days::default()).collect();
    for day in 0..DAYS {
        let mut flow = [0.0; 3];
        let mut steps = 0.0;
        run(&mut simulation, DAY_S, |moment| {
            steps += 1.0;
            for (sum, (truth, job)) in flow.iter_mut().zip(moment.truth.lifts.iter().zip(&moment.jobs.lifts)) {
                *sum += truth.water_m3_s / job.target_m3_s;
            }
        });
        let moment = simulation.moment();
        let said = stands(&moment, Kind::LiftFouling);
        for (index, lift) in lifts.iter_mut().enumerate() {
            let now = &moment.step.lifts[index];
            if let (Some(days), None) = (now.cleaning_days, lift.missed) {
                lift.forecasts.push((day, days, now.percent_of_clean.unwrap()));
            }
            if flow[index] / steps < MISSES && lift.missed.is_none() {
                lift.missed = Some(day);
            }
            if said && lift.said.is_none() {
                lift.said = Some(day);
            }
            if day % 10 == 0 {
                println!(
                    "day {day} lift {index}: {:?} % of clean, {:?} days, factor {:.3}, flow {:.3}, {:?}",
                    now.percent_of_clean,
                    now.cleaning_days,
                    now.delivery,
                    flow[index] / steps,
                    now.state
                );
            }
        }
        if lifts[1..].iter().all(|lift| lift.missed.is_some()) {
            break;
        }
    }
    lifts
}

fn check_forecasts(lift: &Days) {
    let missed = lift.missed.expect("it falls under its target within the run");
    println!("missed on day {missed}, alarm on day {:?}", lift.said);
    let mut off = (0.0_f64, 0.0_f64);
    for (day, days, percent) in lift.forecasts.iter().filter(|(day, ..)| missed - day <= AHEAD) {
        let left = f64::from(missed - day);
        println!("  {left} days before: {percent} % of clean, {days} days foreseen");
        off = (off.0.min(f64::from(*days) - left), off.1.max(f64::from(*days) - left));
    }
    println!("  early by {:.0}, late by {:.0} days at most", -off.0, off.1);
    assert!(
        lift.forecasts.iter().any(|(day, ..)| missed - day >= 21),
        "foreseen three weeks ahead"
    );
    assert!(-off.0 <= EARLY_DAYS && off.1 <= LATE_DAYS, "{off:?}");
}
