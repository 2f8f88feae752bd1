//! One lift's air path from the manifold: valve, line, diffuser.

use super::friction::darcy;
use super::place::Place;
use super::weir::between;
use super::{FREE_AIR_K, GRAVITY_M_S2};
use std::f64::consts::{FRAC_PI_4, PI};

/// Share of the pressure below which a valve's law is made straight, its slope being endless at no drop.
const LINEAR_BELOW: f64 = 0.005;

/// How a valve's conductance goes with its opening.
#[derive(Clone, Debug, PartialEq)]
pub enum Characteristic {
    /// In proportion.
    Linear,
    /// `R^(x-1)`, faded to nothing below `dead_travel`.
    EqualPercentage {
        /// Rangeability R (10 to 100).
        rangeability: f64,
        /// Opening below which the valve closes, as a share of full travel (0 to 0.3).
        dead_travel: f64,
    },
    /// Measured points of (opening, share of the full conductance), openings rising from 0 to 1.
    Table(Vec<(f64, f64)>),
}

impl Characteristic {
    /// Share of the full conductance at an opening of 0 to 1.
    #[must_use]
    pub fn share(&self, opening: f64) -> f64 {
        let x = opening.clamp(0.0, 1.0);
        match self {
            Self::Linear => x,
            Self::EqualPercentage {
                rangeability,
                dead_travel,
            } => {
                let law = rangeability.powf(x.max(*dead_travel) - 1.0);
                if x < *dead_travel {
                    law * x / dead_travel
                } else if x <= 0.0 {
                    0.0
                } else {
                    law
                }
            }
            Self::Table(points) => between(points.iter().copied(), x),
        }
    }
}

/// An air valve by ISO 6358.
#[derive(Clone, Debug, PartialEq)]
pub struct ValveSpec {
    /// Sonic conductance wide open, m3/(s Pa) of free air (1 dm3/(s bar) is 1e-8).
    pub sonic_m3_s_pa: f64,
    /// Critical pressure ratio b (0 to 0.6).
    pub critical_ratio: f64,
    /// Inherent characteristic.
    pub characteristic: Characteristic,
    /// True conductance over the stated one.
    pub multiplier: f64,
}

/// The pipe from the valve to the diffuser.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineSpec {
    /// Bore, m.
    pub bore_m: f64,
    /// Length, m.
    pub length_m: f64,
    /// Bends and fittings, velocity heads.
    pub minor_loss: f64,
    /// True loss over the computed one.
    pub multiplier: f64,
}

/// The diffuser or injector.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiffuserSpec {
    /// Pressure to open it, Pa.
    pub opening_pa: f64,
    /// Further loss at `at_m3_s`, Pa, going with the square of the flow.
    pub loss_pa: f64,
    /// Free air at which that loss was told, m3/s.
    pub at_m3_s: f64,
}

/// An opening to the open air that software cannot shut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BleedSpec {
    /// Sonic conductance, m3/(s Pa).
    pub sonic_m3_s_pa: f64,
    /// Critical pressure ratio.
    pub critical_ratio: f64,
}

/// Pressure a path needs at its top for a flow, and the slope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Need {
    /// Pa absolute.
    pub p_pa: f64,
    /// Pa per m3/s.
    pub slope: f64,
}

/// One lift's air path, with what has happened to it.
#[derive(Clone, Debug)]
pub struct AirBranch {
    valve: ValveSpec,
    line: LineSpec,
    diffuser: DiffuserSpec,
    /// Multiplier of the line's loss (a kink).
    pub line_multiplier: f64,
    /// Multiplier of the diffuser's loss and opening pressure (dirt).
    pub diffuser_multiplier: f64,
    /// The line has come off below the valve: it blows into the room, not into the water.
    pub off: bool,
    /// Conductance now, m3/(s Pa); 0 shut.
    pub(super) sonic_m3_s_pa: f64,
}

impl AirBranch {
    /// A clean path with its valve shut.
    #[must_use]
    pub fn new(valve: ValveSpec, line: LineSpec, diffuser: DiffuserSpec) -> Self {
        Self {
            valve,
            line,
            diffuser,
            line_multiplier: 1.0,
            diffuser_multiplier: 1.0,
            off: false,
            sonic_m3_s_pa: 0.0,
        }
    }

