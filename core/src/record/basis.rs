//! What every record with a time carries, so that it still means something in a year.

use crate::frame::fingerprint;
use crate::installation::{Installation, Lift};
use crate::step::Step;
use crate::time::Millis;
use serde::{Deserialize, Serialize};

/// The state that every air in a record is converted to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AirReference {
    /// Dry air at 100 kPa and 20 C: see [`crate::FreeAir`].
    #[default]
    Kpa100C20,
}

/// What the controller saw of air and water at the last step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Seen {
    /// Manifold pressure as measured or worked out, Pa above the atmosphere.
    pub manifold_pa: f32,
    /// Level believed in the [`sump`], m above its floor.
    pub sump_m: f32,
}

/// When a record was made and under what circumstances.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Basis {
    /// The board's counter.
    pub now: Millis,
    /// Which curves the controller worked with: see [`curves_version`].
    pub curves: u16,
    /// What air is told in.
    pub air: AirReference,
    /// Air and water at the last step; `None` before the first.
    pub seen: Option<Seen>,
}

impl Basis {
    /// That of a step.
    #[must_use]
    pub fn of<const LIFTS: usize, const TANKS: usize>(step: &Step<LIFTS, TANKS>, curves: u16, sump: u8) -> Self {
        let tank = step.tanks.get(usize::from(sump));
        Self {
            now: step.now,
            curves,
            air: AirReference::Kpa100C20,
            seen: tank.map(|tank| Seen {
                manifold_pa: super::kinds::number(step.manifold_pa),
                sump_m: super::kinds::number(tank.level_m),
            }),
        }
    }
}

/// The version of the curves and outlet laws in an installation: the low half of its fingerprint. It needs no counter that a
/// restart could lose, and tells which installation a record belongs to even where the header is lost.
#[must_use]
pub fn curves_version<const LIFTS: usize, const TANKS: usize>(installation: &Installation<LIFTS, TANKS>) -> u16 {
    low_half(fingerprint(installation).unwrap_or_default())
}

/// The low half of a fingerprint.
pub(super) const fn low_half(fingerprint: u32) -> u16 {
    let [low, high, ..] = fingerprint.to_le_bytes();
    u16::from_le_bytes([low, high])
}

/// The sump: the tank that most lifts draw from, the first of several.
#[must_use]
pub fn sump<P>(tanks: usize, lifts: &[Lift<P>]) -> u8 {
    let (mut sump, mut most) = (0, 0);
    for (tank, _) in (0u8..).zip(0..tanks) {
        let drawing = lifts.iter().filter(|lift| lift.from == tank).count();
        if drawing > most {
            (sump, most) = (tank, drawing);
        }
    }
    sump
}
