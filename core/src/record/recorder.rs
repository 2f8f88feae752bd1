//! Decides what is worth a record, and writes it.

use super::basis::low_half;
use super::kinds::gather;
use super::mean::Mean;
use super::moved::{Checks, changed_state, step_moved};
use super::standing::Before;
use super::{
    AirReference, Basis, Began, BlowerRecord, CommandRecord, Commissioned, FORMAT, GapCause, GapRecord, Header,
    InstallationMark, LAYOUT, LearnedRecord, LiftRecord, Logged, MAGIC, Pace, Plan, ReadingsRecord, Record, Sink,
    StepRecord, TankRecord, ValveRecord, sump,
};
use crate::command::Command;
use crate::commission::Outcome;
use crate::controller::{Controller, Learned};
use crate::frame::{encode, fingerprint};
use crate::installation::Installed;
use crate::step::{Readings, Step};
use crate::time::{Held, Millis};
use serde::Serialize;

/// Turns what a controller does into frames. `ROOM` is the longest frame it can write: an installation of eight lifts and nine
/// tanks takes up to 2 KiB, of three lifts half of that; every other record less than 600 bytes.
///
/// ```
/// # use risertrim::record::{Began, Plan, Recorder, ResetCause, Sink};
/// # use risertrim::{Controller, Installation, Readings};
/// # fn run(installation: &Installation<2, 3>, mut read: impl FnMut() -> Readings<3>, log: &mut impl Sink) {
/// let Ok(mut controller) = Controller::<2, 3>::new(installation, &[]) else { return };
/// let mut recorder = Recorder::<2, 3, 2048>::new(Plan::USUAL, "my board 1.0");
/// recorder.begin(Began::Started(ResetCause::PowerOn), controller.installation(), &[], log);
/// loop {
///     let readings = read();
///     let step = controller.step(&readings);
///     recorder.step(&readings, &step, &controller, log);
/// #   break;
/// }
/// # }
/// ```
#[derive(Clone, Debug)]
pub struct Recorder<const LIFTS: usize, const TANKS: usize, const ROOM: usize> {
    plan: Plan,
    firmware: &'static str,
    number: u16,
    basis: Basis,
    sump: u8,
    since_readings: Held,
    since_step: Held,
    since_learned: Held,
    since_header: Held,
    mean: Mean<TANKS>,
    checks: Checks<TANKS>,
    recorded: Option<StepRecord<LIFTS, TANKS>>,
    alarms: Before,
    missing: u32,
    cause: GapCause,
    room: [u8; ROOM],
}

impl<const LIFTS: usize, const TANKS: usize, const ROOM: usize> Recorder<LIFTS, TANKS, ROOM> {
    /// Nothing recorded yet. Of the name of the firmware the first 24 bytes are kept.
    #[must_use]
    pub const fn new(plan: Plan, firmware: &'static str) -> Self {
        Self {
            plan,
            firmware,
            number: 0,
            basis: Basis {
                now: Millis(0),
                curves: 0,
                air: AirReference::Kpa100C20,
                seen: None,
            },
            sump: 0,
            since_readings: Held::LONG,
            since_step: Held::LONG,
            since_learned: Held::NONE,
            since_header: Held::NONE,
            mean: Mean::NONE,
            checks: Checks::NONE,
            recorded: None,
            alarms: Before::NONE,
            missing: 0,
            cause: GapCause::SinkFull,
            room: [0; ROOM],
        }
    }

    /// Records missing since the last that was taken.
    #[must_use]
    pub fn missing(&self) -> u32 {
        self.missing
    }

    /// The controller starts, its installation was exchanged, or a trial changed it: header, installation, and at a start what it
    /// was given of what the lifts had learned.
    pub fn begin(
        &mut self,
        began: Began,
        installation: &Installed<LIFTS, TANKS>,
        saved: &[Learned],
        sink: &mut impl Sink,
    ) {
        if let Began::Started(_) = began {
            self.basis.seen = None;
            self.recorded = None;
            self.alarms = Before::NONE;
            self.mean = Mean::NONE;
            (self.since_readings, self.since_step) = (Held::LONG, Held::LONG);
        }
        self.write_header(began, installation, sink);
        if let Began::Started(_) = began {
            let lifts = gather(saved.iter().copied());
            self.write(&Record::Loaded(lifts), sink);
        }
    }

