//! Drivers on `embedded-hal` 1.0: valves, blowers, level inputs, alarm and heartbeat outputs.
//!
//! The controller knows openings and readings; these turn an [`Opening`] into pins and a sensor into a
//! [`Reading`](crate::Reading). Nothing here waits (a stepper's pulse of a few microseconds aside), allocates or panics; every
//! call is bounded in time.
//!
//! A pin or bus that errs is a [`DriveFault`] or a missing reading, never a stop: the driver keeps its state, says what
//! happened, and tries again at the next call. So call [`ValveDrive::send`] at every step, also when nothing changed.
//!
//! | what | driver | needs |
//! | --- | --- | --- |
//! | proportional valve, 0-10 V or 4-20 mA by a converter | [`Proportional`] with a [`Signal`] | one PWM |
//! | on/off solenoid | [`Solenoid`], and [`pulsed`] for what it does to the lift's curve | one pin |
//! | needle valve on a stepper | [`Stepper`] | two pins, a delay; enable and end stop if fitted |
//! | valve on a servo | [`Servo`] | one PWM |
//! | blower on a speed signal | [`SpeedBlower`] | one PWM |
//! | blowers on relays | [`RelayBank`] | a pin each |
//! | level sensor | [`LevelInput`]: [`from_fn`], [`CurrentLoop`], [`Ratiometric`], [`Averaged`] | your own ADC or bus call |
//! | alarm contact, heartbeat | [`AlarmContact`], [`Heartbeat`] | a pin each |
//!
//! **Caution.** An air valve should stand open when it loses its signal or its power: choose valves and wiring so that the
//! fish have air while the board is dead. Mains and relays near water belong to an electrician and the local code.
//!
//! ```
//! use embedded_hal::pwm::SetDutyCycle;
//! use risertrim::drive::{Proportional, Signal, ValveDrive};
//! use risertrim::{Millis, Opening};
//!
//! # fn wire(pwm: impl SetDutyCycle) {
//! // A converter that gives 10 V at full duty; the valve is wide open at 0 V, so also while the board is dead, and shut at 10 V.
//! let mut valve = Proportional::new(pwm, Signal::volts(10.0, 0.0, 10.0));
//! if let Err(fault) = valve.send(Opening::new(0.42), Millis(0)) {
//!     // Log it and go on: the next step sends the opening again.
//!     let _ = fault;
//! }
//! # }
//! ```

mod alarm_contact;
mod average;
mod current;
mod fault;
mod heartbeat;
mod input;
mod proportional;
pub mod pulsed;
mod ratiometric;
mod relays;
mod servo;
mod signal;
mod solenoid;
mod speed;
mod stepper;

pub use alarm_contact::AlarmContact;
pub use average::Averaged;
pub use current::{
    CurrentLoop, FAILED_HIGH_MA, FAILED_LOW_MA, MEASURING_HIGH_MA, MEASURING_LOW_MA, NOMINAL_HIGH_MA, NOMINAL_LOW_MA,
    Shunt,
};
pub use fault::{DriveFault, InputFault};
pub use heartbeat::Heartbeat;
pub use input::{FromFn, LevelInput, Quality, Sample, from_fn};
pub use proportional::Proportional;
pub use ratiometric::{Ratiometric, SUPPLY_V, VALID_RATIO};
pub use relays::{BankTimes, RelayBank};
pub use servo::{Pulses, Servo};
pub use signal::Signal;
pub use solenoid::{CycleTimes, Solenoid};
pub use speed::SpeedBlower;
pub use stepper::{Home, Mechanics, NoPin, Stepper};

use crate::time::Millis;
use crate::units::Opening;
use serde::{Deserialize, Serialize};

/// Which level of a pin means "on" (or, for a valve, "let air through").
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Active {
    /// The pin is high when on.
    #[default]
    High,
    /// The pin is low when on.
    Low,
}

impl Active {
    /// The pin's state for this meaning.
    fn pin(self, on: bool) -> embedded_hal::digital::PinState {
        embedded_hal::digital::PinState::from(on == (self == Self::High))
    }

    /// The meaning of this pin's state.
    fn means(self, high: bool) -> bool {
        high == (self == Self::High)
    }
}

/// An air valve, whatever moves it. Usable as `&mut dyn ValveDrive`, so one list can hold valves of several kinds.
pub trait ValveDrive {
    /// Sends the valve to an opening; to be called at every step for every valve.
    ///
    /// # Errors
    /// The fault met now, or since the last call. The opening is kept, and tried again at the next call.
    fn send(&mut self, opening: Opening, now: Millis) -> Result<(), DriveFault>;

    /// Moves on towards the opening sent; to be called as often as the main loop comes round. Solenoids and steppers need
    /// it, others do nothing here.
    ///
    /// # Errors
    /// The fault met now. The move goes on at the next call.
    fn poll(&mut self, now: Millis) -> Result<(), DriveFault> {
        let _ = now;
        Ok(())
    }

    /// Where the valve stands, if the driver knows it; `None` for a drive without any count or feedback.
    fn position(&self) -> Option<Opening> {
        None
    }
}