    /// Sets the valve to an opening of 0 to 1 with `leak` of its conductance left when shut.
    pub fn set_opening(&mut self, opening: f64, leak: f64) {
        let share = self.valve.characteristic.share(opening);
        self.sonic_m3_s_pa = self.valve.sonic_m3_s_pa * self.valve.multiplier * (leak + (1.0 - leak) * share);
    }

    /// Closes the isolating valve.
    pub fn isolate(&mut self) {
        self.sonic_m3_s_pa = 0.0;
    }

    /// Absolute pressure at which air just starts, over `submergence_m` of water, Pa.
    #[must_use]
    pub fn starts_pa(&self, submergence_m: f64, place: &Place) -> f64 {
        if self.off {
            return place.p_atm_pa;
        }
        place.p_atm_pa
            + place.water_kg_m3 * GRAVITY_M_S2 * submergence_m.max(0.0)
            + self.diffuser.opening_pa * self.diffuser_multiplier
    }

    /// Volume of the air line, m3.
    #[must_use]
    pub fn line_m3(&self) -> f64 {
        FRAC_PI_4 * self.line.bore_m * self.line.bore_m * self.line.length_m
    }

    /// Manifold pressure that drives `q_m3_s` of free air through the path, given [`Self::starts_pa`].
    pub(super) fn need(&self, q_m3_s: f64, starts_pa: f64, place: &Place) -> Need {
        let d = &self.diffuser;
        let dirt = if self.off { 0.0 } else { self.diffuser_multiplier };
        let part = d.loss_pa * dirt / (d.at_m3_s * d.at_m3_s) * q_m3_s;
        let (mut p, mut slope) = (starts_pa + part * q_m3_s, 2.0 * part);
        if q_m3_s > 0.0 {
            let area = FRAC_PI_4 * self.line.bore_m * self.line.bore_m;
            let mass = q_m3_s * Place::free_air_kg_m3();
            let friction = darcy(4.0 * mass / (PI * self.line.bore_m * place.air_pa_s), 0.0);
            let wall = friction.factor * self.line.length_m / self.line.bore_m;
            let density = p / (super::AIR_J_KG_K * place.temperature_k());
            let dynamic = 0.5 * mass * mass / (density * area * area) * self.line.multiplier * self.line_multiplier;
            let loss = (wall + self.line.minor_loss) * dynamic;
            let steeper = ((2.0 + friction.slope) * wall + 2.0 * self.line.minor_loss) * dynamic / q_m3_s;
            slope += steeper - loss / p * slope;
            p += loss;
        }
        upstream(
            q_m3_s,
            self.sonic_m3_s_pa,
            self.valve.critical_ratio,
            Need { p_pa: p, slope },
            place,
        )
    }
}

/// Pressure above an ISO 6358 valve passing `q_m3_s` with `down` below it: the flow law solved for its upstream side.
fn upstream(q_m3_s: f64, sonic_m3_s_pa: f64, b: f64, down: Need, place: &Place) -> Need {
    let per_q = (place.temperature_k() / FREE_AIR_K).sqrt() / sonic_m3_s_pa;
    let sonic_pa = q_m3_s * per_q;
    let width = 1.0 - b;
    let edge = 1.0 - LINEAR_BELOW;
    let at_edge = (1.0 - ((edge - b) / width).powi(2)).sqrt();
    let straight = LINEAR_BELOW / at_edge;
    let p = down.p_pa + sonic_pa * straight;
    if down.p_pa >= edge * p {
        return Need {
            p_pa: p,
            slope: down.slope + per_q * straight,
        };
    }
    if down.p_pa <= b * sonic_pa {
        return Need {
            p_pa: sonic_pa,
            slope: per_q,
        };
    }
    let k = sonic_pa / down.p_pa * width;
    let under = 1.0 + k * k;
    let ratio = (b + (b * b - under * (2.0 * b - 1.0)).sqrt()) / under;
    let level = (ratio - b) / width;
    let share = (1.0 - level * level).sqrt();
    let share_slope = -level / (width * share);
    Need {
        p_pa: down.p_pa / ratio,
        slope: (per_q - share_slope * down.slope) / (share - ratio * share_slope),
    }
}

