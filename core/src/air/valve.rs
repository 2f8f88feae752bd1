//! The air valve: ISO 6358 conductance and its characteristic.

use crate::math::{exp, interpolate, larger, limit, ln, seldom, sqrt};
use crate::units::Opening;
use serde::{Deserialize, Serialize};

/// Volume at the ISO 8778 reference (1.185 kg/m3) to free air of this crate (100 kPa, 20 C, dry: 1.18885 kg/m3).
pub(super) const REFERENCE_TO_FREE_AIR: f32 = 1.185 / 1.188_85;

/// Above this pressure ratio the flow is taken as linear in the drop: the law's own slope is infinite at no drop.
const LINEAR_ABOVE: f32 = 0.995;

/// Travel over which an equal-percentage valve comes off its seat; below it the flow goes straight to zero.
const SEAT: f32 = 0.05;

/// Points a measured characteristic can hold.
pub const CHARACTERISTIC_POINTS: usize = 6;

/// One point of a measured characteristic.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ValvePoint {
    /// Opening, 0..1, rising.
    pub opening: f32,
    /// Share of the full conductance, 0..1, rising.
    pub share: f32,
}

/// How conductance grows with travel. `P` is where the points of a measured one are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Characteristic<P = heapless::Vec<ValvePoint, CHARACTERISTIC_POINTS>> {
    /// Conductance in proportion to travel.
    Linear,
    /// Equal percentage: `R^(x - 1)`, R the rangeability (10 to 100); straight to zero below 5 % of travel.
    EqualPercentage {
        /// Ratio of the largest to the smallest controlled conductance.
        rangeability: f32,
    },
    /// Measured points, straight between them.
    Table {
        /// The points.
        points: P,
    },
}

impl<P> Characteristic<P> {
    /// The same with its points elsewhere.
    pub(crate) fn with<'a, Q>(&'a self, points: impl FnOnce(&'a P) -> Q) -> Characteristic<Q> {
        match self {
            Self::Linear => Characteristic::Linear,
            Self::EqualPercentage { rangeability } => Characteristic::EqualPercentage {
                rangeability: *rangeability,
            },
            Self::Table { points: told } => Characteristic::Table { points: points(told) },
        }
    }
}

impl<P: AsRef<[ValvePoint]>> Characteristic<P> {
    /// Share of the full conductance at an opening.
    #[must_use]
    pub fn share(&self, opening: Opening) -> f32 {
        let x = opening.share();
        match self {
            Self::Linear => x,
            Self::EqualPercentage { rangeability } => {
                if x >= 1.0 {
                    return 1.0;
                }
                let steep = ln(larger(*rangeability, 1.01));
                if x >= SEAT {
                    exp((x - 1.0) * steep)
                } else {
                    x / SEAT * exp((SEAT - 1.0) * steep)
                }
            }
            Self::Table { points } => seldom::limit(
                interpolate(points.as_ref(), x, |p| p.opening, |p| p.share).unwrap_or(x),
                0.0,
                1.0,
            ),
        }
    }

    /// The opening with this share of the full conductance; wide open for a share of 1 or more.
    #[must_use]
    pub fn opening(&self, share: f32) -> Opening {
        let share = limit(share, 0.0, 1.0);
        Opening::new(match self {
            Self::Linear => share,
            Self::EqualPercentage { rangeability } => {
                let steep = ln(larger(*rangeability, 1.01));
                let opening = 1.0 + ln(share) / steep;
                if opening >= SEAT {
                    opening
                } else {
                    SEAT * share / exp((SEAT - 1.0) * steep)
                }
            }
            Self::Table { points } => interpolate(points.as_ref(), share, |p| p.share, |p| p.opening).unwrap_or(share),
        })
    }
}

/// An air valve with its actuator. `P` is where the points of a measured characteristic are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Valve<P = heapless::Vec<ValvePoint, CHARACTERISTIC_POINTS>> {
    /// Sonic conductance wide open, m3/(s Pa) at the ISO 8778 reference (1 dm3/(s bar) is 1e-8).
    pub conductance_m3_s_pa: f32,
    /// Critical pressure ratio b of ISO 6358, 0.05 to 0.6.
    pub critical_ratio: f32,
    /// How it opens.
    pub characteristic: Characteristic<P>,
    /// Time for a full stroke, s; 0 when it follows at once.
    pub stroke_s: f32,
    /// Play of its gears, share of the stroke; 0 to 0.1.
    pub backlash: f32,
}

