//! Sensors on a 4-20 mA loop, judged by the signal levels of NAMUR NE 43.

use super::input::judge;
use super::{InputFault, LevelInput, Sample};

/// Current at the lower end of the range, mA (IEC 60381-1).
pub const NOMINAL_LOW_MA: f32 = 4.0;
/// Current at the upper end of the range, mA (IEC 60381-1).
pub const NOMINAL_HIGH_MA: f32 = 20.0;
/// At or below this current the sensor has failed, mA (NAMUR NE 43).
pub const FAILED_LOW_MA: f32 = 3.6;
/// At or above this current the sensor has failed, mA (NAMUR NE 43).
pub const FAILED_HIGH_MA: f32 = 21.0;
/// Lowest current that still measures, mA (NAMUR NE 43).
pub const MEASURING_LOW_MA: f32 = 3.8;
/// Highest current that still measures, mA (NAMUR NE 43).
pub const MEASURING_HIGH_MA: f32 = 20.5;

/// A sensor on a current loop. Its readings are mA: the scale in the installation goes from 4 and 20 mA to metres.
///
/// | current | meaning (NAMUR NE 43) |
/// | --- | --- |
/// | 3.6 mA and below | failed: missing |
/// | above 3.6, below 3.8 mA | saturated: the level is at the lower end, read as 3.8 mA |
/// | 3.8 to 20.5 mA | measured |
/// | above 20.5, below 21 mA | saturated: the level is at the upper end, read as 20.5 mA |
/// | 21 mA and above | failed: missing |
#[derive(Clone, Copy, Debug)]
pub struct CurrentLoop<F> {
    read_ma: F,
}

impl<F, E> CurrentLoop<F>
where
    F: FnMut() -> Result<f32, E>,
{
    /// From a call that gives the current in mA.
    ///
    /// ```
    /// use risertrim::drive::{CurrentLoop, LevelInput, Shunt};
    ///
    /// # fn adc() -> Result<u16, ()> { Ok(2048) }
    /// // 150 ohm across a 12-bit converter with 3.3 V reference.
    /// let shunt = Shunt { ohm: 150.0, reference_v: 3.3, full_counts: 4095 };
    /// let mut level = CurrentLoop::new(|| adc().map(|counts| shunt.milliamperes(counts)));
    /// let sample = level.sample();
    /// # assert!(matches!(sample.reading, risertrim::Reading::Value(ma) if (ma - 11.0).abs() < 0.01));
    /// ```
    pub const fn new(read_ma: F) -> Self {
        Self { read_ma }
    }
}

impl<F, E> LevelInput for CurrentLoop<F>
where
    F: FnMut() -> Result<f32, E>,
{
    fn sample(&mut self) -> Sample {
        match (self.read_ma)() {
            Err(_) => Sample::failed(InputFault::NoAnswer),
            Ok(ma) => judge(
                ma,
                (MEASURING_LOW_MA, MEASURING_HIGH_MA),
                (FAILED_LOW_MA, FAILED_HIGH_MA),
            ),
        }
    }
}

/// A resistor across an analogue input, which turns a loop's current into counts.
///
/// Choose it so that 21 mA stays below the reference (at 3.3 V: 157 ohm at most), or a failed sensor looks saturated.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Shunt {
    /// Resistance, ohm.
    pub ohm: f32,
    /// Voltage at full counts, V.
    pub reference_v: f32,
    /// Counts at the reference voltage.
    pub full_counts: u16,
}

impl Shunt {
    /// The current at these counts, mA. Not finite for a shunt of no resistance: a missing reading.
    #[must_use]
    pub fn milliamperes(&self, counts: u16) -> f32 {
        1000.0 * self.reference_v * f32::from(counts) / f32::from(self.full_counts) / self.ohm
    }
}
