//! What can go wrong in a driver, in words.

use core::fmt;
use serde::{Deserialize, Serialize};

/// A driver could not do what it was told. It keeps what it was told and tries again at the next call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum DriveFault {
    /// The PWM output of a valve did not take its duty.
    ValvePwm,
    /// The PWM output of a valve has no steps (its full duty is zero): it is not set up.
    PwmNotSetUp,
    /// The pin of a solenoid could not be set.
    SolenoidPin,
    /// The step pin of a stepper could not be set.
    StepPin,
    /// The direction pin of a stepper could not be set.
    DirectionPin,
    /// The enable pin of a stepper could not be set.
    EnablePin,
    /// The end stop of a stepper could not be read. It goes on without it.
    EndStopPin,
    /// Homing ran a full stroke and more without meeting the end stop. The valve is taken to stand at its mechanical end.
    EndStopNotFound,
    /// The end stop stayed on while the valve moved away from it. It goes on without it.
    EndStopStuck,
    /// Homing found the valve this many steps from where it was counted to be (positive: further open).
    LostSteps(i32),
    /// The PWM output of a blower did not take its duty.
    BlowerPwm,
    /// The relay of this blower could not be set; the first is 0.
    Relay(u8),
    /// The pin of the alarm contact could not be set.
    AlarmPin,
    /// The heartbeat pin could not be set.
    HeartbeatPin,
}

impl DriveFault {
    /// What happened, what it means and what to do, for people.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::ValvePwm => {
                "a valve's signal output did not answer: the valve may stand where it was; check the output's wiring"
            }
            Self::PwmNotSetUp => {
                "a valve's or blower's signal output has no steps: it was never set up; correct the board's start-up"
            }
            Self::SolenoidPin => "a solenoid's pin did not answer: it stays as it was; check its wiring",
            Self::StepPin => "a stepper's step pin did not answer: the valve waits; check its wiring",
            Self::DirectionPin => "a stepper's direction pin did not answer: the valve waits; check its wiring",
            Self::EnablePin => "a stepper's enable pin did not answer: the valve waits; check its wiring",
            Self::EndStopPin => "an end stop could not be read: lost steps go unseen; check its wiring",
            Self::EndStopNotFound => {
                "an end stop was not met within a full stroke: the valve is stiff, slips, or the switch is broken; look at it"
            }
            Self::EndStopStuck => {
                "an end stop stayed on while the valve moved away: the switch is stuck or its wire is shorted; replace it"
            }
            Self::LostSteps(_) => {
                "a valve was not where it was counted to be: it is stiff or its motor is weak; free it, grease it"
            }
            Self::BlowerPwm => {
                "the blower's speed output did not answer: the blower may run as before; check the output's wiring"
            }
            Self::Relay(_) => {
                "a blower's relay did not answer: where one rests it is started in its place; check its wiring"
            }
            Self::AlarmPin => "the alarm contact's pin did not answer: an alarm may go unheard; check its wiring",
            Self::HeartbeatPin => {
                "the heartbeat pin did not answer: whatever watches it may raise an alarm; check its wiring"
            }
        }
    }
}

impl fmt::Display for DriveFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::LostSteps(steps) => write!(f, "{} ({steps} steps)", self.text()),
            Self::Relay(relay) => write!(f, "{} (relay {})", self.text(), u16::from(*relay) + 1),
            _ => f.write_str(self.text()),
        }
    }
}

impl core::error::Error for DriveFault {}

/// Why an input gave no level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum InputFault {
    /// The converter or bus gave an error.
    NoAnswer,
    /// It gave something that is no number.
    NotANumber,
    /// The signal is below what a working sensor gives: broken wire, no supply, or the sensor reports its own failure.
    SignalTooLow,
    /// The signal is above what a working sensor gives: short circuit, or the sensor reports its own failure.
    SignalTooHigh,
    /// The sensor's supply is outside its range.
    Supply,
    /// Fewer than half of the samples to be averaged were good.
    TooFewSamples,
}

impl InputFault {
    /// What happened, what it means and what to do, for people.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::NoAnswer => "a level input did not answer: that level is missing; check its wiring and supply",
            Self::NotANumber => "a level input gave no number: that level is missing; check the sensor and its set-up",
            Self::SignalTooLow => {
                "a level signal is below its range: broken wire, no supply or a failed sensor; check them in this order"
            }
            Self::SignalTooHigh => {
                "a level signal is above its range: short circuit or a failed sensor; check them in this order"
            }
            Self::Supply => "a level sensor's supply is out of range: that level is missing; check the supply",
            Self::TooFewSamples => {
                "most readings of a level were bad: that level is missing; check the sensor and its wiring"
            }
        }
    }
}

impl fmt::Display for InputFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}

impl core::error::Error for InputFault {}