impl BleedSpec {
    /// Free air to the open air, m3/s, and its slope with pressure, at a gauge pressure.
    pub(super) fn flow(&self, gauge_pa: f64, place: &Place) -> (f64, f64) {
        if gauge_pa <= 0.0 {
            return (0.0, 0.0);
        }
        let p = place.p_atm_pa + gauge_pa;
        let scale = self.sonic_m3_s_pa * (FREE_AIR_K / place.temperature_k()).sqrt();
        let (ratio, width) = (place.p_atm_pa / p, 1.0 - self.critical_ratio);
        let edge = 1.0 - LINEAR_BELOW;
        if ratio <= self.critical_ratio {
            return (scale * p, scale);
        }
        if ratio >= edge {
            let at_edge = (1.0 - ((edge - self.critical_ratio) / width).powi(2)).sqrt();
            let slope = scale * at_edge / LINEAR_BELOW;
            return (slope * gauge_pa, slope);
        }
        let level = (ratio - self.critical_ratio) / width;
        let share = (1.0 - level * level).sqrt();
        (scale * p * share, scale * (share + ratio * level / (width * share)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DM3_S_BAR: f64 = 1e-8;

    #[test]
    fn the_valve_has_the_flows_of_iso_6358() {
        // C 1 dm3/(s bar), b 0.3, 293.15 K: 121.3 to 111.3 kPa 34.266 L/min, 111.3 to 110.3 kPa 10.665 L/min, choked 420.
        let place = Place::new(0.0, 20.0, 0.0);
        for (up, down, l_min) in [
            (121_300.0, 111_300.0, 34.266_42),
            (111_300.0, 110_300.0, 10.665_14),
            (700_000.0, 100_000.0, 420.0),
        ] {
            let got = upstream(
                l_min / 60_000.0,
                DM3_S_BAR,
                0.3,
                Need { p_pa: down, slope: 0.0 },
                &place,
            );
            assert!((got.p_pa - up).abs() < 2e-6 * up, "{} not {up}", got.p_pa);
        }
        // The same law the other way round, for the bleed.
        let bleed = BleedSpec {
            sonic_m3_s_pa: DM3_S_BAR,
            critical_ratio: 0.3,
        };
        let at = Place {
            p_atm_pa: 111_300.0,
            ..place
        };
        assert!((bleed.flow(10_000.0, &at).0 * 60_000.0 / 34.266_42 - 1.0).abs() < 1e-5);
    }

    #[test]
    fn equal_percentage_has_its_usual_shares_and_shuts() {
        // R 30 and 50 at half travel: 0.18257 and 0.14142.
        let law = |r| Characteristic::EqualPercentage {
            rangeability: r,
            dead_travel: 0.02,
        };
        assert!((law(30.0).share(0.5) - 0.182_574).abs() < 1e-6);
        assert!((law(50.0).share(0.5) - 0.141_421).abs() < 1e-6);
        assert_eq!(law(30.0).share(0.0), 0.0);
        assert!(law(30.0).share(0.01) < law(30.0).share(0.02));
        assert_eq!(law(30.0).share(1.0), 1.0);
    }

    #[test]
    fn the_needed_pressure_rises_with_flow_at_its_told_slope() {
        let place = Place::new(120.0, 22.0, 0.0);
        let mut branch = AirBranch::new(
            ValveSpec {
                sonic_m3_s_pa: 5.5 * DM3_S_BAR,
                critical_ratio: 0.3,
                characteristic: Characteristic::Linear,
                multiplier: 1.0,
            },
            LineSpec {
                bore_m: 0.019,
                length_m: 5.0,
                minor_loss: 3.0,
                multiplier: 1.0,
            },
            DiffuserSpec {
                opening_pa: 300.0,
                loss_pa: 500.0,
                at_m3_s: 80.0 / 60_000.0,
            },
        );
        branch.set_opening(0.4, 0.0);
        let starts = branch.starts_pa(1.0, &place);
        for l_min in [0.5_f64, 5.0, 20.0, 60.0, 150.0] {
            let q = l_min / 60_000.0;
            let h = q * 1e-5;
            let rise = branch.need(q + h, starts, &place).p_pa - branch.need(q - h, starts, &place).p_pa;
            let told = branch.need(q, starts, &place).slope;
            assert!((rise / (2.0 * h) / told - 1.0).abs() < 2e-3, "{l_min}");
        }
        assert!((branch.need(0.0, starts, &place).p_pa - starts).abs() < 1e-9);
    }
}
