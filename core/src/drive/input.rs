//! Level inputs: from whatever a board reads to a [`Reading`].

use super::InputFault;
use crate::reading::Reading;

/// What a sample is worth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Quality {
    /// Measured.
    Good,
    /// The level is at or below the lower end of the sensor's range.
    AtLowEnd,
    /// The level is at or above the upper end of the sensor's range.
    AtHighEnd,
    /// No level, and why.
    Failed(InputFault),
}

/// One sample of a level input.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sample {
    /// What goes into [`Readings`](crate::Readings).
    pub reading: Reading,
    /// What it is worth; for the log and for people.
    pub quality: Quality,
}

impl Sample {
    /// A measured value.
    #[must_use]
    pub const fn good(value: f32) -> Self {
        Self {
            reading: Reading::Value(value),
            quality: Quality::Good,
        }
    }

    /// No value.
    #[must_use]
    pub const fn failed(fault: InputFault) -> Self {
        Self {
            reading: Reading::Missing,
            quality: Quality::Failed(fault),
        }
    }
}

/// A level input (or a pressure gauge). `embedded-hal` 1.0 has no trait for analogue inputs, so this is ours; it never errs: a
/// bus that does not answer is a missing reading.
pub trait LevelInput {
    /// One sample, in the unit that the sensor's scale in the installation starts from.
    fn sample(&mut self) -> Sample;
}

/// An input made from a closure; see [`from_fn`].
#[derive(Clone, Copy, Debug)]
pub struct FromFn<F> {
    read: F,
}

/// A level input from any call that may fail: an ADC, a bus, a radio. Its error and any value that is no number are a
/// missing reading.
///
/// A pressure cell on I2C:
///
/// ```
/// use embedded_hal::i2c::I2c;
/// use risertrim::Reading;
/// use risertrim::drive::{LevelInput, from_fn};
///
/// # fn wire<B: I2c>(mut bus: B) {
/// // This cell sends pressure in steps of 0.5 Pa as a big-endian word; its scale in the installation is Pa to m.
/// let mut level = from_fn(|| {
///     let mut word = [0u8; 2];
///     bus.write_read(0x28, &[0x06], &mut word)?;
///     Ok::<f32, B::Error>(0.5 * f32::from(u16::from_be_bytes(word)))
/// });
/// let reading: Reading = level.sample().reading;
/// # let _ = reading;
/// # }
/// ```
pub const fn from_fn<F, E>(read: F) -> FromFn<F>
where
    F: FnMut() -> Result<f32, E>,
{
    FromFn { read }
}

impl<F, E> LevelInput for FromFn<F>
where
    F: FnMut() -> Result<f32, E>,
{
    fn sample(&mut self) -> Sample {
        match (self.read)() {
            Err(_) => Sample::failed(InputFault::NoAnswer),
            Ok(value) if value.is_finite() => Sample::good(value),
            Ok(_) => Sample::failed(InputFault::NotANumber),
        }
    }
}

/// Judges a signal against the range a sensor measures in and the limits beyond which it has failed.
///
/// Below `failed.0` (or at it) and above `failed.1` (or at it) there is no level; between these and `measures` the level is at
/// that end.
pub(super) fn judge(signal: f32, measures: (f32, f32), failed: (f32, f32)) -> Sample {
    if !signal.is_finite() {
        return Sample::failed(InputFault::NotANumber);
    }
    if signal <= failed.0 {
        Sample::failed(InputFault::SignalTooLow)
    } else if signal >= failed.1 {
        Sample::failed(InputFault::SignalTooHigh)
    } else if signal < measures.0 {
        Sample {
            reading: Reading::Value(measures.0),
            quality: Quality::AtLowEnd,
        }
    } else if signal > measures.1 {
        Sample {
            reading: Reading::Value(measures.1),
            quality: Quality::AtHighEnd,
        }
    } else {
        Sample::good(signal)
    }
}
