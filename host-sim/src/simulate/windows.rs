//! Which time counts for a lift's figures.

use super::moment::Moment;
use crate::scenario::{Happening, Scenario, Timed};
use risertrim::Command;
use risertrim::step::LiftState;
use std::collections::BTreeSet;

/// Time after the start and after each change of a lift's own target or service that does not count, s.
pub const SETTLING_S: f64 = 900.0;
/// Time after a stop to measure of a lift that shares its tank that does not count for the lifts of that tank, s.
pub const AFTER_STOP_S: f64 = 180.0;

/// Keeps the test windows of each tank: a lift feeding it is stopped to measure, or was just now. Where lifts are to be commissioned
/// nothing counts before the first trial of each is over: nobody knows what the outlets pass, and a trial throws valves about.
#[derive(Clone, Debug)]
pub(crate) struct Windows {
    feeds: Vec<usize>,
    test_until_s: Vec<f64>,
    to_commission: BTreeSet<u8>,
    from_s: f64,
}

impl Windows {
    pub fn new(scenario: &Scenario) -> Self {
        let told = &scenario.told;
        let asked = |timed: &Timed| match timed.what {
            Happening::Command(Command::Commission { lift }) => Some(lift),
            _ => None,
        };
        Self {
            feeds: told.lifts.iter().map(|lift| usize::from(lift.to)).collect(),
            test_until_s: vec![f64::NEG_INFINITY; told.tanks.len()],
            to_commission: scenario.timeline.iter().filter_map(asked).collect(),
            from_s: f64::NEG_INFINITY,
        }
    }

    pub fn note(&mut self, moment: &Moment<'_>) {
        if let Some(found) = moment.commissioned {
            self.to_commission.remove(&found.lift);
            self.from_s = moment.time_s + SETTLING_S;
        }
        for (lift, tank) in moment.step.lifts.iter().zip(&self.feeds) {
            let after_s = match lift.state {
                LiftState::StoppedToMeasure => AFTER_STOP_S,
                state if is_commissioned(state) => SETTLING_S,
                _ => continue,
            };
            if let Some(until) = self.test_until_s.get_mut(*tank) {
                *until = until.max(moment.time_s + after_s);
            }
        }
    }

    /// The lift is to deliver its target, and the controller is not commissioning it.
    pub fn is_on_target(moment: &Moment<'_>, lift: usize) -> bool {
        moment.jobs.is_on_target(lift)
            && moment
                .step
                .lifts
                .get(lift)
                .is_some_and(|lift| !is_commissioned(lift.state))
    }

    /// The lift is to deliver its target and has had its time to settle.
    pub fn is_settled(moment: &Moment<'_>, lift: usize) -> bool {
        Self::is_on_target(moment, lift)
            && moment
                .jobs
                .lifts
                .get(lift)
                .is_some_and(|job| moment.time_s > job.changed_s + SETTLING_S)
    }

    /// As `is_settled`, and outside the test windows of its tank.
    pub fn counts(&self, moment: &Moment<'_>, lift: usize) -> bool {
        let until = self.feeds.get(lift).and_then(|tank| self.test_until_s.get(*tank));
        Self::is_settled(moment, lift)
            && until.is_none_or(|until| moment.time_s > *until)
            && self.to_commission.is_empty()
            && moment.time_s > self.from_s
    }
}

/// Measured, or left standing for the measurement of another.
fn is_commissioned(state: LiftState) -> bool {
    matches!(state, LiftState::Commissioning | LiftState::WaitingForCommissioning)
}
