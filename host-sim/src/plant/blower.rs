//! The blower.

use super::place::Place;
use super::{FREE_AIR_K, FREE_AIR_PA};

/// A blower as its sheet tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct BlowerSpec {
    /// (free air m3/s, gauge pressure Pa): air rising, pressure falling. Beyond its ends the curve goes straight on.
    pub points: Vec<(f64, f64)>,
    /// Inlet pressure at which the curve was taken, Pa absolute; at a thinner inlet both sides shrink in proportion.
    pub curve_at_pa: f64,
    /// Isentropic efficiency, wire to air (0.05 to 1).
    pub efficiency: f64,
    /// True flow over the sheet's.
    pub flow_multiplier: f64,
    /// True pressure over the sheet's.
    pub pressure_multiplier: f64,
}

/// A running (or stopped) blower.
#[derive(Clone, Debug)]
pub struct Blower {
    points: Vec<(f64, f64)>,
    efficiency: f64,
    /// True flow over the sheet's.
    pub flow_multiplier: f64,
    /// True pressure over the sheet's.
    pub pressure_multiplier: f64,
    /// Share of pressure and flow left by a sag (1: none).
    pub sag: f64,
    /// Share of pressure and flow left at this moment of a surge (1: none).
    pub swing: f64,
    /// Pressure lost at a blocked intake, Pa per (m3/s)2.
    pub intake_pa: f64,
    /// Speed as a share of the full one: flow goes with it, pressure with its square.
    pub speed: f64,
    /// Share of a bank's equal units that run: flow goes with it.
    pub units: f64,
    /// Whether it runs.
    pub on: bool,
}

/// The curve read at one pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Delivery {
    /// Free air, m3/s.
    pub q_m3_s: f64,
    /// Change of it with pressure, m3/s per Pa; not positive.
    pub slope: f64,
    /// Which straight piece of the curve this is.
    pub piece: usize,
}

impl Blower {
    /// A running blower at a place.
    #[must_use]
    pub fn new(spec: &BlowerSpec, place: &Place) -> Self {
        let thin = place.p_atm_pa / spec.curve_at_pa;
        Self {
            points: spec.points.iter().map(|(q, p)| (q * thin, p * thin)).collect(),
            efficiency: spec.efficiency,
            flow_multiplier: spec.flow_multiplier,
            pressure_multiplier: spec.pressure_multiplier,
            sag: 1.0,
            swing: 1.0,
            intake_pa: 0.0,
            speed: 1.0,
            units: 1.0,
            on: true,
        }
    }

    /// Whether it blows at all.
    #[must_use]
    pub fn blows(&self) -> bool {
        self.on && self.flow_share() > 0.0 && self.pressure_share() > 0.0
    }

    fn pressure_share(&self) -> f64 {
        self.pressure_multiplier * self.sag * self.swing * self.speed * self.speed
    }

    fn flow_share(&self) -> f64 {
        self.flow_multiplier * self.sag * self.swing * self.speed * self.units
    }

    /// Gauge pressure with everything shut, Pa.
    #[must_use]
    pub fn shut_off_pa(&self) -> f64 {
        let [(q0, p0), (q1, p1), ..] = self.points[..] else {
            return 0.0;
        };
        let top = p0 + (p0 - p1) * q0 / (q1 - q0);
        top * self.pressure_share()
    }

    /// Blocks the intake (0: free) so that this share of the pressure is lost at half the largest flow.
    pub fn block_intake(&mut self, lost: f64) {
        let most = self.points.last().map_or(0.0, |last| last.0) * self.flow_multiplier;
        let half = Self {
            intake_pa: 0.0,
            sag: 1.0,
            swing: 1.0,
            speed: 1.0,
            units: 1.0,
            ..self.clone()
        };
        let pa = half.pressure_at(0.5 * most);
        self.intake_pa = if most > 0.0 {
            lost * pa / (0.25 * most * most)
        } else {
            0.0
        };
    }

    /// Gauge pressure at a flow, Pa, from the points alone.
    fn pressure_at(&self, q_m3_s: f64) -> f64 {
        let q = q_m3_s / self.flow_share();
        let last = self.points.len().saturating_sub(2);
        for (piece, pair) in self.points.windows(2).enumerate() {
            let [(q0, p0), (q1, p1)] = [pair[0], pair[1]];
            if q <= q1 || piece == last {
                return self.pressure_share() * (p0 + (p1 - p0) * (q - q0) / (q1 - q0));
            }
        }
        0.0
    }

