//! A blower whose speed follows a PWM output.

use super::{DriveFault, Signal};
use crate::math::limit;
use crate::time::{Elapsed, Millis};
use embedded_hal::pwm::SetDutyCycle;

/// A blower on a speed signal, with a least speed and a ramp.
///
/// The fish hang on it: a wanted speed that is no number means full speed, and only [`SpeedBlower::stop`] stops it.
#[derive(Debug)]
pub struct SpeedBlower<P> {
    pwm: P,
    signal: Signal,
    least: f32,
    ramp_ms: u32,
    wanted: f32,
    speed: f32,
    last: Option<Millis>,
}

impl<P: SetDutyCycle> SpeedBlower<P> {
    /// A blower that runs between `least_share` (below which it would stall or overheat; 0 to 1) and full speed, and takes
    /// `ramp_ms` from standstill to full speed. It wants full speed until it is told otherwise.
    #[must_use]
    pub fn new(pwm: P, signal: Signal, least_share: f32, ramp_ms: u32) -> Self {
        Self {
            pwm,
            signal,
            least: limit(least_share, 0.0, 1.0),
            ramp_ms,
            wanted: 1.0,
            speed: 0.0,
            last: None,
        }
    }

    /// Speed it is at, share of full speed, as far as its signal says.
    #[must_use]
    pub fn speed_share(&self) -> f32 {
        self.speed
    }

    /// Runs at a share of full speed, held to the least share..1.
    ///
    /// # Errors
    /// When the output did not take it; tried again at the next call.
    pub fn run(&mut self, share: f32, now: Millis) -> Result<(), DriveFault> {
        self.wanted = if share.is_nan() {
            1.0
        } else {
            limit(share, self.least, 1.0)
        };
        self.poll(now)
    }

    /// Stops at once. **Caution**: without another source of air fish die within minutes to an hour.
    ///
    /// # Errors
    /// When the output did not take it; tried again at the next call.
    pub fn stop(&mut self, now: Millis) -> Result<(), DriveFault> {
        self.wanted = 0.0;
        self.speed = 0.0;
        self.poll(now)
    }

    /// Moves on along the ramp; call it a few times a second.
    ///
    /// # Errors
    /// When the output did not take its duty; tried again at the next call.
    pub fn poll(&mut self, now: Millis) -> Result<(), DriveFault> {
        let passed = match self.last.map(|last| now.since(last)) {
            Some(Elapsed::Forward(ms)) => ms,
            None | Some(Elapsed::Backward) => 0,
        };
        self.last = Some(now);
        #[allow(clippy::cast_precision_loss)] // a share of a ramp
        let pace = if self.ramp_ms == 0 {
            1.0
        } else {
            passed as f32 / self.ramp_ms as f32
        };
        // It starts at its least speed: below it there is no steady running.
        let from = if self.wanted > 0.0 && self.speed < self.least {
            self.least
        } else {
            self.speed
        };
        self.speed = limit(self.wanted, from - pace, from + pace);
        self.signal.put(&mut self.pwm, self.speed, DriveFault::BlowerPwm)
    }
}