    /// One step was made from these readings. Besides them it records what is due: alarms, what was learned, the header again.
    pub fn step(
        &mut self,
        readings: &Readings<TANKS>,
        step: &Step<LIFTS, TANKS>,
        controller: &Controller<LIFTS, TANKS>,
        sink: &mut impl Sink,
    ) {
        self.basis = Basis::of(step, self.basis.curves, self.sump);
        for since in [
            &mut self.since_readings,
            &mut self.since_step,
            &mut self.since_learned,
            &mut self.since_header,
        ] {
            since.add(step.step_ms);
        }
        if sink.wants_header() || due(self.since_header, self.plan.header_every_s) {
            self.write_header(Began::Repeated, controller.installation(), sink);
        }
        self.readings(readings, step, sink);
        self.decisions(step, sink);
        let mut alarms = core::mem::replace(&mut self.alarms, Before::NONE);
        alarms.renew(self.basis, &step.alarms, |alarm| {
            self.write(&Record::Alarm(alarm), sink)
        });
        self.alarms = alarms;
        if due(self.since_learned, self.plan.learned_every_s) {
            self.since_learned.clear();
            let (basis, lifts) = (self.basis, controller.learned());
            self.write(&Record::Learned(LearnedRecord { basis, lifts }), sink);
        }
    }

    /// A command was given, and taken or refused.
    pub fn command(&mut self, command: Command, answer: Result<(), crate::command::Refused>, sink: &mut impl Sink) {
        let record = CommandRecord {
            basis: self.basis,
            command,
            refused: answer.err(),
        };
        self.write(&Record::Command(record), sink);
    }

    /// A trial ended; when it changed something, the changed installation of the controller follows.
    pub fn commissioned(&mut self, outcome: &Outcome, installation: &Installed<LIFTS, TANKS>, sink: &mut impl Sink) {
        self.write(&Record::Commissioned(Commissioned::of(self.basis, outcome)), sink);
        if outcome.outlet_law.is_ok() || outcome.curve.is_ok() {
            self.begin(Began::Measured, installation, &[], sink);
        }
    }

    /// A valve could not be driven (false), or can be again (true).
    pub fn valve(&mut self, lift: u8, driven: bool, sink: &mut impl Sink) {
        let basis = self.basis;
        self.write(&Record::Valve(ValveRecord { basis, lift, driven }), sink);
    }

    /// The wall clock is known, in seconds since 1970-01-01 00:00 UTC.
    pub fn clock(&mut self, now: Millis, unix_s: u64, sink: &mut impl Sink) {
        self.write(&Record::Clock { now, unix_s }, sink);
    }

    fn write_header(&mut self, began: Began, installation: &Installed<LIFTS, TANKS>, sink: &mut impl Sink) {
        self.since_header.clear();
        let fingerprint = fingerprint(installation).unwrap_or_default();
        self.basis.curves = low_half(fingerprint);
        self.sump = sump(installation.tanks.len(), &installation.lifts);
        let count = |length: usize| u8::try_from(length).unwrap_or(u8::MAX);
        let header = Header {
            magic: MAGIC,
            format: FORMAT,
            began,
            firmware: gather(self.firmware.bytes()),
            fingerprint,
            period_ms: installation.settings.period_ms,
            lifts: count(installation.lifts.len()),
            tanks: count(installation.tanks.len()),
            air: AirReference::Kpa100C20,
        };
        self.write(&Record::Header(header), sink);
        let mark = InstallationMark {
            layout: LAYOUT,
            fingerprint,
        };
        self.put(&(Record::<LIFTS, TANKS>::Installation(mark), installation), sink);
    }