    /// Free air at a gauge pressure.
    pub(super) fn at(&self, gauge_pa: f64) -> Delivery {
        let press = self.pressure_share();
        let flow = self.flow_share();
        // The blocked intake's loss in terms of the points' own flow and pressure.
        let block = self.intake_pa * flow * flow / press;
        let p = gauge_pa / press;
        let last = self.points.len().saturating_sub(2);
        let mut out = Delivery {
            q_m3_s: 0.0,
            slope: 0.0,
            piece: 0,
        };
        for (piece, pair) in self.points.windows(2).enumerate() {
            let [(q0, p0), (q1, p1)] = [pair[0], pair[1]];
            if p >= p1 - block * q1 * q1 || piece == last {
                if block <= 0.0 {
                    let slope = (q1 - q0) / (p1 - p0);
                    out = Delivery {
                        q_m3_s: flow * (q0 + slope * (p - p0)),
                        slope: flow * slope / press,
                        piece,
                    };
                    break;
                }
                let fall = (p1 - p0) / (q1 - q0);
                // p0 + fall (q - q0) - block q2 = p, the root that is q of the straight line without a block.
                let still = p0 - fall * q0 - p;
                let root = (fall * fall + 4.0 * block * still).max(0.0).sqrt();
                let q = 2.0 * still / (root - fall);
                out = Delivery {
                    q_m3_s: flow * q,
                    slope: flow / (press * (fall - 2.0 * block * q)),
                    piece,
                };
                break;
            }
        }
        if out.q_m3_s <= 0.0 {
            out.q_m3_s = 0.0;
        }
        out
    }

    /// Electrical power, W, for `q_m3_s` of free air at `gauge_pa`: isentropic compression over the efficiency.
    #[must_use]
    pub fn power_w(&self, q_m3_s: f64, gauge_pa: f64, place: &Place) -> f64 {
        let inlet = q_m3_s * FREE_AIR_PA / place.p_atm_pa * place.temperature_k() / FREE_AIR_K;
        let ratio = 1.0 + gauge_pa.max(0.0) / place.p_atm_pa;
        3.5 * place.p_atm_pa * inlet * (ratio.powf(2.0 / 7.0) - 1.0) / self.efficiency
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spec() -> BlowerSpec {
        BlowerSpec {
            points: vec![(0.0, 26_000.0), (0.006, 13_000.0), (0.012, 0.0)],
            curve_at_pa: 101_325.0,
            efficiency: 1.0,
            flow_multiplier: 1.0,
            pressure_multiplier: 1.0,
        }
    }

    #[test]
    fn the_curve_is_read_backwards_and_sags_with_its_multipliers() {
        let place = Place::new(0.0, 20.0, 0.0);
        let mut blower = Blower::new(&spec(), &place);
        assert!((blower.at(13_000.0).q_m3_s - 0.006).abs() < 1e-12);
        assert!((blower.at(19_500.0).q_m3_s - 0.003).abs() < 1e-12);
        assert_eq!(blower.at(30_000.0).q_m3_s, 0.0);
        assert!((blower.shut_off_pa() - 26_000.0).abs() < 1e-9);
        blower.sag = 0.5;
        assert!((blower.at(6_500.0).q_m3_s - 0.003).abs() < 1e-12);
    }

    #[test]
    fn speed_goes_with_flow_and_its_square_with_pressure_and_units_add_up() {
        // The similarity laws of blowers: half the speed is half the flow at a quarter of the pressure.
        let mut blower = Blower::new(&spec(), &Place::new(0.0, 20.0, 0.0));
        blower.speed = 0.5;
        assert!((blower.at(13_000.0 / 4.0).q_m3_s - 0.003).abs() < 1e-12);
        assert!((blower.shut_off_pa() - 6_500.0).abs() < 1e-9);
        blower.speed = 1.0;
        blower.units = 2.0 / 3.0;
        assert!((blower.at(13_000.0).q_m3_s - 0.004).abs() < 1e-12);
        assert!((blower.shut_off_pa() - 26_000.0).abs() < 1e-9);
    }

    #[test]
    fn a_blocked_intake_costs_pressure_with_the_square_of_the_flow() {
        let mut blower = Blower::new(&spec(), &Place::new(0.0, 20.0, 0.0));
        // Half of the 13 kPa at half of the largest flow are lost: 6.5 kPa there, an eighth of it at a quarter of the flow.
        blower.block_intake(0.5);
        assert!((blower.at(6_500.0).q_m3_s - 0.006).abs() < 1e-12);
        assert!((blower.at(19_500.0 - 6_500.0 / 4.0).q_m3_s - 0.003).abs() < 1e-12);
        assert!((blower.shut_off_pa() - 26_000.0).abs() < 1e-9);
        let slope = (blower.at(6_501.0).q_m3_s - blower.at(6_499.0).q_m3_s) / 2.0;
        assert!((slope / blower.at(6_500.0).slope - 1.0).abs() < 1e-3);
    }

    #[test]
    fn power_is_that_of_isentropic_compression() {
        // Per m3/s of inlet air at 101.325 kPa: 9.46875 kJ/m3 to 1.0966 bar ratio (ideal gas, k = 1.4).
        let place = Place {
            p_atm_pa: 101_325.0,
            ..Place::new(0.0, 20.0, 0.0)
        };
        let blower = Blower::new(&spec(), &place);
        let free = 1.01325;
        let watts = blower.power_w(free, 0.096_610 * 101_325.0, &place);
        assert!((watts / 9468.75 - 1.0).abs() < 2e-4, "{watts}");
    }
}
