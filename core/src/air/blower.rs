//! The blower and what hangs on the manifold besides the lifts.

use crate::math::interpolate;
use crate::math::seldom::{larger, smaller};
use serde::{Deserialize, Serialize};

/// Points a blower curve can hold.
pub const BLOWER_POINTS: usize = 8;

/// One point of the blower's curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BlowerPoint {
    /// Free air delivered, m3/s at 100 kPa and 20 C.
    pub air_m3_s: f32,
    /// Pressure it holds at that air, Pa above the atmosphere.
    pub pressure_pa: f32,
}

/// A valve or hole from the manifold to the open, always open: keeps the blower's minimum flow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Bleed {
    /// Sonic conductance, m3/(s Pa) at the ISO 8778 reference.
    pub conductance_m3_s_pa: f32,
    /// Critical pressure ratio.
    pub critical_ratio: f32,
}

/// How the blower can be set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Drive {
    /// Not at all: it runs.
    #[default]
    Fixed,
    /// Equal units on relays, switched on one after another.
    Relays {
        /// Units there are, 1 to 8; the curve is that of all together.
        units: u8,
        /// Time between two starts, s, so that their starting currents do not add up; 1 to 600.
        start_gap_s: u16,
    },
    /// Variable speed: air goes with the speed and pressure with its square (the similarity laws of fans and side-channel
    /// blowers).
    Speed {
        /// Lowest speed allowed, share of the full one at which the curve was taken; 0.2 to 1.
        least: f32,
    },
}

/// A battery or the like that drives the blower when the mains is gone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Backup {
    /// Energy it gives when full, after the losses of its inverter, Wh; 1 to 1e6.
    pub energy_wh: f32,
    /// Time it shall last if giving up lifts makes that possible, h; 0.1 to 240.
    pub wanted_h: f32,
}

/// Blower, bleed and gauge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AirSupply {
    /// Pressure against air: rising air, falling pressure, two points or more.
    pub curve: heapless::Vec<BlowerPoint, BLOWER_POINTS>,
    /// Least air that must pass the blower, m3/s: for its cooling, and clear of surge. Zero when it does not matter.
    pub least_air_m3_s: f32,
    /// The bleed, if there is one.
    pub bleed: Option<Bleed>,
    /// Scatter of the manifold gauge, RMS, Pa; `None` when there is no gauge.
    pub gauge_noise_pa: Option<f32>,
    /// How it can be set.
    pub drive: Drive,
    /// Efficiency from the wire to the air, 0.05 to 1: only for figures of power and battery time. 0.35 is usual for small
    /// side-channel and membrane blowers (common practice, no source).
    pub efficiency: f32,
    /// What drives it when the mains is gone, if that is told.
    pub backup: Option<Backup>,
}

impl AirSupply {
    /// No blower, and the usual for what is seldom told: to be filled in.
    pub const NONE: Self = Self {
        curve: heapless::Vec::new(),
        least_air_m3_s: 0.0,
        bleed: None,
        gauge_noise_pa: None,
        drive: Drive::Fixed,
        efficiency: 0.35,
        backup: None,
    };

    /// Pressure the blower holds at this air, Pa above the atmosphere; flat beyond the ends of its curve.
    #[must_use]
    pub fn pressure_pa(&self, air_m3_s: f32) -> f32 {
        crate::math::larger(
            interpolate(&self.curve, air_m3_s, |p| p.air_m3_s, |p| p.pressure_pa).unwrap_or(0.0),
            0.0,
        )
    }

    /// Highest pressure on the curve, Pa: what it holds against shut valves.
    #[must_use]
    #[inline(never)]
    pub fn shut_off_pa(&self) -> f32 {
        self.curve
            .iter()
            .fold(0.0, |most, point| larger(most, point.pressure_pa))
    }

    /// Air the blower delivers against this pressure, m3/s; zero above its shut-off pressure.
    #[must_use]
    pub fn air_m3_s(&self, pressure_pa: f32) -> f32 {
        let mut right: Option<&BlowerPoint> = None;
        for left in self.curve.iter().rev() {
            if pressure_pa <= left.pressure_pa {
                let Some(right) = right else { return left.air_m3_s };
                let drop = left.pressure_pa - right.pressure_pa;
                let share = if drop > 0.0 {
                    (pressure_pa - right.pressure_pa) / drop
                } else {
                    1.0
                };
                return right.air_m3_s + smaller(share, 1.0) * (left.air_m3_s - right.air_m3_s);
            }
            right = Some(left);
        }
        0.0
    }
}
