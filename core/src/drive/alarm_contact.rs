//! The alarm contact: on while all is well, so that a dead board is an alarm too.

use super::{Active, DriveFault};
use embedded_hal::digital::OutputPin;

/// A fail-safe alarm contact. Its relay is held while all is well and let go for an alarm, a reset, a dead board and lost power:
/// wire the siren or dialler to the contact that closes when the relay drops.
#[derive(Debug)]
pub struct AlarmContact<P> {
    pin: P,
    held: Active,
    alarm: bool,
}

impl<P: OutputPin> AlarmContact<P> {
    /// A contact whose relay is held at this level of the pin. It stands at alarm until it is told that all is well.
    #[must_use]
    pub fn new(pin: P, held: Active) -> Self {
        Self { pin, held, alarm: true }
    }

    /// Shows an alarm, or that all is well. To be called at every step.
    ///
    /// # Errors
    /// When the pin could not be set; it is set again at the next call.
    pub fn show(&mut self, alarm: bool) -> Result<(), DriveFault> {
        self.alarm = alarm;
        self.pin
            .set_state(self.held.pin(!alarm))
            .map_err(|_| DriveFault::AlarmPin)
    }

    /// What it was last told to show.
    #[must_use]
    pub fn is_alarm(&self) -> bool {
        self.alarm
    }
}
