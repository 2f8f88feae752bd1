//! The installation through time.

use super::air::Manifold;
use super::blower::Blower;
use super::branch::AirBranch;
use super::check::SpecError;
use super::flows::{Link, Route, Vessel, Water};
use super::moving::{Pour, Ramp, Surge};
use super::outlet::Outlet;
use super::riser::{Heads, Riser};
use super::seep::{Around, Seep};
use super::sensor::{Gauge, LevelSensor, Readings};
use super::spec::PlantSpec;
use super::state::{KnownPeak, LiftState, PlantState, TankState};
use super::tank::Basin;
use super::valve::Actuator;

/// A lift in use.
#[derive(Clone, Debug)]
pub(super) struct LiftRun {
    pub riser: Riser,
    pub actuator: Actuator,
    pub hand_shut: bool,
    pub heads: Heads,
    pub seep: Seep,
    last_m_s: f64,
    injector_m: f64,
    outlet_m: f64,
    floor_step_m: f64,
    known: Option<KnownPeak>,
}

/// The modelled installation: advance it with the openings of its valves, read its sensors, look at the truth.
#[derive(Clone, Debug)]
pub struct Plant {
    spec: PlantSpec,
    pub(super) blower: Blower,
    pub(super) lifts: Vec<LiftRun>,
    pub(super) paths: Vec<AirBranch>,
    pub(super) water: Water,
    pub(super) sensors: Vec<Option<LevelSensor>>,
    pub(super) gauge: Option<Gauge>,
    pub(super) ramps: Vec<Ramp>,
    pub(super) pours: Vec<Pour>,
    pub(super) surge: Option<Surge>,
    /// Water temperature, C; the properties follow it in steps ([`Plant::warm`]).
    pub(super) water_c: f64,
    /// Which sensor each tank's reading comes from, where that is not its own.
    pub(super) plugs: Vec<usize>,
    pub(super) state: PlantState,
    manifold: Manifold,
    starts_pa: Vec<f64>,
    readings: Readings,
}

impl Plant {
    /// Builds the installation at its starting levels and openings.
    ///
    /// # Errors
    /// The first fault of the description.
    pub fn new(spec: PlantSpec) -> Result<Self, SpecError> {
        spec.check()?;
        let place = spec.place;
        let mut vessels = Vec::new();
        let mut links = Vec::new();
        let mut state = PlantState::default();
        let mut sensors = Vec::new();
        for (index, tank) in spec.tanks.iter().enumerate() {
            let basin = Basin::new(tank.area.clone());
            let volume_m3 = basin.volume_m3(tank.start_m);
            state.tanks.push(TankState {
                level_m: tank.start_m,
                volume_m3,
                ..TankState::default()
            });
            vessels.push(Vessel {
                rim_m3: basin.volume_m3(tank.rim_m),
                basin,
                dry_m: spec.dry_m(index),
                inflow_m3_s: tank.inflow_m3_s,
                evaporation_m3_s: tank.evaporation_m3_s,
                leak_m3_s: 0.0,
                siphon_m3_s: 0.0,
            });
            for outlet in &tank.outlets {
                let floor = outlet.to.and_then(|to| spec.tanks.get(to)).map_or(0.0, |t| t.floor_m);
                links.push(Link {
                    from: index,
                    to: outlet.to,
                    outlet: Outlet::new(outlet, &place),
                    floor_step_m: floor - tank.floor_m,
                    flow_m3_s: 0.0,
                });
            }
            sensors.push(
                tank.sensor
                    .map(|s| LevelSensor::new(s, tank.start_m, spec.seed, index as u64 + 1)),
            );
        }
        let mut lifts = Vec::new();
        let mut paths = Vec::new();
        let mut routes = Vec::new();
        for lift in &spec.lifts {
            let mut path = AirBranch::new(lift.valve.clone(), lift.line, lift.diffuser);
            path.set_opening(lift.start_opening, lift.actuator.leak);
            paths.push(path);
            routes.push(Route {
                from: lift.from,
                to: lift.to,
            });
            state.lifts.push(LiftState {
                opening: lift.start_opening,
                ..LiftState::default()
            });
            let floor = |tank: usize| spec.tanks.get(tank).map_or(0.0, |t| t.floor_m);
            lifts.push(LiftRun {
                riser: Riser { place, ..lift.riser },
                actuator: Actuator::new(lift.actuator, lift.start_opening),
                hand_shut: false,
                heads: Heads::free(0.0, 0.0),
                seep: Seep::default(),
                last_m_s: 0.0,
                injector_m: lift.injector_m,
                outlet_m: lift.outlet_m,
                floor_step_m: floor(lift.to) - floor(lift.from),
                known: None,
            });
        }
        let mut plant = Self {
            blower: Blower::new(&spec.blower, &place),
            manifold: spec.manifold(),
            starts_pa: vec![0.0; lifts.len()],
            gauge: spec.gauge.map(|g| Gauge::new(g, spec.seed, 0)),
            water: Water::new(vessels, links, routes),
            readings: Readings {
                level_m: vec![None; sensors.len()],
                manifold_pa: None,
            },
            ramps: Vec::new(),
            pours: Vec::new(),
            surge: None,
            water_c: place.water_c,
            plugs: (0..sensors.len()).collect(),
            spec,
            lifts,
            paths,
            sensors,
            state,
        };
        plant.settle_flows();
        Ok(plant)
    }

