//! The same core over the logged readings and commands.

use super::difference::differences;
use super::entry::{Entry, HostInstallation, HostReadingsRecord, HostRecord, HostStepRecord, What};
use super::replay_outcome::{Exactness, FieldOutcome, ReplayOutcome, Uncompared};
use super::tuning::TuningError;
use crate::simulate::{HostController, HostReadings};
use risertrim::controller::Learned;
use risertrim::frame::fingerprint;
use risertrim::record::curves_version;
use risertrim::record::{Basis, Began, BlowerRecord, CommandRecord, GapRecord, Header, LiftRecord, TankRecord, sump};

/// What the controller of a replay is started with.
pub enum Start {
    /// The installation in the log.
    Logged,
    /// Another, whatever the log says.
    With(Box<HostInstallation>),
    /// The installation in the log with settings changed: `NAME=VALUE` each.
    Tuned(Vec<String>),
}

/// Reasons kept one by one.
const REASONS: usize = 20;
/// So many times longer than a period from one reading to the next, without a missing record, and the log may be thinned out.
const LATE_PERIODS: f64 = 1.5;
/// So many of these, and it is: a counter leaps now and then, but not that often.
const LATE_OFTEN: u32 = 3;

/// A replay that takes one entry after the other; memory does not grow with the log.
pub struct Replay {
    start: Start,
    controller: Option<HostController>,
    /// The header that waits for its installation.
    header: Option<Header>,
    /// The installation that waits to be started from.
    installation: Option<Box<HostInstallation>>,
    curves: u16,
    sump: u8,
    made: Option<HostStepRecord>,
    told_mean: bool,
    /// When the last readings came, and whether records are known to be missing since.
    last_s: Option<f64>,
    lost_since: bool,
    /// Readings that came late though no record is missing, since the start.
    late: u32,
    /// Why nothing is comparable from here to the next start.
    spoilt: Option<Uncompared>,
    outcome: ReplayOutcome,
}

impl Replay {
    /// Nothing replayed yet.
    #[must_use]
    pub fn new(start: Start) -> Self {
        Self {
            start,
            controller: None,
            header: None,
            installation: None,
            curves: 0,
            sump: 0,
            made: None,
            told_mean: false,
            last_s: None,
            lost_since: false,
            late: 0,
            spoilt: None,
            outcome: ReplayOutcome::default(),
        }
    }

    /// Takes the next entry of the log.
    ///
    /// # Errors
    /// The tuning asked for does not suit the installation in the log.
    pub fn take(&mut self, entry: &Entry) -> Result<(), TuningError> {
        let time_s = entry.time_s();
        self.outcome.span_s = time_s;
        self.lost_since |= entry.time_broken
            || matches!(
                &entry.what,
                What::Record(HostRecord::Gap(_)) | What::Missing(_) | What::Stretch | What::Damaged(_) | What::Unknown
            );
        match &entry.what {
            What::Record(HostRecord::Header(header)) => self.take_header(time_s, header),
            What::Installation { installation, .. } => self.take_installation(time_s, installation.as_deref())?,
            What::Record(HostRecord::Loaded(saved)) => self.begin(time_s, saved),
            What::Record(HostRecord::Readings(readings)) => self.take_readings(time_s, readings),
            What::Record(HostRecord::Step(step)) => self.compare(time_s, step),
            What::Record(HostRecord::Command(command)) => self.take_command(time_s, command),
            What::Record(HostRecord::Gap(GapRecord { records, .. })) => {
                self.inexact(time_s, format!("{records} records were lost by the writer"));
            }
            What::Missing(records) => self.inexact(time_s, format!("{records} records are missing")),
            What::Stretch => self.inexact(
                time_s,
                "another log, or a restart whose header is lost, begins".to_owned(),
            ),
            What::Unknown => self.inexact(time_s, "a record is not known to this version".to_owned()),
            What::Damaged(_) | What::Repeated(_) | What::Record(_) => {}
        }
        Ok(())
    }

    /// What came of it, and what it was started with.
    #[must_use]
    pub fn finish(self) -> (ReplayOutcome, Start) {
        (self.outcome, self.start)
    }

