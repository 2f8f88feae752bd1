//! One fault at one place: what came of it, and whether what is promised was kept.

use super::bound::{self, AIR_GRACE_S, Best, NOTHING_L, NOTHING_S, Script, happen};
use super::fault::{Actions, At, Fault, Naming};
use super::stage::Stage;
use super::watch::{AlarmWatch, Harm, HarmWatch, ON_TARGET, Raised, WayBack};
use crate::plant::Change;
use crate::scenario::{Happening, Scenario};
use crate::simulate::{SimulateError, subject_name};
use risertrim::alarm::Subject;
use serde::Serialize;

/// Largest bump on the way back, share of the target.
const BUMP: f64 = 0.10;
/// A lift is given this long to come back before the watch ends, s.
const LONGEST_WAY_S: f64 = 3.0 * 3600.0;
/// Watched for this long after the time in which the lifts must be back, s.
const AFTER_S: f64 = 900.0;
/// An alarm that comes up more often than this in one cell chatters.
const CHATTER: u32 = 4;

/// What came of one fault at one place. Times are from its onset unless told otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cell {
    /// Name of the scenario.
    pub scenario: String,
    /// Name of the fault.
    pub fault: &'static str,
    /// Water over the rims, L.
    pub spilled_l: f64,
    /// Time below the dry level, all tanks, s.
    pub dry_s: f64,
    /// Longest time in which a tank of fish had no air, s.
    pub no_air_s: f64,
    /// The part of it in which another setting would have given it air, s.
    pub no_air_while_there_was_s: f64,
    /// The least that any setting tried spills, L.
    pub least_spilled_l: f64,
    /// The least time dry of any setting tried, s.
    pub least_dry_s: f64,
    /// The alarm that named it.
    pub named_by: Option<String>,
    /// When, s.
    pub named_after_s: Option<f64>,
    /// When it must be named, s; `null` when nothing need be said.
    pub named_within_s: Option<f64>,
    /// What else it could be by these readings.
    pub could_also_be: Option<&'static str>,
    /// The reading that would tell them apart, or why nothing is said.
    pub reading_that_would_tell: Option<&'static str>,
    /// The outcome was safe: nothing spilled, dry or without air that a setting could have prevented.
    pub safe: bool,
    /// Time after its end until the lifts of every tank together were within 4 % of their targets, s.
    pub back_after_s: Option<f64>,
    /// Largest bump after its end, % of the target.
    pub bump_percent: f64,
    /// The bump that valves leave which go back as fast as they can from the first moment on, % of the target; looked into only where
    /// the bump was too large.
    pub least_bump_percent: f64,
    /// How far the lifts get off their targets with every valve left where it stood, % of the target; looked into only where one of a
    /// group that readings cannot tell apart was not named.
    pub left_alone_percent: Option<f64>,
    /// Every alarm that came up.
    pub alarms: Vec<CellAlarm>,
    /// What was promised and not kept.
    pub broken: Vec<String>,
    /// Harm that no setting could have prevented, and what is too small to be named.
    pub exceptions: Vec<String>,
}

/// An alarm that came up in a cell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CellAlarm {
    /// Short name of its kind.
    pub kind: &'static str,
    /// What it is about.
    pub subject: String,
    /// When it first came up, s.
    pub after_s: f64,
    /// How often.
    pub times: u32,
}

/// A fault that a place has no part for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotTried {
    /// Name of the scenario.
    pub scenario: String,
    /// Name of the fault.
    pub fault: &'static str,
    /// What the place has not got.
    pub why: String,
}

/// What came of the wish to try a fault.
pub(super) enum Tried {
    Ran(Box<Cell>),
    /// The place has no part that it could strike.
    No(NotTried),
}

/// The outlet that a fault needs and a place has not got, in words.
fn missing_outlet(actions: &Actions, scenario: &Scenario) -> Option<String> {
    const COUNTED: [&str; 3] = ["", "second ", "third "];
    actions.iter().find_map(|(_, what)| {
        let Happening::Plant {
            change: Change::ClogOutlet { tank, outlet, .. },
            ..
        } = what
        else {
            return None;
        };
        let has = scenario.told.tanks.get(*tank).map_or(0, |tank| tank.outlets.len());
        let name = scenario.tank_names.get(*tank).map_or("?", String::as_str);
        (*outlet >= has).then(|| format!("tank {name} has no {}outlet", COUNTED.get(*outlet).unwrap_or(&"such ")))
    })
}