    /// The description it was built from.
    #[must_use]
    pub fn spec(&self) -> &PlantSpec {
        &self.spec
    }

    /// The truth now.
    #[must_use]
    pub fn state(&self) -> &PlantState {
        &self.state
    }

    /// The true riser of a lift and the levels it sees now, for drawing its true curve.
    #[must_use]
    pub fn riser(&self, lift: usize) -> Option<(&Riser, Heads)> {
        self.lifts.get(lift).map(|run| (&run.riser, run.heads))
    }

    /// Lets `dt_s` pass with the valves commanded to `openings` (0 to 1, one a lift; a missing or NaN one leaves its valve
    /// alone). The step is cut up as the quickest tank needs.
    pub fn advance(&mut self, dt_s: f64, openings: &[f64]) -> &PlantState {
        if dt_s > 0.0 && dt_s.is_finite() {
            let mut left = dt_s;
            while left > 1e-9 {
                let steep = self.water.steepness_1_s(&self.state.tanks, &self.state.lifts);
                let most = self.spec.max_step_s.min(0.4 / steep.max(1e-6)).max(1e-3);
                let h = left / (left / most).ceil();
                self.step(h, openings);
                left -= h;
            }
        }
        &self.state
    }

    /// Runs a variable blower at this share of its full speed and this share of a bank's units, each from 0 to 1; what is not
    /// a number changes nothing.
    pub fn drive_blower(&mut self, speed: f64, units: f64) {
        for (share, to) in [(&mut self.blower.speed, speed), (&mut self.blower.units, units)] {
            if !to.is_nan() {
                *share = to.clamp(0.0, 1.0);
            }
        }
    }

    /// One set of readings, with fresh noise.
    pub fn read(&mut self) -> &Readings {
        for (reading, sensor) in self.readings.level_m.iter_mut().zip(&mut self.sensors) {
            *reading = sensor.as_mut().and_then(LevelSensor::read);
        }
        for tank in 0..self.plugs.len() {
            let plug = self.plugs[tank];
            if plug > tank {
                self.readings.level_m.swap(tank, plug);
            }
        }
        self.readings.manifold_pa = self.gauge.as_mut().and_then(|gauge| gauge.read(self.manifold.gauge_pa));
        &self.readings
    }

    fn step(&mut self, h: f64, openings: &[f64]) {
        if !self.ramps.is_empty() {
            self.run_ramps();
        }
        self.blower.swing = self.surge.map_or(1.0, |surge| surge.left(self.state.time_s));
        for (i, lift) in self.lifts.iter_mut().enumerate() {
            let command = openings.get(i).copied().unwrap_or(f64::NAN);
            if lift.actuator.advance(h, command) {
                set_path(&mut self.paths[i], lift);
            }
        }
        self.run_seeps(h);
        self.settle_flows();
        if !self.pours.is_empty() {
            self.run_pours(h);
        }
        let state = &mut self.state;
        let (came, went) = self.water.step(h, &mut state.lifts, &mut state.tanks);
        state.water_in_m3 += came;
        state.water_out_m3 += went;
        for lift in &mut state.lifts {
            lift.water_m3 += h * lift.water_m3_s;
            lift.air_m3 += h * lift.air_m3_s;
        }
        state.energy_j += h * state.power_w;
        state.air_m3 += h * state.air_m3_s;
        state.time_s += h;
        for (sensor, tank) in self.sensors.iter_mut().zip(&state.tanks) {
            if let Some(sensor) = sensor {
                sensor.advance(h, tank.level_m);
            }
        }
    }

    /// Water in air lines with a leaking check valve, and what it keeps from the lift.
    fn run_seeps(&mut self, h: f64) {
        if self.lifts.iter().all(|lift| lift.seep == Seep::default()) {
            return;
        }
        for vessel in &mut self.water.vessels {
            vessel.siphon_m3_s = 0.0;
        }
        for i in 0..self.lifts.len() {
            let source = self.water.routes[i].from;
            let line_m3 = self.paths[i].line_m3();
            let lift = &mut self.lifts[i];
            let around = Around {
                source_m: self.state.tanks[source].level_m,
                injector_m: lift.injector_m,
                gauge_pa: self.manifold.gauge_pa,
                water_kg_m3: self.spec.place.water_kg_m3,
                line_m3,
            };
            let blocked = lift.seep.blocks();
            self.water.vessels[source].siphon_m3_s += lift.seep.advance(h, &around);
            if blocked != lift.seep.blocks() {
                set_path(&mut self.paths[i], lift);
            }
        }
    }

