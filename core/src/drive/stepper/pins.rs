//! The pins of a stepper driver: step, direction, enable.

use super::mechanics::Mechanics;
use super::way::Way;
use crate::drive::DriveFault;
use core::convert::Infallible;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};

/// Stands for a pin that is not wired.
#[derive(Clone, Copy, Debug)]
pub struct NoPin;

impl ErrorType for NoPin {
    type Error = Infallible;
}

impl OutputPin for NoPin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

impl InputPin for NoPin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(false)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(true)
    }
}

/// How far a failed pulse got.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pulse {
    /// Its edge did not go out.
    NotBegun,
    /// Its edge went out; the pin is still high.
    Unfinished,
}

#[derive(Debug)]
pub(super) struct Pins<S, D, T, N> {
    step: S,
    direction: D,
    delay: T,
    enable: Option<N>,
    /// What the pins were last set to; `None` when that is not known.
    way: Option<Way>,
    powered: Option<bool>,
    /// The step pin could not be taken back to low.
    high: bool,
}

impl<S, D, T> Pins<S, D, T, super::NoPin> {
    pub(super) fn new(step: S, direction: D, delay: T) -> Self {
        Self {
            step,
            direction,
            delay,
            enable: None,
            way: None,
            powered: None,
            high: false,
        }
    }
}

impl<S, D, T, N> Pins<S, D, T, N> {
    pub(super) fn with_enable<N2>(self, enable: N2) -> Pins<S, D, T, N2> {
        Pins {
            step: self.step,
            direction: self.direction,
            delay: self.delay,
            enable: Some(enable),
            way: self.way,
            powered: None,
            high: self.high,
        }
    }
}

impl<S: OutputPin, D: OutputPin, T: DelayNs, N: OutputPin> Pins<S, D, T, N> {
    /// Ends a pulse whose end failed; no other may begin before.
    pub(super) fn finish_pulse(&mut self) -> Result<(), DriveFault> {
        if self.high {
            self.step.set_low().map_err(|_| DriveFault::StepPin)?;
            self.high = false;
        }
        Ok(())
    }

    /// Powers the motor and sets the direction; true when something changed and needs its time before the pulse.
    pub(super) fn prepare(&mut self, way: Way, mechanics: &Mechanics) -> Result<bool, DriveFault> {
        let powered = self.power(true, mechanics)?;
        if self.way == Some(way) {
            return Ok(powered);
        }
        self.way = None;
        self.direction
            .set_state(mechanics.opens.pin(way == Way::Opening))
            .map_err(|_| DriveFault::DirectionPin)?;
        self.way = Some(way);
        Ok(true)
    }

    /// Nothing to do: the motor is switched off, if it may be.
    pub(super) fn rest(&mut self, mechanics: &Mechanics) -> Result<(), DriveFault> {
        if mechanics.rests_unpowered {
            self.power(false, mechanics)?;
        }
        Ok(())
    }

    fn power(&mut self, on: bool, mechanics: &Mechanics) -> Result<bool, DriveFault> {
        let Some(enable) = &mut self.enable else {
            return Ok(false);
        };
        if self.powered == Some(on) {
            return Ok(false);
        }
        self.powered = None;
        enable
            .set_state(mechanics.enable.pin(on))
            .map_err(|_| DriveFault::EnablePin)?;
        self.powered = Some(on);
        Ok(true)
    }

    /// One pulse.
    pub(super) fn pulse(&mut self, pulse_us: u32) -> Result<(), Pulse> {
        self.step.set_high().map_err(|_| Pulse::NotBegun)?;
        self.delay.delay_us(pulse_us);
        self.high = true;
        self.step.set_low().map_err(|_| Pulse::Unfinished)?;
        self.high = false;
        Ok(())
    }
}
