//! Single moments at which an opening could slip out of its limits or air be forgotten, one test each.

use risertrim::air::Characteristic;
use risertrim::alarm::Kind;
use risertrim::command::Refused;
use risertrim::commission::Refusal;
use risertrim::outlet::{Drain, Law, Outlet};
use risertrim::step::LiftState;
use risertrim::{Command, Controller, Installation, Millis, Opening, Reading, Readings, Step, WaterFlow};
use risertrim_tests::places::one_lift;

/// Steps a controller with steady levels, a second at a time.
struct Desk {
    controller: Controller<1, 2>,
    now: Millis,
}

impl Desk {
    fn new(place: &Installation<1, 2>) -> Self {
        Self {
            controller: Controller::new(place, &[]).unwrap(),
            now: Millis(0),
        }
    }

    fn step_after(&mut self, ms: u32, levels: [Reading; 2]) -> Step<1, 2> {
        self.now = self.now.plus(ms);
        let levels = levels.into_iter().collect();
        self.controller.step(&Readings {
            now: self.now,
            levels,
            manifold: Reading::Missing,
        })
    }

    fn run(&mut self, seconds: u32, levels: [Reading; 2]) -> Step<1, 2> {
        let mut step = self.step_after(1000, levels);
        for _ in 1..seconds {
            step = self.step_after(1000, levels);
        }
        step
    }
}

const STEADY: [Reading; 2] = [Reading::Value(1.0), Reading::Value(0.452)];
const NOTHING: [Reading; 2] = [Reading::Missing; 2];

/// A place whose valve is so large that it always wants less than the least opening, and with a wide deadband.
fn generous(least_opening: f32, most_opening: f32) -> Installation<1, 2> {
    let mut place = one_lift();
    place.lifts[0].valve.characteristic = Characteristic::Linear;
    place.lifts[0].valve.conductance_m3_s_pa = 1.0e-6;
    place.settings.valve_deadband = 0.05;
    (place.settings.least_opening, place.settings.most_opening) = (least_opening, most_opening);
    place
}

#[test]
fn the_play_of_the_gears_never_takes_a_command_past_the_limits() {
    let mut place = one_lift();
    place.lifts[0].valve.backlash = 0.06;
    (place.settings.least_opening, place.settings.most_opening) = (0.3, 0.7);
    let mut desk = Desk::new(&place);
    for wanted in [0.9, 0.1, 0.69, 0.31, 1.0, 0.0] {
        desk.controller
            .command(Command::Manual {
                lift: 0,
                opening: Opening::new(wanted),
            })
            .unwrap();
        let command = desk.run(60, STEADY).lifts[0].command.share();
        assert!((0.3..=0.7).contains(&command), "asked for {wanted}, commands {command}");
    }
}

#[test]
fn a_lift_returned_to_service_opens_at_least_to_the_least_opening_at_once() {
    // A deadband wider than the least opening and a long interval may not keep the valve shut.
    let mut place = generous(0.04, 1.0);
    place.settings.move_interval_s = 600;
    let mut desk = Desk::new(&place);
    desk.run(600, STEADY);
    desk.controller.command(Command::OutOfService { lift: 0 }).unwrap();
    desk.run(60, STEADY);
    desk.controller.command(Command::Automatic { lift: 0 }).unwrap();
    let lift = desk.run(2, STEADY).lifts[0];
    assert!(lift.command.share() >= 0.04, "{lift:?}");
}

#[test]
fn a_lift_returned_to_service_gets_air_even_when_no_level_can_be_read() {
    let place = one_lift();
    let mut desk = Desk::new(&place);
    desk.run(600, STEADY);
    desk.controller.command(Command::OutOfService { lift: 0 }).unwrap();
    desk.run(60, STEADY);
    // All sensors fail while it is being cleaned; then somebody puts it back to work.
    desk.run(300, NOTHING);
    desk.controller.command(Command::Automatic { lift: 0 }).unwrap();
    let lift = desk.run(120, NOTHING).lifts[0];
    assert_eq!(lift.state, LiftState::Fixed);
    assert!(
        lift.command.share() > 0.0 && lift.air >= place.lifts[0].air_floor,
        "fish without air: {lift:?}"
    );
}

