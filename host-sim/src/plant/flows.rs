//! The water balance of all tanks over one step.

use super::outlet::Outlet;
use super::state::{LiftState, TankState};
use super::tank::Basin;

/// A tank with what enters and leaves it other than by lifts and outlets.
#[derive(Clone, Debug)]
pub(super) struct Vessel {
    pub basin: Basin,
    pub rim_m3: f64,
    pub dry_m: f64,
    pub inflow_m3_s: f64,
    pub evaporation_m3_s: f64,
    pub leak_m3_s: f64,
    /// Water running out through air lines, m3/s.
    pub siphon_m3_s: f64,
}

impl Vessel {
    /// What leaves it other than by lifts and outlets, m3/s.
    fn lost_m3_s(&self) -> f64 {
        self.evaporation_m3_s + self.leak_m3_s + self.siphon_m3_s
    }
}

/// An outlet between two tanks, or out of the system.
#[derive(Clone, Debug)]
pub(super) struct Link {
    pub from: usize,
    pub to: Option<usize>,
    pub outlet: Outlet,
    /// Floor of the receiving tank above the floor of this one, m.
    pub floor_step_m: f64,
    pub flow_m3_s: f64,
}

/// Where a lift draws from and delivers to.
#[derive(Clone, Copy, Debug)]
pub(super) struct Route {
    pub from: usize,
    pub to: usize,
}

/// Water of all tanks.
#[derive(Clone, Debug)]
pub(super) struct Water {
    pub vessels: Vec<Vessel>,
    pub links: Vec<Link>,
    pub routes: Vec<Route>,
    level_m: Vec<f64>,
    gain_m3_s: Vec<f64>,
    /// Levels at which the steepness was last found, and it: 1/s.
    steep_at_m: Vec<f64>,
    steep_1_s: f64,
}

impl Water {
    pub fn new(vessels: Vec<Vessel>, links: Vec<Link>, routes: Vec<Route>) -> Self {
        let count = vessels.len();
        Self {
            vessels,
            links,
            routes,
            level_m: vec![0.0; count],
            gain_m3_s: vec![0.0; count],
            steep_at_m: vec![f64::NAN; count],
            steep_1_s: 0.0,
        }
    }

    /// Makes the next [`Self::steepness_1_s`] look afresh.
    pub fn forget(&mut self) {
        self.steep_at_m.fill(f64::NAN);
    }

    /// How fast the quickest tank answers, 1/s: slope of its flows over its area. Found again when a level has moved 2 mm.
    pub fn steepness_1_s(&mut self, tanks: &[TankState], lifts: &[LiftState]) -> f64 {
        let still = |(at, tank): (&f64, &TankState)| (at - tank.level_m).abs() < 2e-3;
        if self.steep_at_m.iter().zip(tanks).all(still) {
            return self.steep_1_s;
        }
        let rise = 2e-3;
        self.gain_m3_s.fill(0.0);
        for link in &self.links {
            let level = tanks[link.from].level_m;
            let down = receiving(link, tanks.iter().map(|t| t.level_m));
            let slope = (link.outlet.flow_m3_s(level + rise, down) - link.outlet.flow_m3_s(level, down)) / rise;
            self.gain_m3_s[link.from] += slope;
            if let Some(to) = link.to {
                // A drowned outlet answers to the receiving level just as steeply.
                let less = link.outlet.flow_m3_s(level, down) - link.outlet.flow_m3_s(level, down + rise);
                self.gain_m3_s[to] += less / rise;
            }
        }
        for (route, lift) in self.routes.iter().zip(lifts) {
            // A lift loses its water over some 0.1 m of level.
            let slope = lift.water_m3_s.abs() / 0.1;
            self.gain_m3_s[route.from] += slope;
            self.gain_m3_s[route.to] += slope;
        }
        self.steep_1_s = 0.0;
        for ((vessel, tank), slope) in self.vessels.iter().zip(tanks).zip(&self.gain_m3_s) {
            self.steep_1_s = self.steep_1_s.max(slope / vessel.basin.area_m2(tank.level_m));
        }
        for (at, tank) in self.steep_at_m.iter_mut().zip(tanks) {
            *at = tank.level_m;
        }
        self.steep_1_s
    }

    /// What each tank gains at its present level, m3/s, with the lifts' flows as they are.
    pub fn gains_m3_s(&mut self, lifts: &[LiftState], tanks: &[TankState]) -> &[f64] {
        for (level, tank) in self.level_m.iter_mut().zip(tanks) {
            *level = tank.level_m;
        }
        for (gain, vessel) in self.gain_m3_s.iter_mut().zip(&self.vessels) {
            *gain = vessel.inflow_m3_s - vessel.lost_m3_s();
        }
        for (route, lift) in self.routes.iter().zip(lifts) {
            self.gain_m3_s[route.from] -= lift.water_m3_s;
            self.gain_m3_s[route.to] += lift.water_m3_s;
        }
        for link in &mut self.links {
            let down = receiving(link, self.level_m.iter().copied());
            link.flow_m3_s = link.outlet.flow_m3_s(self.level_m[link.from], down);
            self.gain_m3_s[link.from] -= link.flow_m3_s;
            if let Some(to) = link.to {
                self.gain_m3_s[to] += link.flow_m3_s;
            }
        }
        &self.gain_m3_s
    }

