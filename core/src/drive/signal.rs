//! The drive signal of a valve or blower: which share of the PWM's duty means shut and which wide open.

use super::DriveFault;
use crate::math::limit;
use crate::units::Opening;
use embedded_hal::pwm::SetDutyCycle;
use serde::{Deserialize, Serialize};

/// End points of a drive signal as shares of full duty, 0..1.
///
/// The second may be the smaller: a valve that is wide open at no signal (`Signal::new(1.0, 0.0)`) stands open when the board
/// is dead, which is what fish need.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Signal {
    shut: f32,
    wide: f32,
}

impl Signal {
    /// Shut at no duty, wide open at full duty.
    pub const FULL: Self = Self { shut: 0.0, wide: 1.0 };

    /// From the duty shares at which the valve is shut and wide open; both are held to 0..1 (NaN counts as 0).
    #[must_use]
    pub fn new(shut: f32, wide: f32) -> Self {
        Self {
            shut: limit(shut, 0.0, 1.0),
            wide: limit(wide, 0.0, 1.0),
        }
    }

    /// For a converter that gives `full_duty_v` at full duty: shut at `shut_v`, wide open at `wide_v`, V.
    ///
    /// ```
    /// # use risertrim::drive::Signal;
    /// // 2-10 V valve on a converter that gives 10.5 V at full duty.
    /// let signal = Signal::volts(2.0, 10.0, 10.5);
    /// assert!((signal.duty_share(0.0) - 2.0 / 10.5).abs() < 1.0e-6);
    /// ```
    #[must_use]
    pub fn volts(shut_v: f32, wide_v: f32, full_duty_v: f32) -> Self {
        Self::new(shut_v / full_duty_v, wide_v / full_duty_v)
    }

    /// For a valve that is shut at 4 mA and wide open at 20 mA (IEC 60381-1), on a converter that gives `full_duty_ma` at full
    /// duty.
    #[must_use]
    pub fn four_to_twenty_ma(full_duty_ma: f32) -> Self {
        Self::new(4.0 / full_duty_ma, 20.0 / full_duty_ma)
    }

    /// The same with the ends exchanged.
    #[must_use]
    pub const fn reversed(self) -> Self {
        Self {
            shut: self.wide,
            wide: self.shut,
        }
    }

    /// Share of full duty for a share of the stroke (held to 0..1).
    #[must_use]
    pub fn duty_share(&self, share: f32) -> f32 {
        let share = Opening::new(share).share();
        // Written so that both ends come out exactly.
        (1.0 - share) * self.shut + share * self.wide
    }

    /// Duty counts of an output whose full duty is `full`, to the nearest count: never truncated, never beyond `full`.
    #[must_use]
    pub fn counts(&self, share: f32, full: u16) -> u16 {
        Opening::new(self.duty_share(share)).counts(full)
    }

    /// Puts a PWM output at a share of the stroke. `fault` is what its error is called.
    pub(super) fn put(&self, pwm: &mut impl SetDutyCycle, share: f32, fault: DriveFault) -> Result<(), DriveFault> {
        let full = pwm.max_duty_cycle();
        if full == 0 {
            return Err(DriveFault::PwmNotSetUp);
        }
        pwm.set_duty_cycle(self.counts(share, full)).map_err(|_| fault)
    }
}

impl Default for Signal {
    fn default() -> Self {
        Self::FULL
    }
}
