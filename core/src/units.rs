//! Quantities whose mix-up would hurt, each as a type of its own.
//!
//! Other quantities are plain `f32` in SI units with the unit at the end of the name (`bore_m`, `pressure_pa`).

use crate::math::limit;
use serde::{Deserialize, Serialize};

/// Litres a minute in one cubic metre a second.
pub const L_MIN_PER_M3_S: f32 = 60_000.0;

/// Reference pressure of [`FreeAir`], Pa absolute.
pub const FREE_AIR_PA: f32 = 100_000.0;

/// Reference temperature of [`FreeAir`], K (20 C).
pub const FREE_AIR_K: f32 = 293.15;

/// Water moved, m3/s. Negative when water runs back.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(transparent)]
pub struct WaterFlow {
    /// Cubic metres a second.
    pub m3_s: f32,
}

impl WaterFlow {
    /// No flow.
    pub const ZERO: Self = Self { m3_s: 0.0 };

    /// From litres a minute.
    #[must_use]
    pub const fn from_l_min(l_min: f32) -> Self {
        Self {
            m3_s: l_min / L_MIN_PER_M3_S,
        }
    }

    /// From cubic metres a second.
    #[must_use]
    pub const fn from_m3_s(m3_s: f32) -> Self {
        Self { m3_s }
    }

    /// In litres a minute.
    #[must_use]
    pub const fn l_min(self) -> f32 {
        self.m3_s * L_MIN_PER_M3_S
    }
}

/// Air as the volume it would have at 100 kPa and 20 C, dry, in m3/s: the same number means the same mass everywhere.
///
/// Other reference states (0 C and 101.325 kPa, the inlet of a blower at altitude) differ by up to 10-20 %; convert at
/// the edge with [`FreeAir::from_volume`].
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(transparent)]
pub struct FreeAir {
    /// Cubic metres a second at 100 kPa and 20 C.
    pub m3_s: f32,
}

impl FreeAir {
    /// No air.
    pub const ZERO: Self = Self { m3_s: 0.0 };

    /// From litres a minute at 100 kPa and 20 C.
    #[must_use]
    pub const fn from_l_min(l_min: f32) -> Self {
        Self {
            m3_s: l_min / L_MIN_PER_M3_S,
        }
    }

    /// From cubic metres a second at 100 kPa and 20 C.
    #[must_use]
    pub const fn from_m3_s(m3_s: f32) -> Self {
        Self { m3_s }
    }

    /// From a volume flow measured at another state (absolute pressure, temperature).
    #[must_use]
    pub fn from_volume(volume_m3_s: f32, pressure_pa: f32, temperature_k: f32) -> Self {
        Self {
            m3_s: volume_m3_s * (pressure_pa / FREE_AIR_PA) * (FREE_AIR_K / temperature_k),
        }
    }

    /// The volume flow this air has at another state (absolute pressure, temperature), m3/s.
    #[must_use]
    pub fn volume_m3_s(self, pressure_pa: f32, temperature_k: f32) -> f32 {
        self.m3_s * (FREE_AIR_PA / pressure_pa) * (temperature_k / FREE_AIR_K)
    }

    /// In litres a minute at 100 kPa and 20 C.
    #[must_use]
    pub const fn l_min(self) -> f32 {
        self.m3_s * L_MIN_PER_M3_S
    }
}

/// How far a valve is open: 0 shut, 1 wide open. Always a number in that range.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(from = "f32", into = "f32")]
pub struct Opening(f32);

impl Opening {
    /// Shut.
    pub const SHUT: Self = Self(0.0);
    /// Wide open.
    pub const WIDE: Self = Self(1.0);

    /// Holds `share` to 0..1. NaN becomes wide open: a valve that does not know must let air through.
    #[must_use]
    #[inline(never)]
    pub fn new(share: f32) -> Self {
        if share.is_nan() {
            Self::WIDE
        } else {
            Self(limit(share, 0.0, 1.0))
        }
    }

    /// Holds `share` between the limits of a valve as well; NaN becomes the least.
    #[must_use]
    #[inline(never)]
    pub fn within(share: f32, (least, most): (f32, f32)) -> Self {
        Self::new(limit(share, least, most))
    }

    /// Share of the stroke, 0..1.
    #[must_use]
    pub const fn share(self) -> f32 {
        self.0
    }

    /// As a count for a driver whose wide-open value is `full`, rounded to nearest.
    ///
    /// ```
    /// # use risertrim::Opening;
    /// assert_eq!(Opening::new(0.5).counts(1000), 500);
    /// assert_eq!(Opening::WIDE.counts(u16::MAX), u16::MAX);
    /// ```
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn counts(self, full: u16) -> u16 {
        // A float-to-integer cast saturates, so no value of `full` can wrap.
        (self.0 * f32::from(full) + 0.5) as u16
    }
}

impl From<f32> for Opening {
    fn from(share: f32) -> Self {
        Self::new(share)
    }
}

impl From<Opening> for f32 {
    fn from(opening: Opening) -> Self {
        opening.share()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn free_air_keeps_its_mass_through_a_change_of_state() {
        // 1 m3/s at 101325 Pa and 0 C holds 1.29310 kg/m3 against 1.18885 at 100 kPa and 20 C (CoolProp, dry air).
        let air = FreeAir::from_volume(1.0, 101_325.0, 273.15);
        assert!((air.m3_s - 1.293_10 / 1.188_85).abs() < 5.0e-4, "{}", air.m3_s);
        assert!((air.volume_m3_s(101_325.0, 273.15) - 1.0).abs() < 1.0e-6);
    }

    #[test]
    fn an_opening_is_always_within_its_range() {
        assert_eq!(Opening::new(f32::NAN), Opening::WIDE);
        assert_eq!(Opening::new(-3.0), Opening::SHUT);
        assert_eq!(Opening::new(f32::INFINITY), Opening::WIDE);
    }
}