    /// Air and water of all lifts at the present levels and openings.
    pub(super) fn settle_flows(&mut self) {
        let place = &self.spec.place;
        let state = &mut self.state;
        for (i, lift) in self.lifts.iter_mut().enumerate() {
            let route = self.water.routes[i];
            let source = state.tanks[route.from].level_m;
            let receiving = state.tanks[route.to].level_m + lift.floor_step_m;
            lift.heads = Heads {
                submergence_m: source - lift.injector_m,
                lift_m: receiving.max(lift.outlet_m) - source,
                drowned_m: receiving - lift.outlet_m,
            };
            self.starts_pa[i] = self.paths[i].starts_pa(lift.heads.submergence_m, place);
        }
        let bleed = self.spec.bleed.as_ref();
        self.manifold
            .solve(&self.blower, bleed, &self.paths, &self.starts_pa, place);
        let lifts = self.lifts.iter_mut().zip(&self.paths).zip(&self.manifold.air_m3_s);
        for (((lift, path), air), out) in lifts.zip(&mut state.lifts) {
            let air = if path.off { 0.0 } else { *air };
            out.air_m3_s = air;
            out.opening = lift.actuator.opening();
            out.water_m3_s = lift.riser.water_m3_s(lift.heads, air, &mut lift.last_m_s);
            out.past_peak = lift.past_peak(air);
        }
        state.manifold_pa = self.manifold.gauge_pa;
        state.air_m3_s = self.manifold.total_m3_s();
        state.power_w = self.blower.power_w(state.air_m3_s, state.manifold_pa, place);
    }

    /// Brings a lift's air path up to date after a change other than its actuator's travel.
    pub(super) fn reset_path(&mut self, lift: usize) {
        set_path(&mut self.paths[lift], &self.lifts[lift]);
    }

    /// Brings all properties to the water's temperature, in steps of 0.1 C: less changes nothing to be seen.
    pub(super) fn warm(&mut self) {
        if (self.water_c - self.spec.place.water_c).abs() < 0.1 {
            return;
        }
        let place = self.spec.place.at(self.water_c);
        self.spec.place = place;
        for lift in &mut self.lifts {
            lift.riser.place = place;
            lift.known = None;
        }
        let outlets = self.spec.tanks.iter().flat_map(|tank| &tank.outlets);
        for (link, outlet) in self.water.links.iter_mut().zip(outlets) {
            let clog = link.outlet.clog;
            link.outlet = Outlet::new(outlet, &place);
            link.outlet.clog = clog;
        }
        self.water.forget();
    }

    /// Newton steps of the manifold so far, and how many of its solves fell back to bracketing.
    #[cfg(test)]
    pub(super) fn work(&self) -> (u64, u64) {
        self.manifold.work
    }
}

pub(super) fn set_path(path: &mut AirBranch, lift: &LiftRun) {
    if lift.hand_shut || lift.seep.blocks() {
        path.isolate();
    } else {
        path.set_opening(lift.actuator.opening(), lift.actuator.leak);
    }
}

impl LiftRun {
    /// Whether this air is past the peak. The peak is found again only near it, and only when something has moved.
    fn past_peak(&mut self, air_m3_s: f64) -> bool {
        let heads = self.heads;
        let moved = |known: &KnownPeak, by_m: f64| {
            (known.submergence_m - heads.submergence_m).abs() > by_m
                || (known.lift_m - heads.lift_m).abs() > by_m
                || (known.fouling_k - self.riser.fouling_k).abs() > 0.1 + 0.05 * known.fouling_k
                || (known.churn_s2_m2 - self.riser.churn_s2_m2).abs() > 0.05 * known.churn_s2_m2
        };
        let stale = match &self.known {
            None => true,
            Some(known) if air_m3_s <= 0.6 * known.peak.air_m3_s => moved(known, 0.05),
            Some(known) => moved(known, 0.005),
        };
        if stale {
            self.known = Some(KnownPeak {
                peak: self.riser.peak(heads),
                submergence_m: heads.submergence_m,
                lift_m: heads.lift_m,
                fouling_k: self.riser.fouling_k,
                churn_s2_m2: self.riser.churn_s2_m2,
            });
        }
        self.known.is_some_and(|known| air_m3_s > 1.005 * known.peak.air_m3_s)
    }
}
