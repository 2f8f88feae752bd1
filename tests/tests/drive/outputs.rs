//! Alarm contact and heartbeat.

use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction};
use risertrim::drive::{Active, AlarmContact, DriveFault, Heartbeat};

fn error() -> MockError {
    MockError::Io(std::io::ErrorKind::Other)
}

#[test]
fn the_alarm_relay_is_held_only_while_all_is_well() {
    let mut pin = Pin::new(&[
        Transaction::set(State::High),
        Transaction::set(State::Low),
        Transaction::set(State::High),
    ]);
    let mut contact = AlarmContact::new(pin.clone(), Active::High);
    assert!(
        contact.is_alarm(),
        "a board that has not said that all is well stands at alarm"
    );
    contact.show(false).expect("the pin answers");
    contact.show(true).expect("the pin answers");
    contact.show(false).expect("the pin answers");
    pin.done();
}

#[test]
fn an_alarm_whose_pin_failed_is_shown_again() {
    let mut pin = Pin::new(&[
        Transaction::set(State::High).with_error(error()),
        Transaction::set(State::High),
    ]);
    // Held by a low level: an alarm is high.
    let mut contact = AlarmContact::new(pin.clone(), Active::Low);
    assert_eq!(contact.show(true), Err(DriveFault::AlarmPin));
    assert_eq!(contact.show(true), Ok(()));
    pin.done();
}

#[test]
fn the_heart_beats_once_a_step_and_a_failed_beat_is_made_up_for() {
    let mut pin = Pin::new(&[
        Transaction::set(State::High),
        Transaction::set(State::Low).with_error(error()),
        Transaction::set(State::Low),
        Transaction::set(State::High),
    ]);
    let mut heart = Heartbeat::new(pin.clone());
    assert_eq!(heart.beat(), Ok(()));
    assert_eq!(heart.beat(), Err(DriveFault::HeartbeatPin));
    assert_eq!(heart.beat(), Ok(()));
    assert_eq!(heart.beat(), Ok(()));
    pin.done();
}

#[test]
fn every_fault_says_in_words_what_happened_and_what_to_do() {
    let faults = [
        DriveFault::ValvePwm,
        DriveFault::PwmNotSetUp,
        DriveFault::SolenoidPin,
        DriveFault::StepPin,
        DriveFault::DirectionPin,
        DriveFault::EnablePin,
        DriveFault::EndStopPin,
        DriveFault::EndStopNotFound,
        DriveFault::EndStopStuck,
        DriveFault::LostSteps(-12),
        DriveFault::BlowerPwm,
        DriveFault::Relay(2),
        DriveFault::AlarmPin,
        DriveFault::HeartbeatPin,
    ];
    for (index, fault) in faults.iter().enumerate() {
        let text = fault.to_string();
        assert!(text.contains(": ") && text.contains("; "), "{text}");
        assert!(
            faults.iter().skip(index + 1).all(|other| other.to_string() != text),
            "{text}"
        );
    }
    assert!(DriveFault::LostSteps(-12).to_string().contains("-12 steps"));
    assert!(DriveFault::Relay(2).to_string().contains("relay 3"));
}
