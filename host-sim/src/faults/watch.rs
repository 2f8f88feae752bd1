//! What is looked at while a fault runs: water, air, alarms and the way back.

use crate::scenario::Scenario;
use crate::simulate::{AFTER_STOP_S, Moment};
use risertrim::alarm::{Alarm, Subject};
use risertrim::step::LiftState;

/// Within this share of their targets the lifts of a tank are on target.
pub const ON_TARGET: f64 = 0.04;
/// They count as back when they have been on target this long, s.
const STAYS_S: f64 = 300.0;

/// An alarm that came up after the onset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Raised {
    /// Short name of its kind.
    pub kind: &'static str,
    /// What it is about.
    pub subject: Subject,
    /// When it first came up, s after the onset.
    pub after_s: f64,
    /// How often it came up.
    pub times: u32,
    stands: bool,
}

/// Keeps the alarms that come up.
#[derive(Clone, Debug, Default)]
pub struct AlarmWatch {
    before: Vec<(&'static str, Subject)>,
    raised: Vec<Raised>,
}

impl AlarmWatch {
    /// Only what comes up from now on counts.
    pub fn new(standing: &[Alarm]) -> Self {
        Self {
            before: standing
                .iter()
                .map(|alarm| (alarm.kind.name(), alarm.subject))
                .collect(),
            raised: Vec::new(),
        }
    }

    /// One step.
    pub fn note(&mut self, after_s: f64, list: &[Alarm]) {
        let stands = |kind: &str, subject: Subject| {
            let mut standing = list.iter().filter(|alarm| alarm.stands());
            standing.any(|alarm| alarm.kind.name() == kind && alarm.subject == subject)
        };
        self.before.retain(|(kind, subject)| stands(kind, *subject));
        for raised in &mut self.raised {
            let now = stands(raised.kind, raised.subject);
            raised.times += u32::from(now && !raised.stands);
            raised.stands = now;
        }
        for alarm in list.iter().filter(|alarm| alarm.stands()) {
            let (kind, subject) = (alarm.kind.name(), alarm.subject);
            let known = |raised: &Raised| raised.kind == kind && raised.subject == subject;
            if !self.raised.iter().any(known) && !self.before.contains(&(kind, subject)) {
                self.raised.push(Raised {
                    kind,
                    subject,
                    after_s,
                    times: 1,
                    stands: true,
                });
            }
        }
    }

    /// In the order they came up.
    pub fn raised(&self) -> &[Raised] {
        &self.raised
    }
}

/// Water lost and tanks run dry, counted from the onset, and time in which fish had no air.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Harm {
    /// Litres over the rims, each tank.
    pub spilled_l: Vec<f64>,
    /// Seconds dry, each tank.
    pub dry_s: Vec<f64>,
    /// Seconds without air, each tank; 0 where no fish live.
    pub no_air_s: Vec<f64>,
}

impl Harm {
    /// Litres spilled in all.
    pub fn spilled_in_all_l(&self) -> f64 {
        self.spilled_l.iter().sum()
    }

    /// Seconds dry in all.
    pub fn dry_in_all_s(&self) -> f64 {
        self.dry_s.iter().sum()
    }

    /// Seconds without air of the tank that was worst off.
    pub fn no_air_most_s(&self) -> f64 {
        self.no_air_s.iter().copied().fold(0.0, f64::max)
    }
}

/// Follows the harm done.
#[derive(Clone, Debug)]
pub struct HarmWatch {
    spilled_m3: Vec<f64>,
    dry_s: Vec<f64>,
    /// Lifts that aerate each tank with fish, with the air each keeps, m3/s.
    air: Vec<Vec<(usize, f64)>>,
    harm: Harm,
}

impl HarmWatch {
    /// Counts from this moment on.
    pub fn new(moment: &Moment<'_>, scenario: &Scenario) -> Self {
        let told = &scenario.told;
        let aerate = |tank: usize| {
            let lifts = told.lifts.iter().enumerate();
            let touch = lifts.filter(|(_, lift)| usize::from(lift.from) == tank || usize::from(lift.to) == tank);
            touch
                .map(|(index, lift)| (index, f64::from(lift.air_floor.m3_s)))
                .collect()
        };
        let tanks = told.tanks.iter().enumerate();
        let air = tanks
            .map(|(index, tank)| if tank.fish { aerate(index) } else { Vec::new() })
            .collect();
        let count = told.tanks.len();
        Self {
            spilled_m3: moment.truth.tanks.iter().map(|tank| tank.spilled_m3).collect(),
            dry_s: moment.truth.tanks.iter().map(|tank| tank.dry_s).collect(),
            air,
            harm: Harm {
                spilled_l: vec![0.0; count],
                dry_s: vec![0.0; count],
                no_air_s: vec![0.0; count],
            },
        }
    }

    /// One step.
    pub fn note(&mut self, moment: &Moment<'_>) {
        let before = self.spilled_m3.iter().zip(&self.dry_s);
        let now = self.harm.spilled_l.iter_mut().zip(&mut self.harm.dry_s);
        for ((tank, (spilled_m3, dry_s)), (spilled_l, dry)) in moment.truth.tanks.iter().zip(before).zip(now) {
            *spilled_l = 1000.0 * (tank.spilled_m3 - spilled_m3);
            *dry = tank.dry_s - dry_s;
        }
        for (lifts, no_air_s) in self.air.iter().zip(&mut self.harm.no_air_s) {
            // A hair below the floor is the floor.
            let has_air = |(lift, floor): &(usize, f64)| {
                let air = moment.truth.lifts.get(*lift).map_or(0.0, |lift| lift.air_m3_s);
                air > 0.0 && air >= 0.98 * floor
            };
            if !lifts.is_empty() && !lifts.iter().any(has_air) {
                *no_air_s += moment.period_s;
            }
        }
    }