    /// One Heun step of `h` s with the lifts' flows held; returns water in from and out to the outside, m3.
    pub fn step(&mut self, h: f64, lifts: &mut [LiftState], tanks: &mut [TankState]) -> (f64, f64) {
        self.gains_m3_s(lifts, tanks);
        for (((level, gain), vessel), tank) in self
            .level_m
            .iter_mut()
            .zip(&self.gain_m3_s)
            .zip(&self.vessels)
            .zip(tanks.iter())
        {
            let volume = (tank.volume_m3 + h * gain).max(0.0).min(vessel.rim_m3);
            *level = vessel.basin.level_m(volume);
        }
        let mut empties = false;
        for link in &mut self.links {
            let down = receiving(link, self.level_m.iter().copied());
            let second = link.outlet.flow_m3_s(self.level_m[link.from], down);
            let mean = 0.5 * (link.flow_m3_s + second);
            let change = mean - link.flow_m3_s;
            link.flow_m3_s = mean;
            self.gain_m3_s[link.from] -= change;
            if let Some(to) = link.to {
                self.gain_m3_s[to] += change;
            }
        }
        for (tank, gain) in tanks.iter().zip(&self.gain_m3_s) {
            empties |= tank.volume_m3 + h * gain < 0.0;
        }
        let (mut came, mut went) = (0.0, 0.0);
        let left = if empties {
            self.ration(h, lifts, tanks)
        } else {
            Vec::new()
        };
        for (i, (tank, vessel)) in tanks.iter_mut().zip(&self.vessels).enumerate() {
            came += h * vessel.inflow_m3_s;
            let share = left.get(i).copied().unwrap_or(1.0);
            went += h * share * vessel.lost_m3_s();
            tank.outflow_m3_s = 0.0;
        }
        for link in &self.links {
            tanks[link.from].outflow_m3_s += link.flow_m3_s;
            if link.to.is_none() {
                went += h * link.flow_m3_s;
            }
        }
        for ((tank, gain), vessel) in tanks.iter_mut().zip(&self.gain_m3_s).zip(&self.vessels) {
            tank.volume_m3 += h * gain;
            if tank.volume_m3 > vessel.rim_m3 {
                let over = tank.volume_m3 - vessel.rim_m3;
                tank.volume_m3 = vessel.rim_m3;
                tank.spilled_m3 += over;
                went += over;
            }
            // What rationing leaves by rounding, 1e-18 m3.
            tank.volume_m3 = tank.volume_m3.max(0.0);
            tank.level_m = vessel.basin.level_m(tank.volume_m3);
            if tank.level_m < vessel.dry_m {
                tank.dry_s += h;
            }
        }
        (came, went)
    }

    /// Scales down all that leaves a tank which would run empty; returns each tank's share, and sets the gains anew.
    fn ration(&mut self, h: f64, lifts: &mut [LiftState], tanks: &[TankState]) -> Vec<f64> {
        let mut out: Vec<f64> = self.vessels.iter().map(Vessel::lost_m3_s).collect();
        for link in &self.links {
            out[link.from] += link.flow_m3_s;
        }
        for (route, lift) in self.routes.iter().zip(lifts.iter()) {
            let from = if lift.water_m3_s >= 0.0 { route.from } else { route.to };
            out[from] += lift.water_m3_s.abs();
        }
        let share: Vec<f64> = out
            .iter()
            .zip(tanks)
            .map(|(out, tank)| {
                if h * out > tank.volume_m3 {
                    tank.volume_m3 / (h * out)
                } else {
                    1.0
                }
            })
            .collect();
        for ((gain, vessel), share) in self.gain_m3_s.iter_mut().zip(&self.vessels).zip(&share) {
            *gain = vessel.inflow_m3_s - share * vessel.lost_m3_s();
        }
        for link in &mut self.links {
            link.flow_m3_s *= share[link.from];
            self.gain_m3_s[link.from] -= link.flow_m3_s;
            if let Some(to) = link.to {
                self.gain_m3_s[to] += link.flow_m3_s;
            }
        }
        for (route, lift) in self.routes.iter().zip(lifts) {
            let from = if lift.water_m3_s >= 0.0 { route.from } else { route.to };
            lift.water_m3_s *= share[from];
            self.gain_m3_s[route.from] -= lift.water_m3_s;
            self.gain_m3_s[route.to] += lift.water_m3_s;
        }
        share
    }
}

/// Receiving level of an outlet above its own tank's floor, m.
fn receiving(link: &Link, mut levels: impl Iterator<Item = f64>) -> f64 {
    link.to
        .and_then(|to| levels.nth(to))
        .map_or(f64::NEG_INFINITY, |level| level + link.floor_step_m)
}
