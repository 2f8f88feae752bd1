//! What happens when.

use crate::scenario::{Scenario, Timed};

/// Seconds in a day.
const DAY_S: f64 = 86_400.0;
/// Rounding of a sum of periods, s.
const ROUNDING_S: f64 = 1e-6;

/// Hands out what is due, in order of time and, at one time, in the order of the scenario.
#[derive(Clone, Debug)]
pub(super) struct Timeline {
    due: Vec<Due>,
    next_s: f64,
}

#[derive(Clone, Copy, Debug)]
struct Due {
    at_s: f64,
    entry: usize,
}

impl Timeline {
    pub fn new(scenario: &Scenario) -> Self {
        let entries = scenario.timeline.iter().enumerate();
        let due = entries
            .map(|(entry, timed)| Due {
                at_s: timed.at_s,
                entry,
            })
            .collect();
        let mut timeline = Self { due, next_s: 0.0 };
        timeline.find_next();
        timeline
    }

    /// The next entry due at `now_s` or before; `None` when there is no more for now.
    pub fn take(&mut self, now_s: f64, timeline: &[Timed]) -> Option<usize> {
        if self.next_s > now_s + ROUNDING_S {
            return None;
        }
        let first = self.first()?;
        let due = self.due.get_mut(first)?;
        let entry = due.entry;
        if timeline.get(entry).is_some_and(|timed| timed.repeats_daily) {
            due.at_s += DAY_S;
        } else {
            due.at_s = f64::INFINITY;
        }
        self.find_next();
        Some(entry)
    }

    /// Position of the earliest; the first of the scenario among equals.
    fn first(&self) -> Option<usize> {
        let entries = self.due.iter().enumerate();
        entries
            .min_by(|(_, a), (_, b)| a.at_s.total_cmp(&b.at_s))
            .map(|(position, _)| position)
    }

    fn find_next(&mut self) {
        let first = self.first().and_then(|position| self.due.get(position));
        self.next_s = first.map_or(f64::INFINITY, |due| due.at_s);
    }
}