/// Flow function of ISO 6358 at a pressure ratio: 1 below the critical ratio, elliptic above, linear near no drop.
#[must_use]
pub fn flow_function(ratio: f32, critical_ratio: f32) -> f32 {
    let ellipse = |r: f32| {
        let x = (r - critical_ratio) / (1.0 - critical_ratio);
        sqrt(1.0 - x * x)
    };
    if ratio <= critical_ratio {
        1.0
    } else if ratio <= LINEAR_ABOVE {
        ellipse(ratio)
    } else {
        ellipse(LINEAR_ABOVE) * larger(1.0 - ratio, 0.0) / (1.0 - LINEAR_ABOVE)
    }
}

/// Air through a restriction of conductance `conductance_m3_s_pa` from `p1_pa` into a path that holds `still_pa` without
/// flow and adds `loss_pa_s2_m6` times the square of the flow (absolute pressures); m3/s of free air.
///
/// The restriction's ellipse and the path's parabola meet in a quadratic in the square of the flow: solved, not iterated.
#[must_use]
pub fn flow_into_path(
    conductance_m3_s_pa: f32,
    critical_ratio: f32,
    p1_pa: f32,
    still_pa: f32,
    loss_pa_s2_m6: f32,
) -> f32 {
    let full = conductance_m3_s_pa * REFERENCE_TO_FREE_AIR * p1_pa;
    if !(full > 1.0e-12) || !(p1_pa > still_pa) {
        return 0.0;
    }
    let width = 1.0 - critical_ratio;
    let w = (still_pa / p1_pa - critical_ratio) / width;
    let v = loss_pa_s2_m6 / (p1_pa * width);
    if w + v * full * full <= 0.0 {
        return full;
    }
    let b = 2.0 * w * v + 1.0 / (full * full);
    let c = 1.0 - w * w;
    let below = b + sqrt(b * b + 4.0 * v * v * c);
    let flow = if below > 0.0 { sqrt(2.0 * c / below) } else { full };
    if (still_pa + loss_pa_s2_m6 * flow * flow) / p1_pa <= LINEAR_ABOVE {
        return flow;
    }
    let steep = full * flow_function(LINEAR_ABOVE, critical_ratio) / (1.0 - LINEAR_ABOVE);
    let push = steep * (1.0 - still_pa / p1_pa);
    2.0 * push / (1.0 + sqrt(1.0 + 4.0 * steep * loss_pa_s2_m6 / p1_pa * push))
}

impl<P> Valve<P> {
    /// The same with its points elsewhere.
    pub(crate) fn with<'a, Q>(&'a self, points: impl FnOnce(&'a P) -> Q) -> Valve<Q> {
        Valve {
            conductance_m3_s_pa: self.conductance_m3_s_pa,
            critical_ratio: self.critical_ratio,
            characteristic: self.characteristic.with(points),
            stroke_s: self.stroke_s,
            backlash: self.backlash,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_characteristic_and_its_inverse_agree() {
        let mut points = heapless::Vec::<_, CHARACTERISTIC_POINTS>::new();
        for (opening, share) in [(0.0, 0.0), (0.3, 0.05), (0.6, 0.4), (1.0, 1.0)] {
            points.push(ValvePoint { opening, share }).unwrap();
        }
        for characteristic in [
            Characteristic::Linear,
            Characteristic::EqualPercentage { rangeability: 30.0 },
            Characteristic::Table { points },
        ] {
            for step in 0..=100u8 {
                let opening = Opening::new(f32::from(step) / 100.0);
                let back = characteristic.opening(characteristic.share(opening));
                assert!(
                    (back.share() - opening.share()).abs() < 2.0e-6,
                    "{characteristic:?} at {opening:?}: {back:?}"
                );
            }
        }
    }

    #[test]
    fn the_flow_into_a_path_satisfies_both_of_its_laws() {
        for p1 in [101_400.0f32, 104_000.0, 112_000.0, 130_000.0, 300_000.0] {
            for loss in [0.0f32, 1.0e8, 2.0e9] {
                let flow = flow_into_path(4.0e-8, 0.3, p1, 101_325.0, loss);
                let ratio = (101_325.0 + loss * flow * flow) / p1;
                let law = 4.0e-8 * REFERENCE_TO_FREE_AIR * p1 * flow_function(ratio, 0.3);
                assert!(
                    (flow - law).abs() <= 2.0e-3 * law,
                    "p1 {p1}, loss {loss}: {flow} against {law}"
                );
            }
        }
    }
}
