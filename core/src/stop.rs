//! Scheduled short stops: the only way to tell apart lifts that feed the same tank.
//!
//! Their sum is all that steady levels show, and small nudges show the slope of a curve, not its height. With one lift below its
//! onset (air still on) the other's flow stands alone for a few minutes; then the first is the rest of the sum.

use crate::time::Held;

/// Shortest stop, s: the stopped lift's flow must have died away and the level have followed.
const LEAST_STOP_S: u32 = 90;
/// Time after a stop in which the lifts go back to what they were, s.
const FRESH_FOR_S: u32 = 120;
/// Settling time before the first stop, s.
const FIRST_AFTER_S: u32 = 600;

/// Plans the stops of one installation.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StopPlan {
    waited: Held,
    running: Option<u8>,
    ran: Held,
    next: u8,
    made: u32,
    since_end: Held,
}

impl Default for StopPlan {
    fn default() -> Self {
        Self::NONE
    }
}

impl StopPlan {
    /// A plan that has not begun.
    pub const NONE: Self = Self {
        waited: Held::NONE,
        running: None,
        ran: Held::NONE,
        next: 0,
        made: 0,
        since_end: Held::LONG,
    };

    /// The lift that is stopped just now.
    #[must_use]
    pub fn running(&self) -> Option<usize> {
        self.running.map(usize::from)
    }

    /// Something makes it doubtful what each gives: every lift is stopped once more, as at first.
    pub fn again(&mut self) {
        self.made = 0;
    }

    /// True once a stop has run long enough to tell.
    #[must_use]
    pub fn has_told(&self) -> bool {
        self.ran.reached_s(LEAST_STOP_S)
    }

    /// True during a stop and for two minutes after it: airs change then, but only to come back to what they were, so what is
    /// known of each lift stays known.
    #[must_use]
    pub fn is_fresh(&self) -> bool {
        self.running.is_some() || !self.since_end.reached_s(FRESH_FOR_S)
    }

    /// One step. `may_stop(lift)` says which lifts may be stopped now; `count` is the number of lifts.
    ///
    /// The first stops of every lift follow each other after ten minutes each, then one every `every_s`. A stop ends
    /// early when it has told enough (`told`, not before a minute and a half), or when its lift may no longer be stopped.
    pub fn advance(
        &mut self,
        count: usize,
        (every_s, for_s): (u32, u32),
        step_ms: u32,
        told: bool,
        may_stop: &dyn Fn(usize) -> bool,
    ) {
        if let Some(lift) = self.running {
            self.ran.add(step_ms);
            let done = told && self.ran.reached_s(LEAST_STOP_S);
            if done || self.ran.reached_s(for_s) || !may_stop(usize::from(lift)) {
                self.running = None;
                self.since_end = Held::NONE;
                self.waited.clear();
                self.next = lift.saturating_add(1);
                self.made = self.made.saturating_add(1);
            }
            return;
        }
        self.waited.add(step_ms);
        self.since_end.add(step_ms);
        let candidates = (0..count).filter(|lift| may_stop(*lift)).count();
        if candidates == 0 || every_s == 0 {
            return;
        }
        let early = self.made < u32::try_from(candidates).unwrap_or(u32::MAX);
        let wait = if early { FIRST_AFTER_S } else { every_s };
        if self.waited.reached_s(wait) {
            let next = usize::from(self.next);
            let after = (next..count).chain(0..count).find(|lift| may_stop(*lift));
            self.running = after.and_then(|lift| u8::try_from(lift).ok());
            self.ran.clear();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stops_alternate_and_come_early_first() {
        let mut plan = StopPlan::default();
        let mut starts = heapless::Vec::<(u32, usize), 16>::new();
        let mut before = None;
        for second in 0..30_000u32 {
            plan.advance(3, (10_000, 300), 1000, false, &|lift| lift != 1);
            if plan.running() != before {
                if let Some(lift) = plan.running() {
                    starts.push((second, lift)).unwrap();
                }
                before = plan.running();
            }
        }
        let lifts: heapless::Vec<usize, 16> = starts.iter().map(|(_, lift)| *lift).collect();
        assert_eq!(lifts.as_slice(), [0, 2, 0, 2]);
        assert!(starts.iter().zip(starts.iter().skip(1)).all(|(a, b)| b.0 - a.0 >= 600));
    }

    #[test]
    fn a_stop_ends_at_once_when_it_may_no_longer_be() {
        let mut plan = StopPlan::default();
        for _ in 0..=600u32 {
            plan.advance(2, (10_000, 300), 1000, false, &|_| true);
        }
        assert!(plan.running().is_some());
        plan.advance(2, (10_000, 300), 1000, false, &|_| false);
        assert_eq!(plan.running(), None);
    }

    #[test]
    fn a_stop_that_has_told_enough_ends_after_a_minute_and_a_half() {
        let mut plan = StopPlan::default();
        let mut stopped = 0u32;
        for _ in 0..2000u32 {
            plan.advance(2, (100_000, 300), 1000, true, &|lift| lift == 0);
            stopped += u32::from(plan.running().is_some());
        }
        assert_eq!(stopped, 90);
    }

    #[test]
    fn lifts_of_which_it_is_doubtful_what_they_give_are_stopped_once_more_at_once() {
        let mut plan = StopPlan::default();
        let mut step = |doubtful: bool, seconds: u32| {
            let mut stopped = 0u32;
            if doubtful {
                plan.again();
            }
            for _ in 0..seconds {
                let before = plan.running();
                plan.advance(2, (100_000, 300), 1000, true, &|_| true);
                stopped += u32::from(before.is_none() && plan.running().is_some());
            }
            stopped
        };
        assert_eq!(step(false, 4000), 2);
        assert_eq!(step(false, 4000), 0);
        assert_eq!(step(true, 1000), 2);
    }
}
