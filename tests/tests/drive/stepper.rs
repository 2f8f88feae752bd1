//! The needle valve on a stepper.

use super::motor::{Motor, Pin as MotorPin, Role};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::delay::{CheckedDelay, NoopDelay, Transaction as Wait};
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction};
use proptest::prelude::*;
use risertrim::drive::{Active, DriveFault, Home, Mechanics, Stepper, ValveDrive};
use risertrim::{Millis, Opening};
use std::cell::RefCell;
use std::rc::Rc;

type Valve = Stepper<MotorPin, MotorPin, NoopDelay, MotorPin, MotorPin>;
type Blind = Stepper<MotorPin, MotorPin, NoopDelay, MotorPin>;

fn mechanics(backlash_steps: u32, home: Home) -> Mechanics {
    Mechanics {
        backlash_steps,
        home,
        ..Mechanics::new(400)
    }
}

fn blind(motor: &Rc<RefCell<Motor>>, mechanics: Mechanics) -> Blind {
    let pin = |role| MotorPin(role, motor.clone());
    Stepper::new(pin(Role::Step), pin(Role::Direction), NoopDelay::new(), mechanics).with_enable(pin(Role::Enable))
}

fn seeing(motor: &Rc<RefCell<Motor>>, mechanics: Mechanics) -> Valve {
    blind(motor, mechanics).with_end_stop(MotorPin(Role::Stop, motor.clone()))
}

/// Polls every 2 ms; gives the faults met.
fn poll(valve: &mut (impl ValveDrive + ?Sized), now: &mut Millis, times: u32) -> Vec<DriveFault> {
    let mut faults = Vec::new();
    for _ in 0..times {
        *now = now.plus(2);
        if let Err(fault) = valve.poll(*now)
            && faults.last() != Some(&fault)
        {
            faults.push(fault);
        }
    }
    faults
}

#[test]
fn a_poll_makes_one_pulse_of_the_stated_length_and_no_more() {
    let pulse = || [Transaction::set(State::High), Transaction::set(State::Low)];
    // Homes wide open without an end stop: direction first, a pulse at every poll after it.
    let mut step = Pin::new(&[pulse(), pulse(), pulse()].concat());
    let mut direction = Pin::new(&[Transaction::set(State::High)]);
    let mut delay = CheckedDelay::new(&[Wait::delay_us(5), Wait::delay_us(5), Wait::delay_us(5)]);
    let mut valve = Stepper::new(step.clone(), direction.clone(), delay.clone(), Mechanics::new(400));
    for ms in [0, 2, 4, 5, 6] {
        valve.poll(Millis(ms)).expect("the pins answer"); // 5 ms is too early for the next step
    }
    step.done();
    direction.done();
    delay.done();
}

#[test]
fn pins_in_error_are_named_and_tried_again() {
    let error = || MockError::Io(std::io::ErrorKind::Other);
    let mut step = Pin::new(&[
        Transaction::set(State::High).with_error(error()), // not begun: made again
        Transaction::set(State::High),
        Transaction::set(State::Low).with_error(error()), // not ended: ended before the next
        Transaction::set(State::Low),
        Transaction::set(State::High),
        Transaction::set(State::Low),
    ]);
    let mut direction = Pin::new(&[
        Transaction::set(State::High).with_error(error()),
        Transaction::set(State::High),
    ]);
    let mut enable = Pin::new(&[
        Transaction::set(State::Low).with_error(error()),
        Transaction::set(State::Low),
    ]);
    let mut valve = Stepper::new(step.clone(), direction.clone(), NoopDelay::new(), Mechanics::new(400))
        .with_enable(enable.clone());
    let outcomes: Vec<_> = (0..6).map(|n| valve.poll(Millis(2 * n))).collect();
    assert_eq!(
        outcomes,
        [
            Err(DriveFault::EnablePin),
            Err(DriveFault::DirectionPin),
            Ok(()), // direction set
            Err(DriveFault::StepPin),
            Err(DriveFault::StepPin),
            Ok(()), // ends the pulse and makes the next
        ]
    );
    step.done();
    direction.done();
    enable.done();
}

#[test]
fn it_homes_from_anywhere_and_then_goes_where_it_was_sent() {
    for home in [Home::Shut, Home::WideOpen] {
        for (backlash, start) in [(0, 0), (0, 400), (7, 123), (7, 399)] {
            for with_stop in [false, true] {
                let motor = Motor::new(400, backlash, start);
                motor.borrow_mut().home_open = home == Home::WideOpen;
                let mechanics = mechanics(u32::try_from(backlash).expect("small"), home);
                let mut now = Millis(u32::MAX - 500);
                let mut valve: Box<dyn ValveDrive> = if with_stop {
                    Box::new(seeing(&motor, mechanics))
                } else {
                    Box::new(blind(&motor, mechanics))
                };
                assert_eq!(valve.position(), None, "nothing is known before homing");
                valve.send(Opening::new(0.25), now).expect("the pins answer");
                assert_eq!(
                    poll(&mut *valve, &mut now, 2000),
                    [],
                    "{home:?} {backlash} {start} {with_stop}"
                );
                assert_eq!(motor.borrow().needle, 100, "{home:?} {backlash} {start} {with_stop}");
                assert_eq!(valve.position(), Some(Opening::new(0.25)));
                assert_eq!(motor.borrow().pulses_without_power, 0);
                assert!(!motor.borrow().powered, "it rests without power");
            }
        }
    }
}

