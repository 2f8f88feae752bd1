//! The heartbeat: a pin that changes with every completed round.

use super::DriveFault;
use embedded_hal::digital::OutputPin;

/// A pin that changes at every [`Heartbeat::beat`], for a watchdog outside the board or a lamp: when it stands still, high or
/// low, the rounds have stopped. An outside watchdog should switch the blower to its own supply and raise an alarm.
#[derive(Debug)]
pub struct Heartbeat<P> {
    pin: P,
    high: bool,
}

impl<P: OutputPin> Heartbeat<P> {
    /// A heartbeat on this pin, low until the first beat.
    #[must_use]
    pub fn new(pin: P) -> Self {
        Self { pin, high: false }
    }

    /// One beat; call it after each completed round, whether it made a step or held fixed openings, and nowhere else.
    ///
    /// # Errors
    /// When the pin could not be set; the next beat tries the same change again.
    pub fn beat(&mut self) -> Result<(), DriveFault> {
        let next = !self.high;
        self.pin.set_state(next.into()).map_err(|_| DriveFault::HeartbeatPin)?;
        self.high = next;
        Ok(())
    }
}
