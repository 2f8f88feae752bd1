//! How long a lift takes to reach its target.

use super::jobs::Job;

/// Within this share of the target counts as there.
const BAND: f64 = 0.05;
/// It must stay there this long, s.
const STAY_S: f64 = 120.0;

/// Follows a lift from each change of its target or service until it is there to stay.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Settle {
    /// The change whose settling is followed, by its time.
    under_way: Option<f64>,
    /// No flow was asked for until then, s.
    idle_until_s: f64,
    since_s: Option<f64>,
    entered_s: Option<f64>,
    longest_s: Option<f64>,
    /// The longest was cut short by the next change or the end.
    cut_short: bool,
}

impl Settle {
    /// One moment. `on_target`: a flow is asked of the lift now.
    pub fn note(&mut self, now_s: f64, job: &Job, on_target: bool, flow_m3_s: f64) {
        if !on_target || job.target_m3_s <= 0.0 {
            self.since_s = None;
            self.under_way = None;
            self.idle_until_s = now_s;
            return;
        }
        if self.under_way != Some(job.changed_s) {
            if let Some(since_s) = self.since_s {
                self.keep(now_s - since_s, true);
            }
            self.under_way = Some(job.changed_s);
            self.since_s = Some(job.changed_s.max(self.idle_until_s));
            self.entered_s = None;
        }
        let Some(since_s) = self.since_s else { return };
        if (flow_m3_s - job.target_m3_s).abs() > BAND * job.target_m3_s {
            self.entered_s = None;
            return;
        }
        let entered_s = *self.entered_s.get_or_insert(now_s);
        if now_s - entered_s >= STAY_S {
            self.keep(entered_s - since_s, false);
            self.since_s = None;
        }
    }

    /// The longest time, s, and whether it was cut short while the lift was still on its way. `None`: never asked for a flow.
    pub fn longest(&self, now_s: f64) -> Option<(f64, bool)> {
        let mut all = *self;
        if let Some(since_s) = self.since_s {
            all.keep(now_s - since_s, true);
        }
        all.longest_s.map(|longest_s| (longest_s, all.cut_short))
    }

    fn keep(&mut self, took_s: f64, cut_short: bool) {
        if self.longest_s.is_none_or(|longest_s| took_s > longest_s) {
            self.longest_s = Some(took_s);
            self.cut_short = cut_short;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(target_m3_s: f64, changed_s: f64) -> Job {
        Job {
            target_m3_s,
            automatic: true,
            in_service: true,
            shut_by_hand: false,
            changed_s,
        }
    }

    /// Runs the flow `flow(now)` against `job(now)` for `seconds`.
    fn settle(seconds: u32, job: impl Fn(f64) -> Job, flow: impl Fn(f64) -> f64) -> Option<(f64, bool)> {
        let mut settle = Settle::default();
        for now in 1..=seconds {
            let now = f64::from(now);
            let job = job(now);
            settle.note(now, &job, job.serves(), flow(now));
        }
        settle.longest(f64::from(seconds))
    }

    #[test]
    fn a_passing_crossing_is_not_yet_settled() {
        // Overshoots through the band from 100 to 160 s, is there for good from 300 s.
        let flow = |now: f64| {
            if (100.0..160.0).contains(&now) || now >= 300.0 {
                1.0
            } else {
                1.2
            }
        };
        assert_eq!(settle(1000, |_| job(1.0, 0.0), flow), Some((300.0, false)));
    }

    #[test]
    fn the_longest_of_several_changes_is_kept() {
        let order = |now: f64| if now < 500.0 { job(1.0, 0.0) } else { job(2.0, 500.0) };
        let flow = |now: f64| {
            if now < 500.0 {
                1.0
            } else {
                2.0_f64.min(1.001 + (now - 500.0) / 100.0)
            }
        };
        // From 1.001 it takes 90 s to pass 1.9, 5 % below 2.
        assert_eq!(settle(1000, order, flow), Some((90.0, false)));
    }

    #[test]
    fn a_lift_that_never_gets_there_has_the_whole_time_and_a_mark() {
        assert_eq!(settle(1000, |_| job(1.0, 0.0), |_| 0.9), Some((1000.0, true)));
    }
}
