//! One moment as plain values.

use crate::scenario::Scenario;
use crate::simulate::{L_MIN_PER_M3_S, Moment, subject_name};
use risertrim::alarm::{Alarm, Standing, Urgency};
use risertrim::level::Checked;
use risertrim::step::LiftState;

/// How fast time passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// It stands still.
    Paused,
    /// This many times real time.
    Times(f64),
    /// The run is over.
    Ended,
}

/// A tank at a moment. Levels above its floor, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct TankLine {
    /// Its name.
    pub name: String,
    /// Level that the controller believes.
    pub level_mm: f64,
    /// The true level, where there is a model to ask.
    pub true_level_mm: Option<f64>,
    /// Limits: too low, low, high, too high.
    pub limits_mm: [f64; 4],
    /// Its sensor's reading was used.
    pub read: bool,
    /// Fish live here.
    pub fish: bool,
}

/// A lift at a moment.
#[derive(Clone, Debug, PartialEq)]
pub struct LiftLine {
    /// Its name.
    pub name: String,
    /// What it is doing.
    pub state: LiftState,
    /// Water it is to deliver, L/min: the target itself, not its ramp.
    pub target_l_min: f64,
    /// Water it is believed to deliver, L/min.
    pub believed_l_min: f64,
    /// Water it truly delivers, where there is a model to ask, L/min.
    pub true_l_min: Option<f64>,
    /// Free air it is believed to get, L/min.
    pub air_l_min: f64,
    /// Commanded opening, % of the stroke.
    pub opening_percent: f64,
    /// What it delivers, % of its curve.
    pub delivery_percent: f64,
    /// What somebody did to it, in a few words; empty for nothing.
    pub meddled: String,
}

/// An alarm on the list.
#[derive(Clone, Debug, PartialEq)]
pub struct AlarmLine {
    /// How it stands.
    pub standing: Standing,
    /// How soon somebody must come.
    pub urgency: Urgency,
    /// What it is about.
    pub subject: String,
    /// What happened.
    pub what: String,
    /// What to do.
    pub act: String,
    /// A number that belongs to it, in words; empty for none.
    pub figure: String,
    /// The alarm it follows from; empty when it stands for itself.
    pub follows: String,
}

/// All that the view needs to know of one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// Name of the place.
    pub place: String,
    /// Time since the start, s.
    pub time_s: f64,
    /// How fast time passes.
    pub pace: Pace,
    /// The tanks.
    pub tanks: Vec<TankLine>,
    /// The lifts.
    pub lifts: Vec<LiftLine>,
    /// Pressure in the manifold as believed, kPa above the atmosphere.
    pub manifold_kpa: f64,
    /// Free air of the blower, where there is a model to ask, L/min.
    pub blower_l_min: Option<f64>,
    /// The list of alarms, the most urgent first.
    pub alarms: Vec<AlarmLine>,
}

impl Snapshot {
    /// A moment of a simulated scenario, whatever drives the valves.
    #[must_use]
    pub fn of(moment: &Moment<'_>, scenario: &Scenario, pace: Pace) -> Self {
        let truth = moment.truth;
        let alarms = moment.step.alarms.iter().map(|alarm| alarm_line(alarm, scenario));
        Self {
            place: scenario.name.clone(),
            time_s: moment.time_s,
            pace,
            tanks: tanks(moment, scenario),
            lifts: lifts(moment, scenario),
            manifold_kpa: 1e-3 * f64::from(moment.step.manifold_pa),
            blower_l_min: Some(L_MIN_PER_M3_S * truth.air_m3_s),
            alarms: alarms.collect(),
        }
    }
}

fn alarm_line(alarm: &Alarm, scenario: &Scenario) -> AlarmLine {
    let figure = alarm.figure.words();
    let follows = alarm.cause.map(|cause| {
        let subject = subject_name(cause.subject, scenario);
        format!("{subject}: {}", cause.kind.text().what)
    });
    AlarmLine {
        standing: alarm.standing,
        urgency: alarm.kind.urgency(),
        subject: subject_name(alarm.subject, scenario),
        what: alarm.kind.text().what.to_owned(),
        act: alarm.kind.text().act.to_owned(),
        figure: figure.map_or_else(String::new, |(number, what)| format!("about {number} {what}")),
        follows: follows.unwrap_or_default(),
    }
}

fn tanks(moment: &Moment<'_>, scenario: &Scenario) -> Vec<TankLine> {
    let truth = &moment.truth.tanks;
    let told = scenario.tank_names.iter().zip(&scenario.told.tanks);
    told.zip(&moment.step.tanks)
        .enumerate()
        .map(|(index, ((name, told), step))| {
            let limits = &told.limits;
            TankLine {
                name: name.clone(),
                level_mm: mm(step.level_m),
                true_level_mm: truth.get(index).map(|tank| 1_000.0 * tank.level_m),
                limits_mm: [
                    limits.low_act_m,
                    limits.low_warn_m,
                    limits.high_warn_m,
                    limits.high_act_m,
                ]
                .map(mm),
                read: matches!(step.reading, Checked::Level(_)),
                fish: told.fish,
            }
        })
        .collect()
}

fn lifts(moment: &Moment<'_>, scenario: &Scenario) -> Vec<LiftLine> {
    let told = scenario.lift_names.iter().zip(&moment.step.lifts);
    told.zip(&moment.jobs.lifts)
        .enumerate()
        .map(|(index, ((name, step), job))| LiftLine {
            name: name.clone(),
            state: step.state,
            target_l_min: L_MIN_PER_M3_S * job.target_m3_s,
            believed_l_min: f64::from(step.flow.l_min()),
            true_l_min: moment
                .truth
                .lifts
                .get(index)
                .map(|lift| L_MIN_PER_M3_S * lift.water_m3_s),
            air_l_min: f64::from(step.air.l_min()),
            opening_percent: 100.0 * f64::from(step.command.share()),
            delivery_percent: 100.0 * f64::from(step.delivery),
            meddled: String::new(),
        })
        .collect()
}

fn mm(metres: f32) -> f64 {
    1_000.0 * f64::from(metres)
}