#[test]
fn a_hand_moves_the_valve_when_no_level_can_be_read() {
    let mut desk = Desk::new(&one_lift());
    desk.run(600, STEADY);
    let fixed = desk.run(300, NOTHING).lifts[0];
    assert_eq!(fixed.state, LiftState::Fixed);
    let opening = Opening::new(0.9);
    desk.controller.command(Command::Manual { lift: 0, opening }).unwrap();
    // A stroke by hand takes 200 s.
    let lift = desk.run(300, NOTHING).lifts[0];
    assert_eq!((lift.state, lift.command), (LiftState::Manual, opening));
}

#[test]
fn a_trial_of_a_lift_that_is_not_in_automatic_is_refused_with_its_reason() {
    for command in [
        Command::Manual {
            lift: 0,
            opening: Opening::new(0.4),
        },
        Command::OutOfService { lift: 0 },
    ] {
        let mut desk = Desk::new(&one_lift());
        desk.run(600, STEADY);
        desk.controller.command(command).unwrap();
        let asked = desk.controller.command(Command::Commission { lift: 0 });
        assert_eq!(asked, Err(Refused::NotPossible(Refusal::NotAutomatic)));
        desk.controller.command(Command::Automatic { lift: 0 }).unwrap();
        assert_eq!(desk.controller.command(Command::Commission { lift: 0 }), Ok(()));
        // Taken by hand before its turn came: it ends, and says so.
        desk.controller.command(command).unwrap();
        desk.run(2, STEADY);
        assert!(desk.controller.trial().is_none());
        let outcome = desk
            .controller
            .take_outcome()
            .expect("a trial asked for ends with an outcome");
        assert_eq!((outcome.lift, outcome.curve), (0, Err(Refusal::NotAutomatic)));
    }
}

#[test]
fn a_saved_opening_outside_the_limits_is_not_commanded() {
    let place = generous(0.3, 0.7);
    for opening in [0.0, 0.28, 0.72, 1.0] {
        let saved = risertrim::controller::Learned::new(0.9, 0.05, Opening::new(opening));
        let mut controller = Controller::<1, 2>::new(&place, &[saved]).unwrap();
        for levels in [NOTHING, STEADY] {
            let levels = levels.into_iter().collect();
            let step = controller.step(&Readings {
                now: Millis(0),
                levels,
                manifold: Reading::Missing,
            });
            let command = step.lifts[0].command.share();
            assert!((0.3..=0.7).contains(&command), "saved {opening}, commands {command}");
        }
    }
}

#[test]
fn a_time_that_stands_still_for_a_step_does_not_spoil_the_trim() {
    // With and without a delay of the trim: a step of no length and a delay of none make a share of nothing over nothing.
    for trim_s in [0.0, 15.0] {
        let mut place = one_lift();
        place.settings.trim_s = trim_s;
        let mut desk = Desk::new(&place);
        let before = desk.run(1200, STEADY).lifts[0].wanted_air.m3_s;
        desk.step_after(0, STEADY);
        let after = desk.run(60, STEADY).lifts[0].wanted_air.m3_s;
        assert!(
            (after / before - 1.0).abs() < 0.05,
            "trim {trim_s} s: {before} then {after}"
        );
    }
}

#[test]
fn the_counter_may_wrap_without_a_trace() {
    let place = one_lift();
    let (mut plain, mut wraps) = (Desk::new(&place), Desk::new(&place));
    wraps.now = Millis(u32::MAX - 300_000);
    for _ in 0..600 {
        let (a, b) = (plain.step_after(1000, STEADY), wraps.step_after(1000, STEADY));
        assert_eq!((a.lifts, a.tanks, a.alarms), (b.lifts, b.tanks, b.alarms));
    }
}

