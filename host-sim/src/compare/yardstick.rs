//! What is asked of each lift at each moment, the same for everybody.

use crate::plant::Change;
use crate::scenario::{Happening, Scenario};
use crate::simulate::{Jobs, Moment};
use risertrim::Command;

/// Time after a change that counts as "after changes", s.
pub const AFTER_CHANGE_S: f64 = 1800.0;

/// Which part of a run a moment belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// The first half hour: whoever learns is still learning.
    Start,
    /// Within half an hour after a target changed, a lift was shut or came back, or something happened to the place.
    AfterChange,
    /// Everything else.
    Rest,
}

/// The targets as they ramp, and the parts of the run.
///
/// A new target counts as reached at the pace that the settings allow: nobody may go faster, so the way there is nobody's
/// error. A lift back in service is asked for all its target at once.
#[derive(Clone, Debug)]
pub(super) struct Yardstick {
    changes_s: Vec<f64>,
    ramp_per_s: f64,
    asked_m3_s: Vec<Option<f64>>,
}

impl Yardstick {
    pub fn new(scenario: &Scenario, hours: f64) -> Self {
        let told = &scenario.told;
        let changes = scenario.happenings(3600.0 * hours);
        Self {
            changes_s: changes
                .iter()
                .filter(|(at_s, timed)| *at_s > 0.0 && is_change(&timed.what))
                .map(|(at_s, _)| *at_s)
                .collect(),
            ramp_per_s: f64::from(told.settings.ramp_per_s),
            asked_m3_s: told
                .lifts
                .iter()
                .map(|lift| Some(f64::from(lift.target.m3_s)))
                .collect(),
        }
    }

    /// When something changes, s.
    pub fn changes_s(&self) -> &[f64] {
        &self.changes_s
    }

    pub fn part(&self, time_s: f64) -> Part {
        let after = |at_s: &&f64| time_s > **at_s && time_s <= **at_s + AFTER_CHANGE_S;
        if self.changes_s.iter().find(after).is_some() {
            Part::AfterChange
        } else if time_s <= AFTER_CHANGE_S {
            Part::Start
        } else {
            Part::Rest
        }
    }

    /// Moves the ramps on by the period that ends at this moment.
    pub fn advance(&mut self, moment: &Moment<'_>) {
        advance(&mut self.asked_m3_s, moment.jobs, self.ramp_per_s, moment.period_s);
    }

    /// What is asked of a lift now, m3/s; `None` while nothing is.
    pub fn asked_m3_s(&self, lift: usize) -> Option<f64> {
        self.asked_m3_s.get(lift).copied().flatten()
    }
}

fn advance(asked: &mut [Option<f64>], jobs: &Jobs, ramp_per_s: f64, period_s: f64) {
    for (lift, (asked, job)) in asked.iter_mut().zip(&jobs.lifts).enumerate() {
        *asked = if !jobs.is_on_target(lift) {
            None
        } else {
            Some(asked.map_or(job.target_m3_s, |now| {
                ramped(now, job.target_m3_s, ramp_per_s * period_s)
            }))
        };
    }
}

/// A ramp moved on by `share` of the larger of where it is and where it goes.
pub(super) fn ramped(now: f64, target: f64, share: f64) -> f64 {
    let pace = share * now.max(target);
    now + (target - now).clamp(-pace, pace)
}

fn is_change(what: &Happening) -> bool {
    match what {
        Happening::Command(command) => !matches!(
            command,
            Command::Acknowledge | Command::ResetLatched | Command::Silence { .. }
        ),
        // Evaporation goes on all day: it is weather, not a change.
        Happening::Plant { change, .. } => !matches!(change, Change::Evaporate { .. }),
        Happening::Both { .. } | Happening::Board(_) => true,
    }
}
