//! Settings that suit what was found: the trim, the valves' rest, the level alarms.

use super::fitted::Fitted;
use super::loop_shape::MOST_SENSITIVITY;
use super::search::WALKS;
use super::shape::{Shape, sensitivity};
use crate::log::HostInstallation;
use crate::precision::narrow;
use risertrim::installation::Settings;

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

/// The settings that are to change for loops of these shapes in this place.
pub fn changes(
    fitted: &Fitted,
    shapes: &[Option<Shape>],
    place: &HostInstallation,
    settings: &Settings,
) -> Vec<Change> {
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
    let shapes: Vec<&Shape> = shapes.iter().flatten().collect();
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
            "what the lifts deliver wanders faster than entered".to_owned(),
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
            format!("half of the {quickest:.0} s in which the controller notices what the quickest lift delivers"),
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
            let time_s = shape.learning.time_s;
            let moved = shape.learning.jitter * (time_s / (time_s + trim_s)).sqrt() / shape.per_opening;
            sensitivity(
                shape,
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
        let why = "the quickest at which no lift swings and the valves rest".to_owned();
        change("trim_s", told, quickest, why);
    } else if told > TOO_SLOW * quickest.max(10.0) {
        let why = format!(
            "it was slower than it need be: at {quickest:.0} s no lift would swing and the valves would rest, and this leaves a margin"
        );
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
        format!("the valves left flows off by more than {:.1} %", 100.0 * UNDONE)
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
    changes.extend(alarms(fitted, place, settings));
    changes
}

fn changed(changes: &[Change], key: &str) -> Option<f64> {
    let of_key = changes.iter().find(|change| change.key == key);
    of_key.map(|change| change.after)
}

/// Deadband and delay of the level alarms.
fn alarms(fitted: &Fitted, place: &HostInstallation, settings: &Settings) -> Vec<Change> {
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
pub fn take(settings: &mut Settings, change: &Change) {
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
