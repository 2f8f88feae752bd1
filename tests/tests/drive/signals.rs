//! Valves, servos and blowers on a PWM output.

use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::pwm::{Mock as Pwm, Transaction};
use proptest::prelude::*;
use risertrim::drive::{DriveFault, Proportional, Pulses, Servo, Signal, SpeedBlower, ValveDrive};
use risertrim::{Millis, Opening};

/// What one call puts on an output of this full duty.
fn put(full: u16, duty: u16) -> [Transaction; 2] {
    [Transaction::max_duty_cycle(full), Transaction::set_duty_cycle(duty)]
}

fn fails(full: u16, duty: u16) -> [Transaction; 2] {
    let error = MockError::Io(std::io::ErrorKind::Other);
    [
        Transaction::max_duty_cycle(full),
        Transaction::set_duty_cycle(duty).with_error(error),
    ]
}

#[test]
fn a_valve_reaches_both_ends_of_a_16_bit_output() {
    let expected = [put(65_535, 0), put(65_535, 65_535), put(65_535, 32_768)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut valve = Proportional::new(pwm.clone(), Signal::FULL);
    for opening in [Opening::SHUT, Opening::WIDE, Opening::new(0.5)] {
        valve.send(opening, Millis(0)).expect("the output answers");
    }
    pwm.done();
}

#[test]
fn a_current_valve_gets_4_ma_shut_and_20_ma_wide_open() {
    // A converter of 24 mA at 2400 counts: 100 counts a mA.
    let expected = [put(2400, 400), put(2400, 2000), put(2400, 1200)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut valve = Proportional::new(pwm.clone(), Signal::four_to_twenty_ma(24.0));
    for opening in [Opening::SHUT, Opening::WIDE, Opening::new(0.5)] {
        valve.send(opening, Millis(0)).expect("the output answers");
    }
    pwm.done();
}

#[test]
fn a_valve_that_is_open_without_signal_gets_none_when_it_shall_be_open() {
    let expected = [put(1000, 0), put(1000, 1000)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut valve = Proportional::new(pwm.clone(), Signal::FULL.reversed());
    valve.send(Opening::WIDE, Millis(0)).expect("the output answers");
    valve.send(Opening::SHUT, Millis(0)).expect("the output answers");
    pwm.done();
}

#[test]
fn an_output_in_error_is_a_fault_and_gets_the_same_opening_at_the_next_call() {
    let expected = [fails(1000, 250), put(1000, 250)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut valve = Proportional::new(pwm.clone(), Signal::FULL);
    assert_eq!(valve.send(Opening::new(0.25), Millis(0)), Err(DriveFault::ValvePwm));
    assert_eq!(valve.send(Opening::new(0.25), Millis(1000)), Ok(()));
    pwm.done();
}

#[test]
fn an_output_without_steps_is_said_to_be_not_set_up() {
    let mut pwm = Pwm::new(&[Transaction::max_duty_cycle(0)]);
    let mut valve = Proportional::new(pwm.clone(), Signal::FULL);
    assert_eq!(valve.send(Opening::WIDE, Millis(0)), Err(DriveFault::PwmNotSetUp));
    pwm.done();
}

#[test]
fn nonsense_end_points_stay_within_the_output() {
    for signal in [
        Signal::new(f32::NAN, f32::INFINITY),
        Signal::volts(0.0, 10.0, 0.0),
        Signal::four_to_twenty_ma(-5.0),
    ] {
        for share in [f32::NAN, -1.0, 0.0, 0.3, 1.0, 7.0] {
            assert!(signal.counts(share, 1000) <= 1000);
        }
    }
}

proptest! {
    #[test]
    fn no_duty_is_further_than_half_a_count_from_the_exact_one(full in 1u16.., share in 0.0f32..=1.0, shut in 0.0f32..=1.0, wide in 0.0f32..=1.0) {
        let counts = Signal::new(shut, wide).counts(share, full);
        let exact = f64::from(full) * (f64::from(shut) + f64::from(share) * (f64::from(wide) - f64::from(shut)));
        // f32 has 24 bits: 2^-7 of a count at 16 bits.
        prop_assert!((f64::from(counts) - exact).abs() <= 0.51, "{} for {}", counts, exact);
    }
}

#[test]
fn a_servo_gets_one_to_two_milliseconds() {
    // 50 Hz, one count a microsecond.
    let expected = [put(20_000, 1000), put(20_000, 2000), put(20_000, 1500)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut servo = Servo::new(pwm.clone(), Pulses::USUAL);
    for opening in [Opening::SHUT, Opening::WIDE, Opening::new(0.5)] {
        servo.send(opening, Millis(0)).expect("the output answers");
    }
    pwm.done();
    assert_eq!(Pulses::USUAL.positions(20_000), 1000);
    assert_eq!(Pulses::USUAL.positions(1000), 50);
}

#[test]
fn a_servo_rests_after_its_move_and_wakes_for_the_next() {
    let expected = [
        put(20_000, 1250).to_vec(),
        put(20_000, 1250).to_vec(),
        vec![Transaction::set_duty_cycle(0), Transaction::set_duty_cycle(0)],
        put(20_000, 1750).to_vec(),
    ]
    .concat();
    let mut pwm = Pwm::new(&expected);
    let mut servo = Servo::new(pwm.clone(), Pulses::USUAL).resting_after_ms(2000);
    let (quarter, other) = (Opening::new(0.25), Opening::new(0.75));
    // Through a wrap of the counter.
    let start = Millis(u32::MAX - 1500);
    for (at_ms, opening) in [
        (0, quarter),
        (1000, quarter),
        (2000, quarter),
        (3000, quarter),
        (4000, other),
    ] {
        servo.send(opening, start.plus(at_ms)).expect("the output answers");
    }
    pwm.done();
}

#[test]
fn a_servo_whose_output_failed_is_sent_its_opening_again() {
    let expected = [fails(20_000, 1500), put(20_000, 1500)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut servo = Servo::new(pwm.clone(), Pulses::USUAL).resting_after_ms(100);
    assert_eq!(servo.send(Opening::new(0.5), Millis(0)), Err(DriveFault::ValvePwm));
    // Longer than the rest: the failed pulse does not count as a move.
    assert_eq!(servo.send(Opening::new(0.5), Millis(5000)), Ok(()));
    pwm.done();
}

#[test]
fn a_servo_whose_output_failed_goes_where_it_was_sent_last_not_where_it_was_before() {
    let expected = [put(20_000, 1250), fails(20_000, 2000), put(20_000, 2000)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut servo = Servo::new(pwm.clone(), Pulses::USUAL);
    servo.send(Opening::new(0.25), Millis(0)).expect("the output answers");
    assert_eq!(servo.send(Opening::WIDE, Millis(1000)), Err(DriveFault::ValvePwm));
    assert_eq!(servo.poll(Millis(2000)), Ok(()));
    pwm.done();
}

#[test]
fn a_servo_finishes_its_move_when_the_clock_goes_back() {
    let rest = vec![Transaction::set_duty_cycle(0)];
    let expected = [
        put(20_000, 1250).to_vec(),
        put(20_000, 1250).to_vec(), // the clock went back: 0 s of its 1 s
        put(20_000, 1250).to_vec(), // 0.4 s
        put(20_000, 1250).to_vec(), // back again
        put(20_000, 1250).to_vec(), // 0.8 s
        rest,
    ]
    .concat();
    let mut pwm = Pwm::new(&expected);
    let mut servo = Servo::new(pwm.clone(), Pulses::USUAL).resting_after_ms(1000);
    servo
        .send(Opening::new(0.25), Millis(500_000))
        .expect("the output answers");
    for now in [1000, 1400, 900, 1300, 1700] {
        assert_eq!(servo.poll(Millis(now)), Ok(()));
    }
    pwm.done();
}

#[test]
fn a_blower_ramps_holds_its_least_speed_and_takes_nonsense_for_full_speed() {
    let expected = [
        put(1000, 300), // from standstill: its least speed at once
        put(1000, 400), // 1 s of a ramp of 10 s
        put(1000, 300), // asked for 10 %: no less than 30 %
        put(1000, 800), // no number: full speed, 5 s up the ramp
        put(1000, 0),   // stopped by name
    ]
    .concat();
    let mut pwm = Pwm::new(&expected);
    let mut blower = SpeedBlower::new(pwm.clone(), Signal::FULL, 0.3, 10_000);
    blower.run(0.9, Millis(0)).expect("the output answers");
    blower.run(0.9, Millis(1000)).expect("the output answers");
    blower.run(0.1, Millis(3000)).expect("the output answers");
    blower.run(f32::NAN, Millis(8000)).expect("the output answers");
    blower.stop(Millis(9000)).expect("the output answers");
    pwm.done();
}

#[test]
fn a_blower_whose_output_failed_is_sent_its_speed_again() {
    let expected = [fails(1000, 500), put(1000, 500)].concat();
    let mut pwm = Pwm::new(&expected);
    let mut blower = SpeedBlower::new(pwm.clone(), Signal::FULL, 0.3, 0);
    assert_eq!(blower.run(0.5, Millis(0)), Err(DriveFault::BlowerPwm));
    assert_eq!(blower.run(0.5, Millis(1)), Ok(()));
    pwm.done();
}
