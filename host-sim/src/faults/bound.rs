//! Could any setting of the valves have prevented it? The plant itself, told which lifts to hold where.

use super::fault::Fault;
use super::stage::Stage;
use super::watch::{Harm, HarmWatch, WayBack};
use crate::plant::Change;
use crate::scenario::Happening;
use crate::simulate::{Moment, SimulateError, Simulation};

/// Where a lift is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Setting {
    /// Where the controller wants it.
    Controller,
    /// On its air floor, by its true air.
    Floor,
    /// Wide open.
    Full,
    /// Shut.
    Shut,
}

/// Litres below which nothing counts as spilled.
pub const NOTHING_L: f64 = 0.001;
/// Seconds below which nothing counts as dry.
pub const NOTHING_S: f64 = 1.0;
/// Time that the best setting may have air before the controller does, s: a stroke of a valve and what it takes to decide.
pub const AIR_GRACE_S: f64 = 45.0;

/// The least harm that any of the settings tried does.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Best {
    /// Litres spilled.
    pub spilled_l: f64,
    /// Seconds dry.
    pub dry_s: f64,
    /// Seconds in which a tank of fish had no air.
    pub no_air_s: f64,
}

/// What could have been had: `harm` is what the controller's own run did in `lasts_s`. Only what did harm is looked into; the rest
/// was prevented by the controller's own setting.
pub fn best(stage: &Stage, fault: &Fault, harm: &Harm, lasts_s: f64) -> Result<Best, SimulateError> {
    let lifts = &stage.scenario.told.lifts;
    let mut best = Best::default();
    let held = |feeds: Option<(usize, Setting)>, draws: Option<(usize, Setting)>| -> Vec<Setting> {
        let of = lifts.iter().map(|lift| match (feeds, draws) {
            (Some((tank, setting)), _) if usize::from(lift.to) == tank => setting,
            (_, Some((tank, setting))) if usize::from(lift.from) == tank => setting,
            _ => Setting::Controller,
        });
        of.collect()
    };
    let least = |tanks: &[f64],
                 nothing: f64,
                 (feeders, drawers): (Setting, Setting),
                 of: fn(&Harm) -> f64|
     -> Result<f64, SimulateError> {
        let mut least = of(harm);
        for (tank, amount) in tanks.iter().enumerate() {
            if *amount <= nothing {
                continue;
            }
            let (feeders, drawers) = (Some((tank, feeders)), Some((tank, drawers)));
            for settings in [held(feeders, None), held(None, drawers), held(feeders, drawers)] {
                least = least.min(of(&run(stage, fault, &settings, lasts_s)?));
            }
        }
        Ok(least)
    };
    if harm.spilled_in_all_l() > NOTHING_L {
        let settings = (Setting::Floor, Setting::Full);
        best.spilled_l = least(&harm.spilled_l, NOTHING_L, settings, Harm::spilled_in_all_l)?;
    }
    if harm.dry_in_all_s() > NOTHING_S {
        let settings = (Setting::Full, Setting::Floor);
        best.dry_s = least(&harm.dry_s, NOTHING_S, settings, Harm::dry_in_all_s)?;
    }
    if harm.no_air_most_s() > 0.0 {
        let tanks = &stage.scenario.told.tanks;
        let fish = |tank: u8| tanks.get(usize::from(tank)).is_some_and(|tank| tank.fish);
        let only_fish = lifts.iter().map(|lift| {
            if fish(lift.to) || fish(lift.from) {
                Setting::Full
            } else {
                Setting::Shut
            }
        });
        let all = vec![Setting::Full; lifts.len()];
        best.no_air_s = harm.no_air_most_s();
        for settings in [all, only_fish.collect()] {
            best.no_air_s = best
                .no_air_s
                .min(run(stage, fault, &settings, lasts_s)?.no_air_most_s());
        }
    }
    Ok(best)
}

/// Time for which the bump of the best valves is watched, s.
const BUMP_WATCHED_S: f64 = 300.0;

/// The bump, share of the target, that is left when the controller's run is the same until the fault is over, and from that moment on
/// every valve goes as fast as it can to where it stood before the fault: what no reading and no valve could have prevented.
pub fn least_bump(stage: &Stage, fault: &Fault) -> Result<f64, SimulateError> {
    let (mut simulation, mut script, before) = struck(stage, fault);
    let mut way: Option<WayBack> = None;
    let mut at_s = 0.0;
    while at_s < fault.lasts_s + BUMP_WATCHED_S {
        for happening in script.due(at_s) {
            happen(&mut simulation, happening)?;
        }
        if way.is_none() && at_s >= fault.lasts_s - 1e-6 {
            way = Some(WayBack::new(&simulation.moment(), &stage.on_target, fault.bump_after_s));
        }
        if way.is_some() {
            simulation.openings_mut().copy_from_slice(&before);
        }
        at_s += simulation.period_s();
        let moment = simulation.step()?;
        if let Some(way) = &mut way {
            way.note(at_s - fault.lasts_s, &moment);
        }
    }
    Ok(way.map_or(0.0, |way| way.bump()))
}

