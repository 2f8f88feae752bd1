//! How the real installation differs from what the controller is told: `[truth]`.

use super::section::Section;
use super::units::{MM, PERCENT};
use crate::plant::{Area, Characteristic, PlantSpec};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

/// Opening below which a real equal-percentage valve closes, as a share of its travel, unless told otherwise.
pub(super) const DEAD_TRAVEL: f64 = 0.02;

/// Differences between the real installation and the told one.
///
/// A spread of 30 percent means that the real value is the told one times a factor drawn evenly from 0.7 to 1.3. Every
/// quantity of every part has its own stream of the seed: setting one spread to 0 leaves all other draws as they are.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// Wall friction and, drawn apart, entrance and outlet losses of each riser; 0 to 90.
    pub loss_percent: f64,
    /// Drift velocity in each riser; 0 to 90.
    pub slip_percent: f64,
    /// Distribution coefficient of each riser; 0 to 15.
    pub distribution_percent: f64,
    /// Conductance of each valve; 0 to 90.
    pub valve_percent: f64,
    /// Loss of each air line and, drawn apart, of each diffuser; 0 to 90.
    pub air_line_percent: f64,
    /// Flow and, drawn apart, pressure of the blower; 0 to 90.
    pub blower_percent: f64,
    /// Flow of each outlet; 0 to 50.
    pub outlet_percent: f64,
    /// Water surface of each tank; 0 to 50.
    pub area_percent: f64,
    /// Noise of every level sensor, mm RMS; `None`: what the controller is told.
    pub level_noise_mm: Option<f64>,
    /// Step of every level sensor, mm; `None`: what the controller is told.
    pub level_resolution_mm: Option<f64>,
    /// Lag of every level sensor, s.
    pub level_lag_s: f64,
    /// Largest zero error of the level sensors, mm, either way; each sensor draws its own.
    pub level_zero_mm: f64,
    /// Growth of every sensor's zero, mm a day.
    pub level_drift_mm_day: f64,
    /// Waves in every tank: amplitude, mm.
    pub slosh_mm: f64,
    /// Waves in every tank: period, s.
    pub slosh_s: f64,
    /// Smallest change of command that moves a valve, percent of its travel.
    pub stiction_percent: f64,
    /// Share of its conductance that every valve passes when shut, percent.
    pub valve_leak_percent: f64,
    /// Opening below which an equal-percentage valve closes, percent of its travel.
    pub dead_travel_percent: f64,
    /// Resolution of the manifold gauge, kPa.
    pub gauge_resolution_kpa: f64,
    /// Largest zero error of the manifold gauge, kPa, either way.
    pub gauge_zero_kpa: f64,
}

impl Default for Truth {
    /// No difference.
    fn default() -> Self {
        Self {
            loss_percent: 0.0,
            slip_percent: 0.0,
            distribution_percent: 0.0,
            valve_percent: 0.0,
            air_line_percent: 0.0,
            blower_percent: 0.0,
            outlet_percent: 0.0,
            area_percent: 0.0,
            level_noise_mm: None,
            level_resolution_mm: None,
            level_lag_s: 0.0,
            level_zero_mm: 0.0,
            level_drift_mm_day: 0.0,
            slosh_mm: 0.0,
            slosh_s: 1.0,
            stiction_percent: 0.0,
            valve_leak_percent: 0.0,
            dead_travel_percent: DEAD_TRAVEL / PERCENT,
            gauge_resolution_kpa: 0.0,
            gauge_zero_kpa: 0.0,
        }
    }
}

pub(super) fn read(top: &mut Section<'_>) -> Truth {
    let mut truth = Truth::default();
    let Some(mut section) = top.table("truth") else {
        return truth;
    };
    let mut number = |value: &mut f64, key, high: f64| *value = section.number_or(key, 0.0..=high, *value);
    number(&mut truth.loss_percent, "loss_percent", 90.0);
    number(&mut truth.slip_percent, "slip_percent", 90.0);
    number(&mut truth.distribution_percent, "distribution_percent", 15.0);
    number(&mut truth.valve_percent, "valve_percent", 90.0);
    number(&mut truth.air_line_percent, "air_line_percent", 90.0);
    number(&mut truth.blower_percent, "blower_percent", 90.0);
    number(&mut truth.outlet_percent, "outlet_percent", 50.0);
    number(&mut truth.area_percent, "area_percent", 50.0);
    number(&mut truth.level_lag_s, "level_lag_s", 600.0);
    number(&mut truth.level_zero_mm, "level_zero_mm", 200.0);
    number(&mut truth.level_drift_mm_day, "level_drift_mm_day", 100.0);
    number(&mut truth.slosh_mm, "slosh_mm", 200.0);
    number(&mut truth.stiction_percent, "stiction_percent", 20.0);
    number(&mut truth.valve_leak_percent, "valve_leak_percent", 50.0);
    number(&mut truth.dead_travel_percent, "dead_travel_percent", 30.0);
    number(&mut truth.gauge_resolution_kpa, "gauge_resolution_kpa", 10.0);
    number(&mut truth.gauge_zero_kpa, "gauge_zero_kpa", 10.0);
    truth.slosh_s = section.number_or("slosh_s", 0.1..=600.0, truth.slosh_s);
    truth.level_noise_mm = section.maybe_number("level_noise_mm", 0.0..=100.0);
    truth.level_resolution_mm = section.maybe_number("level_resolution_mm", 0.0..=50.0);
    section.end();
    truth
}

