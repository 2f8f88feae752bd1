//! A valve on a servo: its opening is the length of a pulse.

use super::{DriveFault, Signal, ValveDrive};
use crate::time::{Elapsed, Held, Millis};
use crate::units::Opening;
use embedded_hal::pwm::SetDutyCycle;
use serde::{Deserialize, Serialize};

/// The pulses of a servo, microseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pulses {
    /// From one pulse to the next: what the PWM output is set up for.
    pub period_us: u32,
    /// Pulse at which the valve is shut.
    pub shut_us: u32,
    /// Pulse at which it is wide open; may be the shorter one.
    pub wide_us: u32,
}

impl Pulses {
    /// 1 to 2 ms every 20 ms (common practice for servos, no standard).
    pub const USUAL: Self = Self {
        period_us: 20_000,
        shut_us: 1_000,
        wide_us: 2_000,
    };

    /// The end points as duty shares.
    #[must_use]
    #[allow(clippy::cast_precision_loss)] // microseconds: exact below 16 s
    pub fn signal(&self) -> Signal {
        let period = self.period_us.max(1) as f32;
        Signal::new(self.shut_us as f32 / period, self.wide_us as f32 / period)
    }

    /// Positions that a PWM output with this full duty can tell apart from shut to wide open. 100 or more is wanted: a tenth of
    /// the duty moves the whole stroke, so an output of 1000 steps in 20 ms has 50.
    #[must_use]
    pub fn positions(&self, full_duty: u16) -> u16 {
        let signal = self.signal();
        signal.counts(1.0, full_duty).abs_diff(signal.counts(0.0, full_duty))
    }
}

/// A valve on a servo.
#[derive(Debug)]
pub struct Servo<P> {
    pwm: P,
    signal: Signal,
    rest_after_ms: u32,
    wanted: Option<Opening>,
    /// Its pulses go out for so long; nothing before one of them went out.
    pulsed_for: Option<Held>,
    last: Option<Millis>,
}

impl<P: SetDutyCycle> Servo<P> {
    /// A servo that is held by its pulses all the time.
    #[must_use]
    pub fn new(pwm: P, pulses: Pulses) -> Self {
        Self {
            pwm,
            signal: pulses.signal(),
            rest_after_ms: 0,
            wanted: None,
            pulsed_for: None,
            last: None,
        }
    }

    /// Lets the pulses stop this long after a move, ms: a valve that stays where it is by its own friction need not hum and
    /// wear. Not for a valve that air pressure can turn. Zero keeps the pulses on.
    #[must_use]
    pub fn resting_after_ms(mut self, rest_after_ms: u32) -> Self {
        self.rest_after_ms = rest_after_ms;
        self
    }

    /// Gives the output back.
    #[must_use]
    pub fn release(self) -> P {
        self.pwm
    }

    fn put(&mut self, opening: Opening) -> Result<(), DriveFault> {
        self.signal.put(&mut self.pwm, opening.share(), DriveFault::ValvePwm)
    }
}

impl<P: SetDutyCycle> ValveDrive for Servo<P> {
    fn send(&mut self, opening: Opening, now: Millis) -> Result<(), DriveFault> {
        if self.wanted != Some(opening) {
            // Kept before it goes out: where that fails, the next call tries this one again, not the one before.
            self.wanted = Some(opening);
            self.pulsed_for = None;
        }
        self.poll(now)
    }

    fn poll(&mut self, now: Millis) -> Result<(), DriveFault> {
        let passed = self.last.map(|last| now.since(last));
        self.last = Some(now);
        let Some(opening) = self.wanted else {
            return Ok(());
        };
        // Added up from call to call: a clock that went back must not end the pulses before the valve is there.
        if let (Some(Elapsed::Forward(ms)), Some(pulsed_for)) = (passed, &mut self.pulsed_for) {
            pulsed_for.add(ms);
        }
        let moved = |pulsed_for: Held| self.rest_after_ms > 0 && pulsed_for.ms() >= self.rest_after_ms;
        if self.pulsed_for.is_some_and(moved) {
            return self.pwm.set_duty_cycle(0).map_err(|_| DriveFault::ValvePwm);
        }
        self.put(opening)?;
        // Only what went out counts: a pulse that failed moved nothing.
        self.pulsed_for = self.pulsed_for.or(Some(Held::NONE));
        Ok(())
    }
}