    fn readings(&mut self, readings: &Readings<TANKS>, step: &Step<LIFTS, TANKS>, sink: &mut impl Sink) {
        let (over, levels, manifold) = match self.plan.readings {
            Pace::Never => return,
            Pace::Every { seconds } => {
                self.mean.add(readings);
                if !due(self.since_readings, u32::from(seconds)) {
                    return;
                }
                self.mean.take()
            }
            Pace::EveryStep => as_read(readings),
            Pace::OnChange { at_least_every_s } => {
                let checks = Checks::of(step);
                let moved = self.checks.moved(&checks, &self.plan.change);
                if !moved && !due(self.since_readings, u32::from(at_least_every_s)) {
                    return;
                }
                self.checks = checks;
                as_read(readings)
            }
        };
        self.since_readings.clear();
        let basis = self.basis;
        let record = ReadingsRecord {
            basis,
            over,
            levels,
            manifold,
        };
        self.write(&Record::Readings(record), sink);
    }

    fn decisions(&mut self, step: &Step<LIFTS, TANKS>, sink: &mut impl Sink) {
        if self.plan.steps == Pace::Never {
            return;
        }
        let record = StepRecord {
            basis: self.basis,
            step_ms: step.step_ms,
            lifts: gather(step.lifts.iter().map(LiftRecord::of)),
            tanks: gather(step.tanks.iter().map(TankRecord::of)),
            blower: BlowerRecord::of(&step.blower),
            backup_min: step.backup_min,
        };
        let before = self.recorded.as_ref();
        let wanted = match self.plan.steps {
            Pace::Never => false,
            Pace::EveryStep => true,
            Pace::Every { seconds } => {
                due(self.since_step, u32::from(seconds)) || before.is_some_and(|before| changed_state(before, &record))
            }
            Pace::OnChange { at_least_every_s } => {
                due(self.since_step, u32::from(at_least_every_s))
                    || before.is_none_or(|before| step_moved(before, &record, &self.plan.change))
            }
        };
        if wanted {
            self.since_step.clear();
            let record = Record::Step(record);
            self.write(&record, sink);
            if let Record::Step(record) = record {
                self.recorded = Some(record);
            }
        }
    }

    fn write(&mut self, record: &Record<LIFTS, TANKS>, sink: &mut impl Sink) {
        self.put(record, sink);
    }

    /// Writes a record, and before it that some are missing, if some are.
    fn put<T: Serialize>(&mut self, record: &T, sink: &mut impl Sink) {
        if self.missing > 0 {
            let gap: Record<LIFTS, TANKS> = Record::Gap(GapRecord {
                basis: self.basis,
                records: self.missing,
                cause: self.cause,
            });
            if self.put_one(&gap, sink).is_err() {
                self.miss(GapCause::SinkFull);
                return;
            }
            self.missing = 0;
        }
        if let Err(cause) = self.put_one(record, sink) {
            self.miss(cause);
        }
    }

    fn miss(&mut self, cause: GapCause) {
        self.missing = self.missing.saturating_add(1);
        self.cause = cause;
    }

    fn put_one<T: Serialize>(&mut self, record: &T, sink: &mut impl Sink) -> Result<(), GapCause> {
        let Ok(length) = encode(&(self.number, record), &mut self.room) else {
            return Err(GapCause::TooLong);
        };
        let frame = self.room.get(..length).unwrap_or_default();
        sink.put(frame).map_err(|super::SinkFull| GapCause::SinkFull)?;
        self.number = self.number.wrapping_add(1);
        Ok(())
    }
}

fn due(since: Held, every_s: u32) -> bool {
    every_s > 0 && since.reached_s(every_s)
}

fn as_read<const TANKS: usize>(readings: &Readings<TANKS>) -> (u16, heapless::Vec<Logged, TANKS>, Logged) {
    let levels = gather(readings.levels.iter().map(|reading| Logged::of(*reading)));
    (1, levels, Logged::of(readings.manifold))
}