/// What a draw is for: a stream of its own.
#[derive(Clone, Copy)]
enum Quantity {
    Friction = 1,
    MinorLoss,
    Slip,
    Distribution,
    Valve,
    Line,
    Diffuser,
    BlowerFlow,
    BlowerPressure,
    Outlet,
    Area,
    LevelZero,
    GaugeZero,
}

/// An even draw from -1 to 1 that depends on the seed, the quantity and the part alone.
fn draw(seed: u64, quantity: Quantity, part: usize) -> f64 {
    let stream = (quantity as u64) << 32 | part as u64;
    // Neighbouring seeds and streams must not give related first draws: mix both (the finaliser of SplitMix64).
    let mut random = Pcg32::new(mixed(seed ^ mixed(stream)), stream);
    f64::from(random.next_u32()) / f64::from(u32::MAX) * 2.0 - 1.0
}

fn mixed(value: u64) -> u64 {
    let a = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let b = (a ^ (a >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let c = (b ^ (b >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    c ^ (c >> 31)
}

impl Truth {
    /// Turns the told description into a real one.
    pub(super) fn apply(&self, spec: &mut PlantSpec, seed: u64) {
        let off = |quantity, part, percent: f64| 1.0 + percent * PERCENT * draw(seed, quantity, part);
        spec.seed = seed;
        spec.blower.flow_multiplier *= off(Quantity::BlowerFlow, 0, self.blower_percent);
        spec.blower.pressure_multiplier *= off(Quantity::BlowerPressure, 0, self.blower_percent);
        if let Some(gauge) = &mut spec.gauge {
            gauge.resolution_pa = self.gauge_resolution_kpa * 1000.0;
            gauge.zero_pa = self.gauge_zero_kpa * 1000.0 * draw(seed, Quantity::GaugeZero, 0);
        }
        let mut outlets = 0;
        for (index, tank) in spec.tanks.iter_mut().enumerate() {
            let area = off(Quantity::Area, index, self.area_percent);
            match &mut tank.area {
                Area::Constant(m2) => *m2 *= area,
                Area::Table(points) => points.iter_mut().for_each(|point| point.1 *= area),
            }
            for outlet in &mut tank.outlets {
                outlet.coefficient *= off(Quantity::Outlet, outlets, self.outlet_percent);
                outlets += 1;
            }
            if let Some(sensor) = &mut tank.sensor {
                sensor.noise_m = self.level_noise_mm.map_or(sensor.noise_m, |mm| mm * MM);
                sensor.resolution_m = self.level_resolution_mm.map_or(sensor.resolution_m, |mm| mm * MM);
                sensor.lag_s = self.level_lag_s;
                sensor.zero_m += self.level_zero_mm * MM * draw(seed, Quantity::LevelZero, index);
                sensor.drift_m_day = self.level_drift_mm_day * MM;
                sensor.slosh_m = self.slosh_mm * MM;
                sensor.slosh_s = self.slosh_s;
            }
        }
        for (index, lift) in spec.lifts.iter_mut().enumerate() {
            lift.riser.friction_multiplier *= off(Quantity::Friction, index, self.loss_percent);
            lift.riser.loss_multiplier *= off(Quantity::MinorLoss, index, self.loss_percent);
            lift.riser.slip_multiplier *= off(Quantity::Slip, index, self.slip_percent);
            lift.riser.distribution *= off(Quantity::Distribution, index, self.distribution_percent);
            lift.valve.multiplier *= off(Quantity::Valve, index, self.valve_percent);
            lift.line.multiplier *= off(Quantity::Line, index, self.air_line_percent);
            lift.diffuser.loss_pa *= off(Quantity::Diffuser, index, self.air_line_percent);
            lift.actuator.stiction = self.stiction_percent * PERCENT;
            lift.actuator.leak = self.valve_leak_percent * PERCENT;
            if let Characteristic::EqualPercentage { dead_travel, .. } = &mut lift.valve.characteristic {
                *dead_travel = self.dead_travel_percent * PERCENT;
            }
        }
    }
}