/// Runs one fault at one place.
///
/// # Errors
/// Something cannot happen to this installation.
pub(super) fn run(stage: &Stage, fault: &Fault) -> Result<Tried, SimulateError> {
    let scene = stage.scene();
    let begins = (fault.begins)(&scene);
    let missing = if begins.is_empty() {
        Some("this place has no part that it could strike".to_owned())
    } else {
        missing_outlet(&begins, &stage.scenario)
    };
    if let Some(why) = missing {
        return Ok(Tried::No(NotTried {
            scenario: stage.name.clone(),
            fault: fault.name,
            why,
        }));
    }
    let mut simulation = stage.settled.clone();
    let mut alarms = AlarmWatch::new(&simulation.moment().step.alarms);
    let mut harm = HarmWatch::new(&simulation.moment(), &stage.scenario);
    let mut script = Script::new(begins, 0.0);
    script.add((fault.ends)(&scene), fault.lasts_s);
    let mut way: Option<WayBack> = None;
    let asked_back = fault.back_within_s.is_finite();
    let longest_s = if asked_back { LONGEST_WAY_S } else { AFTER_S };
    let least_s = if asked_back {
        fault.back_within_s + AFTER_S
    } else {
        AFTER_S
    };
    let mut at_s = 0.0;
    loop {
        let since_end = at_s - fault.lasts_s;
        let done = way.as_ref().is_some_and(WayBack::is_over) || !asked_back;
        if since_end >= longest_s || (since_end >= least_s && done) {
            break;
        }
        for happening in script.due(at_s) {
            happen(&mut simulation, happening)?;
        }
        if way.is_none() && since_end >= -1e-6 {
            let counts = &stage.on_target;
            way = Some(WayBack::new(&simulation.moment(), counts, fault.bump_after_s));
        }
        at_s += simulation.period_s();
        let moment = simulation.step()?;
        harm.note(&moment);
        alarms.note(at_s, &moment.step.alarms);
        if let Some(way) = &mut way {
            way.note(at_s - fault.lasts_s, &moment);
        }
    }
    let best = bound::best(stage, fault, harm.harm(), at_s)?;
    let mut cell = told(stage, fault, harm.harm(), &best, &alarms, way.as_ref());
    if cell.bump_percent > 100.0 * BUMP {
        cell.least_bump_percent = 100.0 * bound::least_bump(stage, fault)?;
    }
    if cell.named_after_s.is_none() && matches!(fault.naming, Naming::Group { .. }) {
        cell.left_alone_percent = Some(100.0 * bound::left_alone(stage, fault)?);
    }
    judge(&mut cell, fault);
    Ok(Tried::Ran(Box::new(cell)))
}

fn told(stage: &Stage, fault: &Fault, harm: &Harm, best: &Best, alarms: &AlarmWatch, way: Option<&WayBack>) -> Cell {
    let naming = alarms.raised().iter().find(|raised| names(stage, fault, raised));
    let (could_also_be, reading) = match fault.naming {
        Naming::By { .. } => (None, None),
        Naming::Group { members, reading, .. } => (Some(members), Some(reading)),
        Naming::Silent { why } => (None, Some(why)),
    };
    let asked_back = fault.back_within_s.is_finite();
    let subject = |raised: &Raised| subject_name(raised.subject, &stage.scenario);
    Cell {
        scenario: stage.name.clone(),
        fault: fault.name,
        spilled_l: harm.spilled_in_all_l(),
        dry_s: harm.dry_in_all_s(),
        no_air_s: harm.no_air_most_s(),
        no_air_while_there_was_s: (harm.no_air_most_s() - best.no_air_s).max(0.0),
        least_spilled_l: best.spilled_l,
        least_dry_s: best.dry_s,
        named_by: naming.map(|raised| format!("{} ({})", raised.kind, subject(raised))),
        named_after_s: naming.map(|raised| raised.after_s),
        named_within_s: fault.naming.within_s(),
        could_also_be,
        reading_that_would_tell: reading,
        safe: true,
        back_after_s: way.filter(|_| asked_back).and_then(WayBack::back_s),
        bump_percent: if asked_back {
            100.0 * way.map_or(0.0, WayBack::bump)
        } else {
            0.0
        },
        least_bump_percent: 0.0,
        left_alone_percent: None,
        alarms: alarms
            .raised()
            .iter()
            .map(|raised| CellAlarm {
                kind: raised.kind,
                subject: subject(raised),
                after_s: raised.after_s,
                times: raised.times,
            })
            .collect(),
        broken: Vec::new(),
        exceptions: Vec::new(),
    }
}