    fn inexact(&mut self, time_s: f64, why: String) {
        if self.outcome.inexact.len() < REASONS {
            self.outcome.inexact.push(Exactness { time_s, why });
        } else {
            self.outcome.more_inexact += 1;
        }
    }

    fn take_header(&mut self, time_s: f64, header: &Header) {
        let firmware = String::from_utf8_lossy(&header.firmware).into_owned();
        if self.outcome.firmware.last() != Some(&firmware) {
            self.outcome.firmware.push(firmware);
        }
        if let Began::Started(_) = header.began {
            self.controller = None;
            self.made = None;
            self.spoilt = None;
            self.late = 0;
            self.last_s = None;
        } else if self.outcome.starts == 0 && self.header.is_none() {
            self.inexact(
                time_s,
                "the log begins in the middle: what the controller knew by then is not in it".to_owned(),
            );
        }
        self.header = Some(header.clone());
    }

    fn take_installation(&mut self, time_s: f64, logged: Option<&HostInstallation>) -> Result<(), TuningError> {
        let installation = match (&self.start, logged) {
            (Start::With(installation), _) => Some(installation.clone()),
            (Start::Logged, logged) => logged.cloned().map(Box::new),
            (Start::Tuned(changes), Some(logged)) => Some(Box::new(super::tuned(logged, changes)?)),
            (Start::Tuned(_), None) => None,
        };
        let Some(installation) = installation else {
            self.inexact(
                time_s,
                "the installation is laid out as by another version: give one by --installation".to_owned(),
            );
            return Ok(());
        };
        match self.header.as_ref().map(|header| header.began) {
            Some(Began::Exchanged) if !matches!(self.start, Start::With(_)) => {
                let refused = self
                    .controller
                    .as_mut()
                    .is_some_and(|controller| controller.exchange(&installation).is_err());
                if refused {
                    self.inexact(time_s, "the installation exchanged here is refused now".to_owned());
                }
                self.note_curves(&installation);
            }
            Some(Began::Measured) if matches!(self.start, Start::Logged) => {
                self.compare_measured(time_s, &installation)
            }
            Some(Began::Exchanged | Began::Measured | Began::Repeated) if self.controller.is_some() => {}
            _ => self.installation = Some(installation),
        }
        Ok(())
    }

    /// What a trial changed then is compared with what it changed now; from here on the logged is used.
    fn compare_measured(&mut self, time_s: f64, installation: &HostInstallation) {
        let Some(controller) = &mut self.controller else { return };
        if fingerprint(controller.installation()) != fingerprint(installation) {
            let taken = controller.exchange(installation).is_ok();
            self.inexact(
                time_s,
                format!(
                    "a trial found something else then than now{}",
                    if taken {
                        "; what it found then is used from here on"
                    } else {
                        ""
                    }
                ),
            );
        }
        self.note_curves(installation);
    }

    fn note_curves(&mut self, installation: &HostInstallation) {
        self.curves = curves_version(installation);
        self.sump = sump(installation.tanks.len(), &installation.lifts);
    }

    /// Starts the controller on the installation that waits.
    fn begin(&mut self, time_s: f64, saved: &[Learned]) {
        let Some(installation) = self.installation.take() else {
            return;
        };
        self.note_curves(&installation);
        match HostController::new(&installation, saved) {
            Ok(controller) => {
                self.controller = Some(controller);
                self.outcome.starts += 1;
            }
            Err(faults) => {
                let faults: Vec<String> = faults.named().iter().map(ToString::to_string).collect();
                self.inexact(
                    time_s,
                    format!("the installation is refused now: {}", faults.join("; ")),
                );
            }
        }
    }

