//! A person with a bucket and a stopwatch.

use super::gains::at_targets;
use super::pi::plain_step;
use crate::scenario::HostInstallation;
use crate::simulate::{Control, ControlFailed, HostReadings, HostStep};
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use risertrim::Command;
use risertrim::units::Opening;
use std::collections::VecDeque;

/// A bucket's mark and a thumb on a stopwatch together: the flow is read wrong by up to this share, drawn anew each time.
const BUCKET: f64 = 0.04;
/// Time a bucket fills, s.
const FILL_S: f64 = 60.0;
/// Wait after a valve was moved, s.
const WAIT_S: f64 = 120.0;
/// Largest move at a time, share of the stroke.
const MOST_MOVE: f64 = 0.15;
/// Tries at one lift before going on to the next.
const TRIES: u32 = 5;
/// Rounds over all lifts at most.
const ROUNDS: u32 = 10;
/// A week, s.
const WEEK_S: f64 = 7.0 * 86_400.0;

/// What the person does at the lift now.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Doing {
    Waiting { until_s: f64 },
    Filling { since_s: f64, litres: f64 },
}

/// Trims by hand: round after round over the lifts, each until the bucket agrees with the target within its own error, until
/// a whole round moved no valve.
#[derive(Clone, Debug)]
pub(super) struct HandTrim {
    told: HostInstallation,
    targets_m3_s: Vec<f64>,
    serves: Vec<bool>,
    openings: Vec<f64>,
    /// How strongly the flow answers, in shares of the flow a full stroke; the person learns it by moving the valve.
    answers: Vec<f64>,
    last: Vec<Option<(f64, f64)>>,
    queue: VecDeque<usize>,
    doing: Doing,
    tries: u32,
    round: u32,
    moved: bool,
    all: bool,
    weekly: bool,
    next_week_s: f64,
    seen_m3_s: Vec<f64>,
    now_s: f64,
    random: Pcg32,
}

impl HandTrim {
    /// From the openings that the told place calls for. `weekly`: again every week, and after each new target.
    pub fn new(told: &HostInstallation, seed: u64, weekly: bool) -> Self {
        let at = at_targets(told);
        let lifts = told.lifts.len();
        let target = |lift: &risertrim::installation::Lift| f64::from(lift.target.m3_s);
        Self {
            targets_m3_s: told.lifts.iter().map(target).collect(),
            serves: vec![true; lifts],
            openings: at.iter().map(|at| at.opening).collect(),
            answers: at
                .iter()
                .zip(&told.lifts)
                .map(|(at, lift)| at.gain_m3_s / target(lift).max(1e-9))
                .collect(),
            last: vec![None; lifts],
            queue: VecDeque::new(),
            doing: Doing::Waiting { until_s: 0.0 },
            tries: 0,
            round: 0,
            moved: false,
            all: false,
            weekly,
            next_week_s: WEEK_S,
            seen_m3_s: vec![0.0; lifts],
            now_s: 0.0,
            random: Pcg32::new(seed, 0x6275_636b_6574),
            told: told.clone(),
        }
    }

    /// Sets out to trim all lifts, beginning when `from_s` has come.
    pub fn trim_all(&mut self, from_s: f64) {
        self.queue = (0..self.openings.len()).collect();
        self.doing = Doing::Waiting { until_s: from_s };
        (self.tries, self.round, self.moved, self.all) = (0, 1, false, true);
    }

    /// True while there is something to trim.
    pub fn is_busy(&self) -> bool {
        !self.queue.is_empty()
    }

    /// Day one begins: the valves as they stand, the clock at zero.
    pub fn begin_day(&mut self) {
        self.now_s = 0.0;
        self.queue.clear();
        self.last.fill(None);
    }

    /// What runs from each lift's outlet at this moment, m3/s: what a bucket would catch.
    pub fn see_all(&mut self, flows_m3_s: &[f64]) {
        for (seen, flow) in self.seen_m3_s.iter_mut().zip(flows_m3_s) {
            *seen = *flow;
        }
    }