    /// The harm so far.
    pub fn harm(&self) -> &Harm {
        &self.harm
    }
}

/// The lifts that fill one tank: what they give together is what its level shows. What each gives by itself is known only as
/// far as stops tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Feeders {
    /// The tank.
    pub tank: usize,
    /// The lifts.
    pub lifts: Vec<usize>,
}

impl Feeders {
    /// One for each tank that lifts fill.
    pub fn of(scenario: &Scenario) -> Vec<Self> {
        let lifts = || scenario.told.lifts.iter().enumerate();
        let fill = |tank: usize| {
            let own = lifts().filter(|(_, lift)| usize::from(lift.to) == tank);
            own.map(|(index, _)| index).collect::<Vec<_>>()
        };
        let tanks = (0..scenario.told.tanks.len()).map(|tank| Self {
            tank,
            lifts: fill(tank),
        });
        tanks.filter(|feeders| !feeders.lifts.is_empty()).collect()
    }

    /// What they give above their targets, as a share of these; `None` while one of them is not to serve.
    pub fn off(&self, moment: &Moment<'_>) -> Option<f64> {
        let (mut water, mut target) = (0.0, 0.0);
        for lift in &self.lifts {
            let (truth, job) = (moment.truth.lifts.get(*lift)?, moment.jobs.lifts.get(*lift)?);
            if !job.serves() {
                return None;
            }
            water += truth.water_m3_s;
            target += job.target_m3_s;
        }
        (target > 0.0).then(|| water / target - 1.0)
    }

    /// One of them is stopped to measure the others.
    pub fn is_tested(&self, moment: &Moment<'_>) -> bool {
        self.is_any(LiftState::StoppedToMeasure, moment)
    }

    /// One of them is held because a tank is too full or too empty.
    fn is_held(&self, moment: &Moment<'_>) -> bool {
        self.is_any(LiftState::HeldByLevel, moment)
    }

    fn is_any(&self, state: LiftState, moment: &Moment<'_>) -> bool {
        let of = |lift: &usize| moment.step.lifts.get(*lift).map(|lift| lift.state);
        self.lifts.iter().any(|lift| of(lift) == Some(state))
    }
}

/// The lifts of one tank on their way back after the fault was put right.
#[derive(Clone, Debug)]
struct Way {
    feeders: Feeders,
    off_at_end: f64,
    /// One of them has been held by a level ever since the fault was over.
    held: bool,
    since_s: Option<f64>,
    back_s: Option<f64>,
    bump: f64,
    tested_until_s: f64,
}

/// Follows the lifts from the end of a fault until they are back.
#[derive(Clone, Debug)]
pub struct WayBack {
    ways: Vec<Way>,
    bump_after_s: f64,
}

impl WayBack {
    /// Follows these lifts; `moment` is the last one of the fault.
    pub fn new(moment: &Moment<'_>, feeders: &[Feeders], bump_after_s: f64) -> Self {
        let ways = feeders.iter().map(|feeders| Way {
            feeders: feeders.clone(),
            off_at_end: feeders.off(moment).unwrap_or(-1.0),
            held: true,
            since_s: None,
            back_s: None,
            bump: 0.0,
            tested_until_s: 0.0,
        });
        Self {
            ways: ways.collect(),
            bump_after_s,
        }
    }

    /// One step, `after_s` of the end of the fault.
    pub fn note(&mut self, after_s: f64, moment: &Moment<'_>) {
        for way in &mut self.ways {
            if way.feeders.is_tested(moment) {
                way.tested_until_s = after_s + AFTER_STOP_S;
            }
            if after_s < way.tested_until_s {
                continue;
            }
            let off = way.feeders.off(moment);
            // A tank that was too full when the fault was put right still is: what runs back through a lift meanwhile is no bump.
            way.held &= way.feeders.is_held(moment);
            if way.held {
                way.off_at_end = way.off_at_end.min(off.unwrap_or(-1.0)).min(-1.0);
                way.since_s = None;
                continue;
            }
            let Some(off) = off else {
                // They come back from standing still.
                way.off_at_end = -1.0;
                way.since_s = None;
                continue;
            };
            // Coming back from where the fault left it is no bump; going beyond, or past the target, is.
            let bump = if off * way.off_at_end > 0.0 {
                off.abs() - way.off_at_end.abs()
            } else {
                off.abs()
            };
            if after_s >= self.bump_after_s {
                way.bump = way.bump.max(bump);
            }
            if off.abs() > ON_TARGET {
                way.since_s = None;
            } else {
                let since = *way.since_s.get_or_insert(after_s);
                if after_s - since >= STAYS_S && way.back_s.is_none() {
                    way.back_s = Some(since);
                }
            }
        }
    }

    /// Time until the last was back, s; `None` when one never was.
    pub fn back_s(&self) -> Option<f64> {
        let mut backs = self.ways.iter().map(|way| way.back_s);
        backs.try_fold(0.0_f64, |most, back| back.map(|back| most.max(back)))
    }

    /// The largest bump, as a share of the target.
    pub fn bump(&self) -> f64 {
        self.ways.iter().map(|way| way.bump).fold(0.0, f64::max)
    }

    /// True when all are back.
    pub fn is_over(&self) -> bool {
        self.ways.iter().all(|way| way.back_s.is_some())
    }
}
