//! Sums over the running year: flows, beliefs, factors when clean, alarms.

use super::year::{AlarmCount, Year};
use crate::scenario::Scenario;
use crate::simulate::{Moment, subject_name};
use risertrim::alarm::Subject;
use risertrim::step::LiftState;

/// Sums of the running year.
#[derive(Clone, Debug, Default)]
pub struct Sums {
    flow: Vec<(f64, f64)>,
    belief: Vec<f64>,
    clean: Vec<(f64, u32)>,
    alarms: Vec<Tally>,
}

/// One alarm in the running year.
#[derive(Clone, Debug)]
struct Tally {
    kind: &'static str,
    subject: Subject,
    stands: bool,
    times: u32,
    today: u32,
    most_a_day: u32,
}

impl Sums {
    pub fn new(lifts: usize) -> Self {
        Self {
            flow: vec![(0.0, 0.0); lifts],
            belief: vec![0.0; lifts],
            clean: vec![(0.0, 0); lifts],
            alarms: Vec::new(),
        }
    }

    /// Looks at flows and beliefs of lifts that are trimmed.
    pub fn look(&mut self, moment: &Moment<'_>) {
        let moments = moment
            .truth
            .lifts
            .iter()
            .zip(&moment.step.lifts)
            .zip(&moment.jobs.lifts);
        for (((truth, lift), job), (flow, belief)) in moments.zip(self.flow.iter_mut().zip(&mut self.belief)) {
            let trimmed = matches!(lift.state, LiftState::Holding | LiftState::Trimming);
            if trimmed && job.serves() && job.target_m3_s > 0.0 {
                flow.0 += truth.water_m3_s / job.target_m3_s - 1.0;
                flow.1 += 1.0;
                *belief += (f64::from(lift.flow.m3_s) - truth.water_m3_s) / job.target_m3_s;
            }
        }
    }

    /// Counts alarms that come up.
    pub fn note_alarms(&mut self, moment: &Moment<'_>) {
        let standing = || moment.step.alarms.iter().filter(|alarm| alarm.stands());
        for tally in &mut self.alarms {
            let stands = standing().any(|now| now.kind.name() == tally.kind && now.subject == tally.subject);
            if stands && !tally.stands {
                tally.times += 1;
                tally.today += 1;
                tally.most_a_day = tally.most_a_day.max(tally.today);
            }
            tally.stands = stands;
        }
        for now in standing() {
            let (kind, subject) = (now.kind.name(), now.subject);
            if !self
                .alarms
                .iter()
                .any(|tally| tally.kind == kind && tally.subject == subject)
            {
                self.alarms.push(Tally {
                    kind,
                    subject,
                    stands: true,
                    times: 1,
                    today: 1,
                    most_a_day: 1,
                });
            }
        }
    }

    /// The year so far.
    pub fn year(&self, year: u32, wraps: u32, scenario: &Scenario) -> Year {
        let mean = |sum: f64, count: f64| if count > 0.0 { 100.0 * sum / count } else { 0.0 };
        Year {
            year,
            flow_error_percent: self.flow.iter().map(|(sum, count)| mean(*sum, *count)).collect(),
            belief_error_percent: self
                .belief
                .iter()
                .zip(&self.flow)
                .map(|(sum, (_, count))| mean(*sum, *count))
                .collect(),
            factor_when_clean: self
                .clean
                .iter()
                .map(|(sum, count)| (*count > 0).then(|| sum / f64::from(*count)))
                .collect(),
            alarms: self
                .alarms
                .iter()
                .filter(|tally| tally.times > 0)
                .map(|tally| AlarmCount {
                    kind: tally.kind,
                    subject: subject_name(tally.subject, scenario),
                    times: tally.times,
                    most_a_day: tally.most_a_day,
                })
                .collect(),
            wraps,
        }
    }

    /// Takes in the factor that a clean lift has learned.
    pub fn note_clean(&mut self, lift: usize, factor: f64) {
        if let Some(clean) = self.clean.get_mut(lift) {
            clean.0 += factor;
            clean.1 += 1;
        }
    }

    /// The next day begins.
    pub fn next_day(&mut self) {
        self.alarms.iter_mut().for_each(|tally| tally.today = 0);
    }

    /// The next year begins: what stands goes on standing.
    pub fn next_year(&mut self) {
        let mut alarms = std::mem::take(&mut self.alarms);
        alarms.retain(|tally| tally.stands);
        for tally in &mut alarms {
            (tally.times, tally.today, tally.most_a_day) = (0, 0, 0);
        }
        *self = Self::new(self.flow.len());
        self.alarms = alarms;
    }
}