#[test]
fn play_is_taken_up_from_either_side() {
    let motor = Motor::new(400, 12, 200);
    let mut valve = blind(&motor, mechanics(12, Home::WideOpen));
    let mut now = Millis(0);
    for (share, needle) in [
        (0.5, 200),
        (0.6, 240),
        (0.55, 220),
        (0.5525, 221),
        (0.55, 220),
        (1.0, 400),
        (0.0, 0),
    ] {
        valve.send(Opening::new(share), now).expect("the pins answer");
        poll(&mut valve, &mut now, 1500);
        assert_eq!(motor.borrow().needle, needle, "sent to {share}");
    }
}

#[test]
fn lost_steps_are_found_at_the_end_stop_counted_and_homed_away() {
    let motor = Motor::new(400, 5, 10);
    let mut valve = seeing(&motor, mechanics(5, Home::WideOpen));
    let mut now = Millis(0);
    valve.send(Opening::new(0.5), now).expect("the pins answer");
    assert_eq!(poll(&mut valve, &mut now, 2000), []);
    assert_eq!(motor.borrow().needle, 200);
    // Something pushes the needle 40 steps further open than the driver knows.
    motor.borrow_mut().needle = 240;
    valve.send(Opening::WIDE, now).expect("the pins answer");
    assert_eq!(poll(&mut valve, &mut now, 2000), [DriveFault::LostSteps(40)]);
    assert_eq!(motor.borrow().needle, 400);
    assert_eq!(
        valve.send(Opening::new(0.3), now),
        Err(DriveFault::LostSteps(40)),
        "told to who only sends"
    );
    poll(&mut valve, &mut now, 2000);
    assert_eq!(motor.borrow().needle, 120, "and it counts right again");
    assert_eq!(valve.send(Opening::new(0.3), now), Ok(()), "told once");
}

#[test]
fn a_slipping_motor_is_found_out_when_the_stop_is_not_where_it_should_be() {
    let motor = Motor::new(400, 0, 400);
    let mut valve = seeing(&motor, mechanics(0, Home::WideOpen));
    let mut now = Millis(0);
    valve.send(Opening::SHUT, now).expect("the pins answer");
    assert_eq!(poll(&mut valve, &mut now, 2000), []);
    motor.borrow_mut().slips_every = 10;
    valve.send(Opening::WIDE, now).expect("the pins answer");
    let faults = poll(&mut valve, &mut now, 2000);
    assert!(
        matches!(faults.as_slice(), [DriveFault::LostSteps(steps)] if (-45..=-35).contains(steps)),
        "{faults:?}"
    );
    assert_eq!(motor.borrow().needle, 400, "it goes all the way all the same");
}

#[test]
fn a_switch_that_lets_go_late_is_no_lost_step() {
    let motor = Motor::new(400, 0, 200);
    motor.borrow_mut().stop_width = 30;
    let mut valve = seeing(
        &motor,
        Mechanics {
            stroke_steps: 370,
            ..mechanics(0, Home::WideOpen)
        },
    );
    let mut now = Millis(0);
    valve.send(Opening::WIDE, now).expect("the pins answer");
    assert_eq!(poll(&mut valve, &mut now, 2000), []);
    // It lets go 30 steps later than it took hold.
    motor.borrow_mut().stop_width = 60;
    for share in [0.97, 0.99, 0.96, 1.0] {
        valve.send(Opening::new(share), now).expect("the pins answer");
        assert_eq!(poll(&mut valve, &mut now, 500), [], "at {share}");
        motor.borrow_mut().stop_width = if share < 0.97 { 30 } else { 60 };
    }
}