    fn work(&mut self, period_s: f64) {
        if self.weekly && self.now_s >= self.next_week_s {
            self.next_week_s += WEEK_S;
            self.trim_all(self.now_s);
        }
        let Some(lift) = self.queue.front().copied() else {
            return;
        };
        if !self.serves[lift] || self.targets_m3_s[lift] <= 0.0 {
            self.go_on();
            return;
        }
        match &mut self.doing {
            Doing::Waiting { until_s } if self.now_s >= *until_s => {
                self.doing = Doing::Filling {
                    since_s: self.now_s,
                    litres: 0.0,
                };
            }
            Doing::Waiting { .. } => {}
            Doing::Filling { since_s, litres } => {
                *litres += 1000.0 * period_s * self.seen_m3_s[lift];
                if self.now_s - *since_s >= FILL_S {
                    let flow = *litres / 1000.0 / (self.now_s - *since_s);
                    self.read_bucket(lift, flow);
                }
            }
        }
    }

    fn read_bucket(&mut self, lift: usize, flow_m3_s: f64) {
        let wrong = f64::from(self.random.next_u32()) / f64::from(u32::MAX) * 2.0 - 1.0;
        let read = flow_m3_s * (1.0 + BUCKET * wrong);
        let target = self.targets_m3_s[lift];
        self.tries += 1;
        if (read / target - 1.0).abs() <= BUCKET || self.tries > TRIES {
            self.go_on();
            return;
        }
        // What the last move did is known better than what the sheet says.
        let opening = self.openings[lift];
        if let Some((was_open, was_read)) = self.last[lift]
            && (opening - was_open).abs() > 0.01
            && read > 0.0
            && was_read > 0.0
        {
            let learned = (read / was_read).ln() / (opening - was_open);
            self.answers[lift] = learned.clamp(0.3 * self.answers[lift], 3.0 * self.answers[lift]);
        }
        self.last[lift] = Some((opening, read));
        let off = if read > 0.05 * target {
            (target / read).ln()
        } else {
            1.0
        };
        let step = (off / self.answers[lift].max(0.1)).clamp(-MOST_MOVE, MOST_MOVE);
        let limits = (
            f64::from(self.told.settings.least_opening),
            f64::from(self.told.settings.most_opening),
        );
        self.openings[lift] = (opening + step).clamp(limits.0, limits.1);
        self.moved = true;
        self.doing = Doing::Waiting {
            until_s: self.now_s + WAIT_S,
        };
    }

    /// To the next lift, or through the round again.
    fn go_on(&mut self) {
        self.queue.pop_front();
        self.tries = 0;
        self.doing = Doing::Waiting { until_s: self.now_s };
        if self.queue.is_empty() && self.all {
            if self.moved && self.round < ROUNDS {
                self.round += 1;
                self.moved = false;
                self.queue = (0..self.openings.len()).collect();
            } else {
                self.all = false;
            }
        }
    }
}

impl Control for HandTrim {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        match command {
            Command::Target { lift, flow } => {
                let lift = usize::from(lift);
                let Some(target) = self.targets_m3_s.get_mut(lift) else {
                    return Ok(());
                };
                *target = f64::from(flow.m3_s);
                if self.weekly && !self.queue.contains(&lift) {
                    self.queue.push_back(lift);
                }
            }
            Command::OutOfService { lift } | Command::Automatic { lift } => {
                if let Some(serves) = self.serves.get_mut(usize::from(lift)) {
                    *serves = matches!(command, Command::Automatic { .. });
                }
            }
            _ => {}
        }
        Ok(())
    }

    #[allow(clippy::cast_possible_truncation)] // openings
    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let period_s = 1e-3 * f64::from(self.told.settings.period_ms);
        self.now_s += period_s;
        self.work(period_s);
        let commands = self.openings.iter().map(|opening| Opening::new(*opening as f32));
        Ok(plain_step(readings.now, &self.told, commands, &self.seen_m3_s))
    }
}
