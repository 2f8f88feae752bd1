//! What to change: what the log tells better than it was told, and settings that suit what was found. What is fine stays.

use super::fitted::{Fitted, LiftFit};
use super::loop_shape::{Learning, Loop, MOST_SENSITIVITY, STEEPER, learning};
use super::search::WALKS;
use crate::calibrate::NamedLift;
use crate::log::HostInstallation;
use risertrim::installation::Settings;
use risertrim::lift::{Calibration, Curve, Fit};
use risertrim::units::FreeAir;

/// A sensor's noise is told anew when it was told further off than this, as a factor.
const NOISE_OFF: f64 = 1.25;
/// Most change of a flow that a valve may leave undone, share: a fifth of what a shared blower or an outlet law may be off.
const UNDONE: f64 = 0.005;
/// Times that a trim is chosen from, s.
const TRIMS_S: [f64; 10] = [5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0];
/// A trim this many times slower than it need be is made quicker.
const TOO_SLOW: f64 = 3.0;
/// Standard deviations of a level's noise that a deadband must exceed.
const DEADBAND_SIGMAS: f64 = 5.0;
/// Share of the time from an acting limit to the rim that an alarm may wait.
const WAIT_SHARE: f64 = 0.5;
/// A deadband is changed when it is off by more than this, as a factor.
const DEADBAND_OFF: f64 = 1.25;

/// A setting that is changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Key in the installation file, with its unit.
    pub key: String,
    /// What it was.
    pub before: f64,
    /// What it is to be.
    pub after: f64,
    /// Why.
    pub why: String,
}

/// How the trim of one lift is shaped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shape {
    /// What the controller's filter does with it.
    pub learning: Learning,
    /// Dead time of sampling, moving and valve, s.
    pub dead_s: f64,
    /// Peak of the sensitivity before and after.
    pub sensitivity: (f64, f64),
    /// Change of the flow's logarithm with the valve's opening.
    pub per_opening: f64,
}

/// What is proposed.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// The new installation.
    pub installation: HostInstallation,
    /// Tanks whose outlets, surface or zero are told anew.
    pub tanks: Vec<usize>,
    /// Tanks that are told anew by a share of the way only (0: not at all), because the log is not sure of more.
    pub held_back: Vec<(usize, f64)>,
    /// Tanks whose noise is told anew.
    pub noises: Vec<usize>,
    /// Lifts whose curve is told anew.
    pub curves: Vec<usize>,
    /// Settings that change.
    pub settings: Vec<Change>,
    /// The loop of each lift; `None` where it never ran undisturbed.
    pub shapes: Vec<Option<Shape>>,
}

/// What may be changed.
#[derive(Clone, Debug)]
pub struct Allowed {
    /// The settings.
    pub settings: bool,
    /// Outlets, surface and zero of each tank.
    pub tanks: Vec<bool>,
    /// The curve of each lift.
    pub curves: Vec<bool>,
}

impl Allowed {
    /// Everything, settings only if they may.
    #[must_use]
    pub fn all(fitted: &Fitted, settings: bool) -> Self {
        Self {
            settings,
            tanks: vec![true; fitted.tanks.len()],
            curves: vec![true; fitted.lifts.len()],
        }
    }

    /// The same without what is told of these lifts: their curves, and the tanks they feed.
    #[must_use]
    pub fn without(mut self, fitted: &Fitted, lifts: &[usize]) -> Self {
        for lift in lifts {
            self.curves[*lift] = false;
            self.tanks[usize::from(fitted.place.lifts[*lift].to)] = false;
        }
        self
    }
}

