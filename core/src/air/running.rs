//! How much of the blower runs, and the power it takes.

use super::blower::AirSupply;
use crate::math::seldom::{larger, limit, positive};

/// What runs of a blower, as shares of its whole curve.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Running {
    /// Air at the same pressure, share of the curve's.
    pub air: f32,
    /// Pressure, share of the curve's.
    pub pressure: f32,
}

impl Running {
    /// All of it at full speed.
    pub const FULL: Self = Self {
        air: 1.0,
        pressure: 1.0,
    };

    /// Some of several equal units side by side: their airs add up.
    #[must_use]
    pub fn units(running: u8, of: u8) -> Self {
        Self {
            air: f32::from(running) / larger(f32::from(of), 1.0),
            pressure: 1.0,
        }
    }

    /// A share of full speed: air goes with it, pressure with its square.
    #[must_use]
    pub fn speed(share: f32) -> Self {
        let share = limit(share, 0.0, 1.0);
        Self {
            air: share,
            pressure: share * share,
        }
    }

    /// Pressure held at this air, Pa.
    #[must_use]
    pub fn pressure_pa(&self, supply: &AirSupply, air_m3_s: f32) -> f32 {
        if self.air > 0.0 {
            self.pressure * supply.pressure_pa(air_m3_s / self.air)
        } else {
            0.0
        }
    }

    /// Highest pressure held, Pa.
    #[must_use]
    pub fn shut_off_pa(&self, supply: &AirSupply) -> f32 {
        if self.air > 0.0 {
            self.pressure * supply.shut_off_pa()
        } else {
            0.0
        }
    }

    /// Air delivered against a pressure, m3/s.
    #[must_use]
    pub fn air_m3_s(&self, supply: &AirSupply, pressure_pa: f32) -> f32 {
        if self.air > 0.0 && self.pressure > 0.0 {
            self.air * supply.air_m3_s(pressure_pa / self.pressure)
        } else {
            0.0
        }
    }
}

/// Power from the wire, W, for this free air at this pressure above the atmosphere: ideal (isentropic) compression of air over
/// the efficiency, as a series in `r = p / p_atm` that is within 0.5 % up to `r = 0.4`:
/// `r (1 - 0.357 r + 0.204 r^2)` for `3.5 ((1 + r)^(2/7) - 1)`.
#[must_use]
pub fn power_w(air_m3_s: f32, pressure_pa: f32, atmosphere_pa: f32, efficiency: f32) -> f32 {
    let r = limit(pressure_pa / larger(atmosphere_pa, 1.0), 0.0, 1.0);
    let work = r * (1.0 - r * (0.357_14 - 0.204_08 * r));
    // Free air is at 100 kPa: the product of pressure and volume is that of the inlet.
    positive(air_m3_s) * crate::units::FREE_AIR_PA * work / larger(efficiency, 0.01)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::BlowerPoint;

    fn supply() -> AirSupply {
        AirSupply {
            curve: [(0.0, 20_000.0), (0.01, 0.0)]
                .map(|(air_m3_s, pressure_pa)| BlowerPoint { air_m3_s, pressure_pa })
                .into_iter()
                .collect(),
            ..AirSupply::NONE
        }
    }

    #[test]
    fn half_the_speed_is_half_the_air_at_a_quarter_of_the_pressure() {
        let half = Running::speed(0.5);
        assert!((half.pressure_pa(&supply(), 0.0025) - 2_500.0).abs() < 1.0);
        assert!((half.air_m3_s(&supply(), 2_500.0) - 0.0025).abs() < 1.0e-6);
    }

    #[test]
    fn units_side_by_side_add_their_air_and_not_their_pressure() {
        let two = Running::units(2, 4);
        assert!((two.air_m3_s(&supply(), 10_000.0) - 0.0025).abs() < 1.0e-6);
        assert_eq!(two.shut_off_pa(&supply()), 20_000.0);
        assert_eq!(Running::units(0, 4).air_m3_s(&supply(), 0.0), 0.0);
    }

    #[test]
    fn power_is_that_of_ideal_compression() {
        // Textbook: 9468.75 J for 1 m3 at 101.325 kPa compressed by 9.661 % of it.
        let watts = power_w(1.013_25, 0.096_61 * 101_325.0, 101_325.0, 1.0);
        assert!((watts / 9468.75 - 1.0).abs() < 5.0e-3, "{watts}");
    }
}