fn judge(cell: &mut Cell, fault: &Fault) {
    if cell.spilled_l > NOTHING_L {
        let text = format!(
            "spilled {:.1} L, the best setting {:.1} L",
            cell.spilled_l, cell.least_spilled_l
        );
        if cell.least_spilled_l > NOTHING_L {
            cell.exceptions.push(text);
        } else {
            cell.broken.push(text);
        }
    }
    if cell.dry_s > NOTHING_S {
        let text = format!(
            "dry for {:.0} s, with the best setting {:.0} s",
            cell.dry_s, cell.least_dry_s
        );
        if cell.least_dry_s > NOTHING_S {
            cell.exceptions.push(text);
        } else {
            cell.broken.push(text);
        }
    }
    if cell.no_air_while_there_was_s > AIR_GRACE_S {
        cell.broken.push(format!(
            "fish without air for {:.0} s while there was air to give",
            cell.no_air_while_there_was_s
        ));
    }
    cell.safe = cell.broken.is_empty();
    if let Some(within_s) = cell.named_within_s {
        match cell.named_after_s {
            Some(after_s) if after_s <= within_s => {}
            Some(after_s) => cell
                .broken
                .push(format!("named after {after_s:.0} s, stated {within_s:.0} s")),
            None => match cell.left_alone_percent {
                // Not even somebody who does nothing would get off target: no more than lifts change by on days without a fault.
                Some(off) if off < 100.0 * ON_TARGET => cell.exceptions.push(format!(
                    "too small to be named: with every valve left where it stood, what the lifts give changes by {off:.1} % of the target, \
                     and after a new target that of a sound lift is known no better; it may be {}; what would tell: {}",
                    cell.could_also_be.unwrap_or_default(),
                    cell.reading_that_would_tell.unwrap_or_default()
                )),
                _ => cell.broken.push(format!("not named; stated within {within_s:.0} s")),
            },
        }
    }
    if fault.back_within_s.is_finite() {
        match cell.back_after_s {
            Some(after_s) if after_s <= fault.back_within_s => {}
            Some(after_s) => cell.broken.push(format!(
                "back on target after {after_s:.0} s, stated {:.0} s",
                fault.back_within_s
            )),
            None => cell.broken.push("not back on target within three hours".to_owned()),
        }
    }
    if cell.bump_percent > 100.0 * BUMP {
        let text = format!("a bump of {:.0} % of the target on the way back", cell.bump_percent);
        // Where those valves do worse than the controller, they tell nothing of what could have been had.
        if cell.least_bump_percent > 100.0 * BUMP && cell.least_bump_percent <= cell.bump_percent {
            cell.exceptions.push(format!(
                "{text}; {:.0} % with every valve on its way back from the first second on",
                cell.least_bump_percent
            ));
        } else {
            cell.broken.push(text);
        }
    }
    for alarm in cell.alarms.iter().filter(|alarm| alarm.times > CHATTER) {
        cell.broken.push(format!(
            "{} ({}) came up {} times",
            alarm.kind, alarm.subject, alarm.times
        ));
    }
}

/// True when this alarm counts as naming the fault.
fn names(stage: &Stage, fault: &Fault, raised: &Raised) -> bool {
    if !fault.naming.kinds().contains(&raised.kind) {
        return false;
    }
    let is = |subject: u8, index: usize| usize::from(subject) == index;
    match (fault.at, raised.subject) {
        (_, Subject::Place) | (At::Anywhere, _) | (At::Source, Subject::Lift(_)) => true,
        (At::Lift, Subject::Lift(lift)) => is(lift, stage.site.lift),
        (At::Lift, Subject::Tank(tank)) => is(tank, stage.site.tank),
        (At::Source, Subject::Tank(tank)) => is(tank, stage.site.source),
    }
}