/// The settled place, what is to happen to it and when, and the openings that its valves truly have.
fn struck(stage: &Stage, fault: &Fault) -> (Simulation, Script, Vec<f64>) {
    let simulation = stage.settled.clone();
    let scene = stage.scene();
    let mut script = Script::new((fault.begins)(&scene), 0.0);
    script.add((fault.ends)(&scene), fault.lasts_s);
    let openings = simulation.moment().truth.lifts.iter().map(|lift| lift.opening);
    let openings = openings.collect();
    (simulation, script, openings)
}

/// How far the lifts of any tank get off their targets while the fault lasts, share of the target, when nobody does anything: every
/// valve stays where it stood before the fault.
pub fn left_alone(stage: &Stage, fault: &Fault) -> Result<f64, SimulateError> {
    let mut simulation = stage.settled.clone();
    let mut script = Script::new((fault.begins)(&stage.scene()), 0.0);
    let lifts = &simulation.moment().truth.lifts;
    let before: Vec<f64> = lifts.iter().map(|lift| lift.opening).collect();
    let mut most: f64 = 0.0;
    let mut at_s = 0.0;
    while at_s < fault.lasts_s {
        for happening in script.due(at_s) {
            happen(&mut simulation, happening)?;
        }
        simulation.openings_mut().copy_from_slice(&before);
        at_s += simulation.period_s();
        let moment = simulation.step()?;
        for off in stage.on_target.iter().filter_map(|feeders| feeders.off(&moment)) {
            most = most.max(off.abs());
        }
    }
    Ok(most)
}

fn run(stage: &Stage, fault: &Fault, settings: &[Setting], lasts_s: f64) -> Result<Harm, SimulateError> {
    let (mut simulation, mut script, mut openings) = struck(stage, fault);
    let mut watch = HarmWatch::new(&simulation.moment(), &stage.scenario);
    let mut reversed = vec![false; settings.len()];
    let mut at_s = 0.0;
    while at_s < lasts_s {
        for happening in script.due(at_s) {
            if let Happening::Plant {
                change: Change::ReverseValve { lift, reversed: wrong },
                ..
            } = happening
                && let Some(reversed) = reversed.get_mut(lift)
            {
                *reversed = wrong;
            }
            happen(&mut simulation, happening)?;
        }
        at_s += simulation.period_s();
        let moment = simulation.step()?;
        watch.note(&moment);
        for (index, (opening, setting)) in openings.iter_mut().zip(settings).enumerate() {
            *opening = match setting {
                Setting::Floor => to_floor(*opening, index, &moment, stage),
                Setting::Full => 1.0,
                Setting::Shut => 0.0,
                Setting::Controller => continue,
            };
        }
        let commands = simulation.openings_mut().iter_mut().zip(settings);
        for ((command, setting), (opening, reversed)) in commands.zip(openings.iter().zip(&reversed)) {
            if *setting != Setting::Controller {
                *command = if *reversed { 1.0 - opening } else { *opening };
            }
        }
    }
    Ok(watch.harm().clone())
}

/// One step towards the opening at which the lift truly gets its air floor.
fn to_floor(opening: f64, lift: usize, moment: &Moment<'_>, stage: &Stage) -> f64 {
    let floor = stage
        .scenario
        .told
        .lifts
        .get(lift)
        .map_or(0.0, |lift| f64::from(lift.air_floor.m3_s));
    let air = moment.truth.lifts.get(lift).map_or(0.0, |lift| lift.air_m3_s);
    let step = if air > 1.3 * floor {
        -0.03
    } else if air > 1.05 * floor {
        -0.004
    } else if air < floor {
        0.004
    } else {
        0.0
    };
    (opening + step).clamp(0.0, 1.0)
}

/// What happens when, handed out in the order of time.
#[derive(Clone, Debug)]
pub struct Script {
    left: Vec<(f64, Happening)>,
}

impl Script {
    /// Actions counted from `from_s`.
    pub fn new(actions: Vec<(f64, Happening)>, from_s: f64) -> Self {
        let mut script = Self { left: Vec::new() };
        script.add(actions, from_s);
        script
    }

    /// More of them.
    pub fn add(&mut self, actions: Vec<(f64, Happening)>, from_s: f64) {
        self.left
            .extend(actions.into_iter().map(|(at_s, what)| (from_s + at_s, what)));
    }

    /// What is due at a moment; given once.
    pub fn due(&mut self, at_s: f64) -> Vec<Happening> {
        let (due, left) = self.left.iter().partition(|(when, _)| *when <= at_s + 1e-6);
        self.left = left;
        let mut due: Vec<(f64, Happening)> = due;
        due.sort_by(|a, b| a.0.total_cmp(&b.0));
        due.into_iter().map(|(_, what)| what).collect()
    }
}

/// Lets it happen; a command that the controller refuses is an answer, no failure.
pub fn happen(simulation: &mut Simulation, what: Happening) -> Result<(), SimulateError> {
    match (simulation.let_happen(what), what) {
        (Err(SimulateError::Control { .. }), Happening::Command(_)) => Ok(()),
        (done, _) => done,
    }
}