#[test]
fn a_missing_a_stuck_and_an_unreadable_end_stop_are_named_and_the_valve_works_on() {
    for (stuck, unreadable, fault) in [
        (Some(false), false, DriveFault::EndStopNotFound),
        (Some(true), false, DriveFault::EndStopStuck),
        (None, true, DriveFault::EndStopPin),
    ] {
        let motor = Motor::new(400, 3, 170);
        motor.borrow_mut().stop_stuck = stuck;
        motor.borrow_mut().stop_errs = unreadable;
        let mut valve = seeing(&motor, mechanics(3, Home::WideOpen));
        let mut now = Millis(0);
        let _ = valve.send(Opening::new(0.4), now);
        let faults = poll(&mut valve, &mut now, 3000);
        assert!(faults.contains(&fault), "{faults:?}");
        assert_eq!(motor.borrow().needle, 160, "{fault:?}");
        assert!(
            valve.send(Opening::new(0.4), now).is_err(),
            "{fault:?} stands until it is mended"
        );
        // Mended and homed again, it is well.
        motor.borrow_mut().stop_stuck = None;
        motor.borrow_mut().stop_errs = false;
        valve.home();
        poll(&mut valve, &mut now, 3000);
        let _ = valve.send(Opening::new(0.4), now);
        assert_eq!(valve.send(Opening::new(0.4), now), Ok(()), "{fault:?}");
        assert_eq!(motor.borrow().needle, 160, "{fault:?}");
    }
}

#[test]
fn it_homes_on_schedule_and_on_request() {
    let motor = Motor::new(400, 0, 0);
    let mut valve = blind(
        &motor,
        Mechanics {
            rehome_every_ms: 60_000,
            ..mechanics(0, Home::WideOpen)
        },
    );
    let mut now = Millis(0);
    valve.send(Opening::new(0.5), now).expect("the pins answer");
    poll(&mut valve, &mut now, 1000);
    assert_eq!(motor.borrow().needle, 200);
    motor.borrow_mut().needle = 150; // lost, and no end stop to see it
    poll(&mut valve, &mut now, 31_000);
    assert_eq!(motor.borrow().needle, 200, "a minute later it has homed");
    motor.borrow_mut().needle = 150;
    valve.home();
    assert!(poll(&mut valve, &mut now, 1000).is_empty());
    assert_eq!(motor.borrow().needle, 200);
}

#[test]
fn a_motor_wired_the_other_way_round_is_set_right_by_one_value() {
    let motor = Motor::new(400, 0, 100);
    motor.borrow_mut().home_open = false;
    let mut now = Millis(0);
    // The pin's high level shuts: as seen from the mechanism, opening and shutting are exchanged.
    let mut valve = blind(
        &motor,
        Mechanics {
            opens: Active::Low,
            ..mechanics(0, Home::WideOpen)
        },
    );
    valve.send(Opening::new(0.75), now).expect("the pins answer");
    poll(&mut valve, &mut now, 2000);
    assert_eq!(motor.borrow().needle, 100, "0.75 open is a quarter from the other end");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn the_count_is_the_needle_after_any_moves(
        backlash in 0i64..20, start in 0i64..=400, moves in prop::collection::vec((0.0f32..=1.0, 0u32..900), 1..30), home_open: bool,
    ) {
        let motor = Motor::new(400, backlash, start);
        let home = if home_open { Home::WideOpen } else { Home::Shut };
        let mut valve = blind(&motor, mechanics(u32::try_from(backlash).expect("small"), home));
        let mut now = Millis(0);
        poll(&mut valve, &mut now, 1000);
        for (share, polls) in moves {
            valve.send(Opening::new(share), now).expect("the pins answer");
            poll(&mut valve, &mut now, polls);
            // Also in the middle of a move.
            prop_assert_eq!(valve.counted_steps(), motor.borrow().needle);
        }
    }

    #[test]
    fn pins_that_err_now_and_then_cost_no_step(
        errs in prop::collection::vec(prop::bool::weighted(0.02), 4000), moves in prop::collection::vec(0.0f32..=1.0, 1..8),
    ) {
        let motor = Motor::new(400, 6, 50);
        // The tolerance is set so that doubt alone never homes: what is tested is the count.
        let mut valve = blind(&motor, Mechanics { tolerance_steps: 100_000, ..mechanics(6, Home::WideOpen) });
        let mut now = Millis(0);
        poll(&mut valve, &mut now, 1000);
        motor.borrow_mut().errs = errs.into();
        for share in moves {
            let _ = valve.send(Opening::new(share), now);
            poll(&mut valve, &mut now, 300);
            prop_assert_eq!(valve.counted_steps(), motor.borrow().needle);
        }
        prop_assert_eq!(motor.borrow().pulses_without_power, 0);
    }

    #[test]
    fn pins_that_err_while_it_homes_do_not_cut_homing_short(errs in prop::collection::vec(prop::bool::weighted(0.3), 3000)) {
        let motor = Motor::new(400, 6, 3);
        motor.borrow_mut().errs = errs.into();
        let mut valve = blind(&motor, mechanics(6, Home::WideOpen));
        let mut now = Millis(0);
        let _ = valve.send(Opening::new(0.5), now);
        poll(&mut valve, &mut now, 8000);
        prop_assert_eq!(motor.borrow().needle, 200);
    }
}
