//! Readings with what belongs to them, for fits: one sample after the other, cut wherever the next does not follow from the one before.

use super::entry::{Entry, HostInstallation, HostReadingsRecord, HostRecord, HostStepRecord, What};
use super::error::LogError;
use risertrim::record::{Began, CommandRecord};
use std::rc::Rc;

/// Why a sample does not follow from the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stretch {
    /// The first of the log.
    First,
    /// The controller was restarted.
    Restarted,
    /// The installation was exchanged, or a trial changed it.
    Renewed,
    /// Records are missing: damaged, lost, or never written.
    Missing,
    /// The counter went back, or another log begins.
    ClockBroken,
}

/// Readings and what belongs to them.
#[derive(Clone, Debug)]
pub struct Sample {
    /// Time of records since the beginning of the log, s.
    pub time_s: f64,
    /// Time since the sample before, s; `None` at the beginning of a stretch.
    pub since_s: Option<f64>,
    /// Why a stretch begins here; `None` inside one.
    pub begins: Option<Stretch>,
    /// Which start of the controller it belongs to.
    pub session: u32,
    /// The readings. With `over` above 1 they are a mean over that many steps up to this moment.
    pub readings: HostReadingsRecord,
    /// The step made from them, when it was recorded: openings, airs, believed levels and flows.
    pub step: Option<Box<HostStepRecord>>,
    /// The last step recorded since the sample before that was made from readings that are not in the log, with its time since the
    /// beginning of the log, s: plans that thin readings out record steps in between.
    pub step_between: Option<(f64, Box<HostStepRecord>)>,
    /// Commands since the sample before that were taken.
    pub commands: Vec<CommandRecord>,
    /// The installation in force; `None` when the log has not told it, or tells it as another version lays it out.
    pub installation: Option<Rc<HostInstallation>>,
}

/// See [`samples`].
#[derive(Debug)]
pub struct Samples<I> {
    entries: I,
    held: Option<Sample>,
    step_between: Option<(f64, Box<HostStepRecord>)>,
    begins: Option<Stretch>,
    last_s: f64,
    commands: Vec<CommandRecord>,
    installation: Option<Rc<HostInstallation>>,
    failed: bool,
}

/// The samples of a log: `samples(LogReader::open(file)?)`. Several files in a row: `samples(first.chain(second))`; each begins a new
/// stretch by its header.
pub fn samples<I: Iterator<Item = Result<Entry, LogError>>>(entries: I) -> Samples<I> {
    Samples {
        entries,
        held: None,
        step_between: None,
        begins: Some(Stretch::First),
        last_s: 0.0,
        commands: Vec::new(),
        installation: None,
        failed: false,
    }
}

impl<I: Iterator<Item = Result<Entry, LogError>>> Iterator for Samples<I> {
    type Item = Result<Sample, LogError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.failed {
            return None;
        }
        loop {
            let entry = match self.entries.next() {
                None => return self.held.take().map(Ok),
                Some(Err(error)) => {
                    self.failed = true;
                    return Some(Err(error));
                }
                Some(Ok(entry)) => entry,
            };
            if let Some(sample) = self.take(entry) {
                return Some(Ok(sample));
            }
        }
    }
}

impl<I> Samples<I> {
    /// Takes an entry in; gives the sample before when it is complete.
    fn take(&mut self, entry: Entry) -> Option<Sample> {
        if entry.time_broken {
            self.cut(Stretch::ClockBroken);
        }
        let time_s = entry.time_s();
        match entry.what {
            What::Record(HostRecord::Readings(readings)) => return self.hold(time_s, entry.session, readings),
            What::Record(HostRecord::Step(step)) => {
                if let Some(held) = &mut self.held
                    && held.readings.basis.now == step.basis.now
                {
                    held.step = Some(Box::new(step));
                } else {
                    self.step_between = Some((time_s, Box::new(step)));
                }
            }
            What::Record(HostRecord::Command(command)) if command.refused.is_none() => self.commands.push(command),
            What::Record(HostRecord::Header(header)) => match header.began {
                Began::Started(_) => self.cut(Stretch::Restarted),
                Began::Exchanged | Began::Measured => self.cut(Stretch::Renewed),
                Began::Repeated => {}
            },
            What::Record(HostRecord::Gap(_)) | What::Missing(_) => self.cut(Stretch::Missing),
            What::Stretch => self.cut(Stretch::ClockBroken),
            What::Installation { installation, .. } => {
                self.installation = installation.map(|installation| Rc::new(*installation));
            }
            What::Record(_) | What::Damaged(_) | What::Repeated(_) | What::Unknown => {}
        }
        None
    }

    /// The first cause counts: a restart is known before its counter is.
    fn cut(&mut self, cause: Stretch) {
        self.step_between = None;
        self.begins.get_or_insert(cause);
    }

    fn hold(&mut self, time_s: f64, session: u32, readings: HostReadingsRecord) -> Option<Sample> {
        let begins = self.begins.take();
        let since_s = begins.is_none().then_some(time_s - self.last_s);
        self.last_s = time_s;
        self.held.replace(Sample {
            time_s,
            since_s,
            begins,
            session,
            readings,
            step: None,
            step_between: self.step_between.take(),
            commands: std::mem::take(&mut self.commands),
            installation: self.installation.clone(),
        })
    }
}