    fn take_readings(&mut self, time_s: f64, record: &HostReadingsRecord) {
        if record.over > 1 {
            self.spoilt.get_or_insert(Uncompared::MeansOnly);
            if !self.told_mean {
                self.told_mean = true;
                self.inexact(
                    time_s,
                    format!(
                        "readings are means over {} steps: a replay needs those of every step",
                        record.over
                    ),
                );
            }
            return;
        }
        if self.installation.is_some() {
            // The record of what the controller was given is lost, or the log begins in the middle.
            if self
                .header
                .as_ref()
                .is_some_and(|header| matches!(header.began, Began::Started(_)))
            {
                self.inexact(time_s, "what the controller was given at its start is lost".to_owned());
            }
            self.begin(time_s, &[]);
        }
        self.note_pace(time_s);
        let Some(controller) = &mut self.controller else { return };
        let mut readings = HostReadings {
            now: record.basis.now,
            levels: heapless::Vec::new(),
            manifold: record.manifold.reading(),
        };
        for level in &record.levels {
            // As many places in a record as in readings.
            let _ = readings.levels.push(level.reading());
        }
        let step = controller.step(&readings);
        let _ = controller.take_outcome();
        self.outcome.steps += 1;
        self.made = Some(HostStepRecord {
            basis: Basis::of(&step, self.curves, self.sump),
            step_ms: step.step_ms,
            lifts: step.lifts.iter().map(LiftRecord::of).collect(),
            tanks: step.tanks.iter().map(TankRecord::of).collect(),
            blower: BlowerRecord::of(&step.blower),
            backup_min: step.backup_min,
        });
    }

    /// A log that keeps only what changed shows by readings that come late though no record is missing.
    fn note_pace(&mut self, time_s: f64) {
        let period_s = self.header.as_ref().map(|header| f64::from(header.period_ms) * 1e-3);
        let since_s = self.last_s.replace(time_s).map(|last| time_s - last);
        let lost = std::mem::take(&mut self.lost_since);
        if let (Some(period_s), Some(since_s)) = (period_s, since_s)
            && !lost
            && since_s > LATE_PERIODS * period_s
        {
            self.late += 1;
            if self.late >= LATE_OFTEN {
                self.thinned(time_s);
            }
        }
    }

    fn thinned(&mut self, time_s: f64) {
        if self.spoilt.is_none() {
            self.spoilt = Some(Uncompared::ReadingsThinned);
            self.inexact(
                time_s,
                "the log keeps only readings that changed: a replay needs those of every step".to_owned(),
            );
        }
    }

    fn compare(&mut self, time_s: f64, logged: &HostStepRecord) {
        let made = self.made.take().filter(|made| made.basis.now == logged.basis.now);
        if let Some(made) = &made
            && self.late > 0
            && made.step_ms > logged.step_ms
        {
            self.thinned(time_s);
        }
        let why = match (&made, self.spoilt) {
            (_, Some(why)) => why,
            (None, None) if self.controller.is_none() => Uncompared::NoController,
            (None, None) => Uncompared::NoReadings,
            (Some(made), None) => return self.compare_with(time_s, logged, made),
        };
        *self.outcome.uncompared.entry(why).or_default() += 1;
    }

    fn compare_with(&mut self, time_s: f64, logged: &HostStepRecord, made: &HostStepRecord) {
        let found = differences(logged, made);
        let outcome = &mut self.outcome;
        outcome.compared += 1;
        if found.is_empty() {
            outcome.equal += 1;
            return;
        }
        if outcome.first.is_empty() {
            outcome.first.clone_from(&found);
            outcome.first_s = time_s;
        }
        for difference in found {
            let apart = difference.apart().unwrap_or(0.0);
            let field = outcome.fields.entry(difference.field).or_insert(FieldOutcome {
                steps: 0,
                first_s: time_s,
                first: difference,
                widest: (time_s, difference),
                squares: 0.0,
            });
            field.steps += 1;
            field.squares += apart * apart;
            if apart > field.widest.1.apart().unwrap_or(0.0) {
                field.widest = (time_s, difference);
            }
        }
    }

    fn take_command(&mut self, time_s: f64, logged: &CommandRecord) {
        let Some(controller) = &mut self.controller else { return };
        let now = controller.command(logged.command).err();
        if now == logged.refused {
            return;
        }
        let word = |refused: Option<risertrim::command::Refused>| {
            refused.map_or_else(|| "taken".to_owned(), |why| format!("refused ({why})"))
        };
        let text = format!(
            "{}: then {}, now {}",
            super::words::command_words(logged, &crate::names::Names::default()),
            word(logged.refused),
            word(now)
        );
        if self.outcome.commands.len() < REASONS {
            self.outcome.commands.push((time_s, text));
        }
    }
}