#[test]
fn a_new_calibration_of_a_running_lift_moves_its_valve_by_no_bump() {
    let mut desk = Desk::new(&one_lift());
    let before = desk.run(1800, STEADY);
    let mut recalibrated = one_lift();
    recalibrated.lifts[0].calibration.slip = 1.3;
    desk.controller.exchange(&recalibrated).unwrap();
    let after = desk.step_after(1000, STEADY);
    let (old, new) = (&before.lifts[0], &after.lifts[0]);
    assert!(
        (new.flow.m3_s / old.flow.m3_s - 1.0).abs() < 0.02,
        "{} L/min, then {} L/min",
        old.flow.l_min(),
        new.flow.l_min()
    );
    let moved = (new.command.share() - old.command.share()).abs();
    assert!(moved < 0.05, "the valve jumped by {moved} of its stroke");
    assert!((after.tanks[1].level_m - before.tanks[1].level_m).abs() < 0.002);
    assert!(
        desk.controller.installation().to_installation().lifts[0]
            .calibration
            .slip
            > 1.2
    );
}

#[test]
fn an_exchange_keeps_a_commanded_target_unless_it_tells_another_one() {
    let mut place = one_lift();
    let mut desk = Desk::new(&place);
    desk.run(600, STEADY);
    let told = place.lifts[0].target;
    let [commanded, later] = [0.6, 0.8].map(|share| WaterFlow::from_m3_s(share * told.m3_s));
    let flow = commanded;
    desk.controller.command(Command::Target { lift: 0, flow }).unwrap();
    place.settings.trim_s = 20.0;
    desk.controller.exchange(&place).unwrap();
    assert_eq!(desk.run(1800, STEADY).lifts[0].target, commanded);
    place.lifts[0].target = later;
    desk.controller.exchange(&place).unwrap();
    assert_eq!(desk.run(1800, STEADY).lifts[0].target, later);
}

#[test]
fn an_exchange_says_of_an_overflow_that_became_too_small_as_a_start_does() {
    let says = |step: &Step<1, 2>| step.alarms.iter().any(|alarm| alarm.kind == Kind::OverflowTooSmall);
    // Its receiver drains through a notch of a third of the angle, clogged to a tenth, below a rim that is near.
    let mut narrow = one_lift();
    narrow.tanks[1].rim_m = 0.62;
    narrow.tanks[1].outlets[0] = Outlet {
        to: Drain::Tank(0),
        law: Law::VNotch {
            crest_m: 0.4,
            angle_deg: 20.0,
        },
        coefficient: 0.1,
    };
    assert!(says(&Desk::new(&narrow).run(2, STEADY)));
    let mut desk = Desk::new(&one_lift());
    assert!(!says(&desk.run(7200, STEADY)), "the wide one carries it");
    desk.controller.exchange(&narrow).unwrap();
    assert!(says(&desk.run(2, STEADY)));
    assert!(!says(&desk.run(3700, STEADY)), "a note of an hour");
}

#[test]
fn an_installation_with_a_fault_is_refused_and_the_old_one_runs_on() {
    let mut desk = Desk::new(&one_lift());
    let before = desk.run(600, STEADY);
    let mut faulty = one_lift();
    faulty.lifts[0].riser.bore_m = f32::NAN;
    assert!(desk.controller.exchange(&faulty).is_err());
    assert!(desk.controller.begin(&faulty, &[]).is_err());
    let after = desk.step_after(1000, STEADY);
    assert_eq!(after.lifts[0].command, before.lifts[0].command);
    assert_eq!(desk.controller.installation(), &one_lift());
}

#[test]
fn a_controller_before_its_installation_steps_and_gives_nothing() {
    let mut controller = Controller::<1, 2>::idle();
    for second in 0..100u32 {
        let step = controller.step(&Readings {
            now: Millis(second * 1000),
            levels: STEADY.into_iter().collect(),
            manifold: Reading::Value(12_000.0),
        });
        assert!(step.lifts.is_empty() && step.tanks.is_empty());
        assert!(step.manifold_pa.is_finite());
    }
    controller.begin(&one_lift(), &[]).unwrap();
    let mut fresh = Controller::new(&one_lift(), &[]).unwrap();
    for second in 100..200u32 {
        let readings = Readings {
            now: Millis(second * 1000),
            levels: STEADY.into_iter().collect(),
            manifold: Reading::Missing,
        };
        assert_eq!(controller.step(&readings), fresh.step(&readings), "at {second} s");
    }
}
