//! A proportional valve on a PWM output, directly or through a converter to 0-10 V or 4-20 mA.

use super::{DriveFault, Signal, ValveDrive};
use crate::time::Millis;
use crate::units::Opening;
use embedded_hal::pwm::SetDutyCycle;

/// A valve whose opening follows the duty of a PWM output.
#[derive(Debug)]
pub struct Proportional<P> {
    pwm: P,
    signal: Signal,
}

impl<P: SetDutyCycle> Proportional<P> {
    /// A valve on this output. Nothing is sent before the first [`ValveDrive::send`].
    #[must_use]
    pub fn new(pwm: P, signal: Signal) -> Self {
        Self { pwm, signal }
    }

    /// Gives the output back.
    #[must_use]
    pub fn release(self) -> P {
        self.pwm
    }
}

impl<P: SetDutyCycle> ValveDrive for Proportional<P> {
    fn send(&mut self, opening: Opening, _now: Millis) -> Result<(), DriveFault> {
        self.signal.put(&mut self.pwm, opening.share(), DriveFault::ValvePwm)
    }
}
