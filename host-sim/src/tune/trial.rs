//! Before and after, tried on the modelled installation made to be what was fitted.

use super::fitted::Fitted;
use crate::log::HostInstallation;
use crate::plant::{Area, Heads, PlantSpec, Riser};
use crate::scenario::{Scenario, Truth};
use crate::simulate::{SimulateError, Simulation, Windows};
use risertrim::{Command, WaterFlow};

/// Length of a trial, s, and of its start that is not counted.
const LENGTH_S: f64 = 4.0 * 3600.0;
const START_S: f64 = 1800.0;
/// The targets of a trial as shares of those told, one after the other; lifts with odd numbers take the other share, so that the air
/// they need in all stays about what it was.
///
/// Every target is come to from below and from above, as often from either side: a valve with a wide deadband rests short of where it should,
/// always on the side it came from. Where an outlet passes a little more or less than told, coming from one side alone makes up for that by
/// chance, and a loop that holds its flow well looked worse beside it.
const TARGETS: [(f32, f32); 5] = [(1.0, 1.0), (1.2, 0.8), (1.0, 1.0), (0.8, 1.2), (1.0, 1.0)];
/// How long each is kept, s.
const STRETCH_S: f64 = (LENGTH_S - START_S) / 5.0;
/// Seed of the noise in a trial.
const SEED: u64 = 1;

/// What came of one trial.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tried {
    /// Root mean square of delivered less target of each lift, % of its target.
    pub rms_percent: Vec<f64>,
    /// Way of each valve, strokes.
    pub travel_strokes: Vec<f64>,
}

impl Tried {
    /// Root of the mean of the lifts' squares, %.
    #[must_use]
    pub fn total_percent(&self) -> f64 {
        #[allow(clippy::cast_precision_loss)]
        let many = self.rms_percent.len().max(1) as f64;
        (self.rms_percent.iter().map(|rms| rms * rms).sum::<f64>() / many).sqrt()
    }
}

/// A trial of the told installation and one of the proposed, on the same fitted place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trial {
    /// As it was told.
    pub before: Tried,
    /// As it is proposed.
    pub after: Tried,
}

impl Trial {
    /// True when this lift is worse by more than `by` percent of its target.
    #[must_use]
    pub fn worse(&self, lift: usize, by: f64) -> bool {
        let of = |tried: &Tried| tried.rms_percent.get(lift).copied().unwrap_or_default();
        // What is no number is worse.
        of(&self.after) > of(&self.before) + by || of(&self.after).is_nan()
    }
}

/// A place to try on: as it was fitted, with how it ran as it was told.
#[derive(Debug)]
pub(super) struct Place<'a> {
    scenario: &'a Scenario,
    spec: PlantSpec,
    before: Tried,
}

impl<'a> Place<'a> {
    /// `scenario` is the place as its file tells it ([`Scenario::of_installation`]).
    ///
    /// # Errors
    /// The fitted place cannot be modelled, or the told installation is refused.
    pub fn new(scenario: &'a Scenario, fitted: &Fitted) -> Result<Self, SimulateError> {
        let spec = fitted_place(scenario, fitted)?;
        Ok(Self {
            before: tried(scenario, &spec, &fitted.place)?,
            scenario,
            spec,
        })
    }

    /// Tries an installation beside the told one.
    ///
    /// # Errors
    /// It is refused.
    pub fn trial(&self, proposed: &HostInstallation) -> Result<Trial, SimulateError> {
        Ok(Trial {
            before: self.before.clone(),
            after: tried(self.scenario, &self.spec, proposed)?,
        })
    }
}