/// What to change of what is allowed.
#[must_use]
pub fn propose(fitted: &Fitted, allowed: &Allowed) -> Proposal {
    let mut new = fitted.place.clone();
    let mut proposal = Proposal {
        installation: fitted.place.clone(),
        tanks: Vec::new(),
        held_back: Vec::new(),
        noises: Vec::new(),
        curves: Vec::new(),
        settings: Vec::new(),
        shapes: Vec::new(),
    };
    for (index, (tank, fit)) in new.tanks.iter_mut().zip(&fitted.tanks).enumerate() {
        if let Some(noise) = fit.noise {
            let told = f64::from(tank.sensor.noise_m);
            let found = noise.sigma_m.clamp(0.0001, 0.1);
            if found > NOISE_OFF * told || told > NOISE_OFF * found {
                tank.sensor.noise_m = narrow(found);
                proposal.noises.push(index);
            }
        }
        if !fit.differs || !allowed.tanks[index] {
            continue;
        }
        let share = fit.working.sure_share();
        if share < 1.0 {
            proposal.held_back.push((index, share));
        }
        if share <= 0.0 {
            continue;
        }
        for outlet in fit.outlets.iter().filter(|outlet| outlet.times_told.told) {
            tank.outlets[outlet.outlet].coefficient *= narrow(outlet.times_told.value.powf(share));
        }
        if fit.area.told {
            for point in &mut tank.area {
                point.area_m2 *= narrow(fit.area.value.powf(share));
            }
        }
        if let Some(zero) = fit.zero_m.filter(|zero| zero.told) {
            tank.sensor.zero_m -= narrow(share * zero.value);
        }
        proposal.tanks.push(index);
    }
    for (index, (lift, fit)) in new.lifts.iter_mut().zip(&fitted.lifts).enumerate() {
        if let Some(calibration) = calibration(&lift.calibration, fit).filter(|_| allowed.curves[index]) {
            lift.calibration = calibration;
            proposal.curves.push(index);
        }
    }
    proposal.installation = new;
    proposal.shapes = shapes(fitted, &proposal.installation);
    if allowed.settings {
        let before = fitted.place.settings;
        let changes = changes(fitted, &proposal, &before);
        for change in &changes {
            take(&mut proposal.installation.settings, change);
        }
        proposal.settings = changes;
        let after = proposal.installation.settings;
        for shape in proposal.shapes.iter_mut().flatten() {
            shape.sensitivity.1 = sensitivity(shape, &after);
        }
    }
    proposal
}

/// The curve as fitted, where the log tells it.
fn calibration(told: &Calibration, fit: &LiftFit) -> Option<Calibration> {
    if !fit.height_told || !fit.delivery.is_some_and(|delivery| delivery.told) {
        return None;
    }
    let times = |told: f32, log: f64, low: f64, high: f64| narrow((f64::from(told) * log.exp()).clamp(low, high));
    Some(Calibration {
        losses: times(told.losses, fit.logs[0], 0.02, 100.0),
        slip: times(told.slip, fit.logs[1], 0.3, 3.0),
        air: times(told.air, fit.logs[2], 0.3, 3.0),
        fit: Some(Fit {
            covariance: fit.covariance.map(narrow),
            air_low_m3_s: narrow(fit.air_range_m3_s.0),
            air_high_m3_s: narrow(fit.air_range_m3_s.1),
        }),
    })
}

fn shapes(fitted: &Fitted, place: &HostInstallation) -> Vec<Option<Shape>> {
    let conditions = place.site.conditions();
    let names: Vec<String> = place.lifts.iter().map(|_| String::new()).collect();
    let named = NamedLift::all(place, &names);
    let period_s = f64::from(place.settings.period_ms) * 1e-3;
    let of = |(index, lift): (usize, &NamedLift)| -> Option<Shape> {
        let fit = &fitted.lifts[index];
        let ran = fit.ran?;
        let to = usize::from(lift.lift.to);
        let tank = &place.tanks[to];
        let area = f64::from(tank.area_m2(narrow(ran.levels_m.1)));
        let slope: f64 = tank
            .outlets
            .iter()
            .map(|outlet| f64::from(outlet.at(narrow(ran.levels_m.1), None).per_level))
            .sum();
        let noise_m = fitted.tanks[to].noise.map_or(f64::from(tank.sensor.noise_m), |noise| {
            noise.sigma_m.hypot(noise.step_m / 12f64.sqrt())
        });
        let settings = &place.settings;
        let learning = learning(
            period_s,
            fit.flow_m3_s / area,
            slope / area,
            (
                noise_m,
                f64::from(settings.unseen_flow_m3_s) / area,
                f64::from(settings.delivery_walk),
            ),
        );
        let source = ran.levels_m.0;
        let curve = Curve::new(
            &lift.lift.riser,
            &lift.lift.calibration,
            &conditions,
            narrow(source),
            Some(narrow(ran.levels_m.1 + lift.floor_rise_m)),
        );
        let elasticity = |air: f64| {
            let point = curve.at(FreeAir::from_m3_s(narrow(air)));
            f64::from(point.per_air) * air / f64::from(point.flow.m3_s).max(1.0e-9)
        };
        let opening = fit_opening(lift, ran.air_m3_s, fitted.manifold_pa, source);
        let through = |opening: f64| {
            lift.air_through_valve_m3_s(opening, fitted.manifold_pa, source)
                .max(1.0e-9)
                .ln()
        };
        let per_opening = elasticity(ran.air_m3_s) * (through(opening + 0.01) - through(opening - 0.01)) / 0.02;
        let shape = Shape {
            learning,
            dead_s: 0.0,
            sensitivity: (0.0, 0.0),
            per_opening: per_opening.abs().max(0.05),
        };
        let dead_s = dead_s(settings, f64::from(lift.lift.valve.stroke_s));
        let mut shape = Shape { dead_s, ..shape };
        let now = sensitivity(&shape, settings);
        shape.sensitivity = (now, now);
        Some(shape)
    };
    named.iter().enumerate().map(of).collect()
}

/// The opening at which a valve passes an air, by halving.
fn fit_opening(lift: &NamedLift, air_m3_s: f64, manifold_pa: f64, source_m: f64) -> f64 {
    let (mut low, mut high) = (0.02, 0.98);
    for _ in 0..30 {
        let middle = 0.5 * (low + high);
        if lift.air_through_valve_m3_s(middle, manifold_pa, source_m) < air_m3_s {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Half a period of sampling, half an interval between moves, and a move of two deadbands.
fn dead_s(settings: &Settings, stroke_s: f64) -> f64 {
    f64::from(settings.period_ms) * 0.5e-3
        + 0.5 * f64::from(settings.move_interval_s)
        + stroke_s * 2.0 * f64::from(settings.valve_deadband)
}

fn sensitivity(shape: &Shape, settings: &Settings) -> f64 {
    let of = |gain: f64| Loop {
        gain,
        lags_s: [shape.learning.time_s, f64::from(settings.trim_s)],
        dead_s: shape.dead_s,
    };
    of(STEEPER - 1.0).sensitivity()
}

fn changes(fitted: &Fitted, proposal: &Proposal, settings: &Settings) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut change = |key: &str, before: f64, after: f64, why: String| {
        if (after - before).abs() > 0.02 * before.abs().max(1.0e-6) {
            changes.push(Change {
                key: key.to_owned(),
                before,
                after,
                why,
            });
        }
    };
    let shapes: Vec<&Shape> = proposal.shapes.iter().flatten().collect();
    if shapes.is_empty() {
        return changes;
    }
    let walk = 100.0 * f64::from(settings.delivery_walk);
    if fitted.walk > WALKS[0] {
        let found = 100.0 * fitted.walk;
        change(
            "delivery_walk_percent_per_root_s",
            walk,
            found.max(walk),
            "deliveries wander faster than told".to_owned(),
        );
    }
    // A deadband leaves a flow undone; below it the noise would move the valve.
    let most = shapes
        .iter()
        .map(|shape| UNDONE / shape.per_opening)
        .fold(0.05, f64::min);
    let interval_s = f64::from(settings.move_interval_s);
    let quickest = shapes.iter().map(|shape| shape.learning.time_s).fold(600.0, f64::min);
    let longest_s = (0.5 * quickest).clamp(5.0, 60.0).round();
    if interval_s > longest_s {
        change(
            "move_interval_s",
            interval_s,
            longest_s,
            format!("half of the {quickest:.0} s in which the quickest lift is learned"),
        );
    }
    let interval_s = interval_s.min(longest_s);
    // The trim: as quick as robustness and noise allow.
    let after = Settings {
        move_interval_s: whole(interval_s),
        valve_deadband: settings.valve_deadband.min(narrow(most)),
        ..*settings
    };
    let fine = |trim_s: f64| {
        shapes.iter().all(|shape| {
            let shape = Shape {
                dead_s: shape.dead_s - 0.5 * (f64::from(settings.move_interval_s) - interval_s),
                ..**shape
            };
            let time_s = shape.learning.time_s;
            let moved = shape.learning.jitter * (time_s / (time_s + trim_s)).sqrt() / shape.per_opening;
            sensitivity(
                &shape,
                &Settings {
                    trim_s: narrow(trim_s),
                    ..after
                },
            ) <= MOST_SENSITIVITY
                && moved <= most
        })
    };
    let told = f64::from(settings.trim_s);
    let quickest = TRIMS_S.into_iter().find(|trim| fine(*trim)).unwrap_or(180.0);
    if told < quickest {
        let why = format!("the quickest with a peak of sensitivity below {MOST_SENSITIVITY} and a valve that rests");
        change("trim_s", told, quickest, why);
    } else if told > TOO_SLOW * quickest.max(10.0) {
        let why = format!("{quickest:.0} s would do by robustness and noise, half as much again is left as a margin");
        change("trim_s", told, 1.5 * quickest.max(10.0), why);
    }
    let told = f64::from(settings.valve_deadband);
    let trim_s = changed(&changes, "trim_s").unwrap_or(f64::from(settings.trim_s));
    let least = shapes
        .iter()
        .map(|shape| {
            let time_s = shape.learning.time_s;
            2.0 * shape.learning.jitter * (time_s / (time_s + trim_s)).sqrt() / shape.per_opening
        })
        .fold(0.0, f64::max)
        .min(most);
    let after = told.clamp(least, most.max(least));
    let why = if after < told {
        format!("it left more than {:.1} % of a flow undone", 100.0 * UNDONE)
    } else {
        "the noise of the readings moved the valves".to_owned()
    };
    if after > DEADBAND_OFF * told || told > DEADBAND_OFF * after {
        changes.push(Change {
            key: "valve_deadband_percent".to_owned(),
            before: 100.0 * told,
            after: 100.0 * after,
            why,
        });
    }
    changes.extend(alarms(fitted, proposal, settings));
    changes
}

fn changed(changes: &[Change], key: &str) -> Option<f64> {
    let of_key = changes.iter().find(|change| change.key == key);
    of_key.map(|change| change.after)
}

/// Deadband and delay of the level alarms.
fn alarms(fitted: &Fitted, proposal: &Proposal, settings: &Settings) -> Vec<Change> {
    let place = &proposal.installation;
    let mut changes = Vec::new();
    let noise_m = fitted
        .tanks
        .iter()
        .filter_map(|tank| tank.noise)
        .fold(0.0f64, |most, noise| most.max(noise.sigma_m));
    let told = f64::from(settings.level_deadband_m);
    if DEADBAND_SIGMAS * noise_m > told {
        changes.push(Change {
            key: "level_deadband_mm".to_owned(),
            before: 1000.0 * told,
            after: (1000.0 * DEADBAND_SIGMAS * noise_m).ceil(),
            why: format!("{DEADBAND_SIGMAS:.0} times the noise of the worst level sensor"),
        });
    }
    // How long from the acting limit to the rim when every lift into a tank gives its target and nothing runs out.
    let quickest_s = place
        .tanks
        .iter()
        .enumerate()
        .filter_map(|(index, tank)| {
            let fed: f64 = place
                .lifts
                .iter()
                .filter(|lift| usize::from(lift.to) == index)
                .map(|lift| f64::from(lift.target.m3_s))
                .sum();
            let room_m3 = f64::from(tank.volume_m3(tank.rim_m) - tank.volume_m3(tank.limits.high_act_m));
            (fed > 0.0).then(|| room_m3 / fed)
        })
        .fold(f64::INFINITY, f64::min);
    let told = f64::from(settings.level_delay_s);
    let most_s = (WAIT_SHARE * quickest_s).floor().clamp(2.0, 600.0);
    if told > most_s {
        changes.push(Change {
            key: "level_delay_s".to_owned(),
            before: told,
            after: most_s,
            why: format!("half of the {quickest_s:.0} s from the acting limit to the rim of the quickest tank"),
        });
    }
    changes
}

/// Takes a change over into settings.
fn take(settings: &mut Settings, change: &Change) {
    let value = change.after;
    match change.key.as_str() {
        "delivery_walk_percent_per_root_s" => settings.delivery_walk = narrow(value / 100.0),
        "trim_s" => settings.trim_s = narrow(value),
        "valve_deadband_percent" => settings.valve_deadband = narrow(value / 100.0),
        "move_interval_s" => settings.move_interval_s = whole(value),
        "level_deadband_mm" => settings.level_deadband_m = narrow(value / 1000.0),
        "level_delay_s" => settings.level_delay_s = whole(value),
        _ => {}
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // seconds within some minutes
fn whole(value: f64) -> u32 {
    value.round() as u32
}

/// To the controller's precision.
#[allow(clippy::cast_possible_truncation)]
fn narrow(value: f64) -> f32 {
    value as f32
}