fn tried(scenario: &Scenario, spec: &PlantSpec, told: &HostInstallation) -> Result<Tried, SimulateError> {
    let mut spec = spec.clone();
    // What a sensor gives does not depend on what its zero is told to be.
    for ((tank, now), before) in spec.tanks.iter_mut().zip(&told.tanks).zip(&scenario.told.tanks) {
        if let Some(sensor) = &mut tank.sensor {
            sensor.zero_m += f64::from(now.sensor.zero_m - before.sensor.zero_m);
        }
    }
    let mut scenario = scenario.on(spec);
    scenario.told = told.clone();
    scenario.timeline.clear();
    let mut simulation = Simulation::new(&scenario, SEED)?;
    let mut windows = Windows::new(&scenario);
    let lifts = told.lifts.len();
    // Seconds that count, and the sum of squares, of each lift.
    let mut sums = vec![(0.0, 0.0); lifts];
    let mut travel = vec![0.0; lifts];
    let mut openings: Option<Vec<f64>> = None;
    let mut stretches = (0..).zip(TARGETS).skip(1).peekable();
    while simulation.time_s() < LENGTH_S {
        let due = |(number, _): &(u16, (f32, f32))| simulation.time_s() >= START_S + f64::from(*number) * STRETCH_S;
        if let Some((_, shares)) = stretches.next_if(due) {
            for (index, lift) in (0u8..).zip(&told.lifts) {
                let share = if index.is_multiple_of(2) { shares.0 } else { shares.1 };
                let flow = WaterFlow::from_m3_s(lift.target.m3_s * share);
                simulation.command(Command::Target { lift: index, flow })?;
            }
        }
        let moment = simulation.step()?;
        windows.note(&moment);
        let now: Vec<f64> = moment.truth.lifts.iter().map(|lift| lift.opening).collect();
        if let Some(before) = &openings {
            for ((travel, now), before) in travel.iter_mut().zip(&now).zip(before) {
                *travel += (now - before).abs();
            }
        }
        openings = Some(now);
        for (index, (counted, square)) in sums.iter_mut().enumerate() {
            if moment.time_s >= START_S && windows.counts(&moment, index) {
                let target = moment.jobs.lifts[index].target_m3_s;
                let off = moment.truth.lifts[index].water_m3_s / target - 1.0;
                *counted += 1.0;
                *square += off * off;
            }
        }
    }
    Ok(Tried {
        rms_percent: sums
            .iter()
            .map(|(counted, square)| 100.0 * (square / f64::max(*counted, 1.0)).sqrt())
            .collect(),
        travel_strokes: travel,
    })
}

/// The modelled installation as it was fitted.
fn fitted_place(scenario: &Scenario, fitted: &Fitted) -> Result<PlantSpec, SimulateError> {
    // Nothing drawn by chance: what differs from the told is what was fitted.
    let mut told = scenario.clone();
    told.truth = Truth::default();
    let mut spec = told.plant(SEED)?;
    for (tank, fit) in spec.tanks.iter_mut().zip(&fitted.tanks) {
        if let (Some(sensor), Some(noise)) = (&mut tank.sensor, fit.noise) {
            sensor.noise_m = noise.sigma_m;
            sensor.resolution_m = noise.step_m;
        }
        // What lies within chance of what was told stays as told, here as in what is proposed.
        if !fit.differs {
            continue;
        }
        for outlet in &fit.outlets {
            tank.outlets[outlet.outlet].coefficient *= outlet.times_told.value;
        }
        match &mut tank.area {
            Area::Constant(m2) => *m2 *= fit.area.value,
            Area::Table(points) => points.iter_mut().for_each(|point| point.1 *= fit.area.value),
        }
        if let Some(sensor) = &mut tank.sensor {
            sensor.zero_m += fit.zero_m.map_or(0.0, |zero| zero.value);
        }
    }
    let place = spec.place;
    for (index, (lift, fit)) in spec.lifts.iter_mut().zip(&fitted.lifts).enumerate() {
        let told = &fitted.place.lifts[index];
        lift.riser.loss_multiplier = (f64::from(told.calibration.losses) * fit.logs[0].exp()).clamp(0.05, 20.0);
        lift.riser.slip_multiplier = (f64::from(told.calibration.slip) * fit.logs[1].exp()).clamp(0.3, 3.0);
        let Some(ran) = fit.ran else { continue };
        let rise = f64::from(fitted.place.floor_m(told.to) - fitted.place.floor_m(told.from));
        let receiver = ran.levels_m.1 + rise;
        let heads = Heads {
            submergence_m: ran.levels_m.0 - lift.injector_m,
            lift_m: receiver.max(lift.outlet_m) - ran.levels_m.0,
            drowned_m: receiver - lift.outlet_m,
        };
        let riser = Riser { place, ..lift.riser };
        // Its valve passes what this riser needs to deliver what was fitted.
        let (mut low, mut high) = (0.2, 5.0);
        for _ in 0..40 {
            let middle = f64::sqrt(low * high);
            let water = riser.water_m3_s(heads, middle * ran.air_m3_s, &mut 0.0);
            if water < fit.flow_m3_s {
                low = middle;
            } else {
                high = middle;
            }
        }
        lift.valve.multiplier *= f64::sqrt(low * high);
    }
    spec.check()?;
    Ok(spec)
}
