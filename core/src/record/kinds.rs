//! The kinds of record.

use super::{Basis, Header};
use crate::alarm::{Figure, Name};
use crate::command::{Command, Refused};
use crate::commission::{Outcome, Refusal};
use crate::controller::Learned;
use crate::math::finite_or;
use crate::reading::Checked;
use crate::step::{BlowerStep, LiftState, LiftStep, Reading, TankStep};
use crate::time::Millis;
use crate::units::Opening;
use serde::{Deserialize, Serialize};

/// One record. The order of the kinds is part of the format: new ones are added at the end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(clippy::large_enum_variant)] // no heap to put the large ones on
pub enum Record<const LIFTS: usize, const TANKS: usize> {
    /// A log, or a stretch of it, begins.
    Header(Header),
    /// The installation; its own bytes follow ([`super::read_installation`]).
    Installation(InstallationMark),
    /// What a restarted controller was given of what the lifts had learned.
    Loaded(heapless::Vec<Learned, LIFTS>),
    /// What the sensors gave.
    Readings(ReadingsRecord<TANKS>),
    /// What the controller made of it.
    Step(StepRecord<LIFTS, TANKS>),
    /// An alarm came, changed or went.
    Alarm(AlarmRecord),
    /// Somebody asked for something.
    Command(CommandRecord),
    /// What the lifts have learned, now and then.
    Learned(LearnedRecord<LIFTS>),
    /// A trial ended.
    Commissioned(Commissioned),
    /// A valve could not be driven, or can be again.
    Valve(ValveRecord),
    /// Records are missing here, and the writer knows.
    Gap(GapRecord),
    /// The wall clock, for people only.
    Clock {
        /// The board's counter.
        now: Millis,
        /// Seconds since 1970-01-01 00:00 UTC.
        unix_s: u64,
    },
}

/// What stands before the bytes of an installation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct InstallationMark {
    /// How it is laid out: [`super::LAYOUT`] of the writer.
    pub layout: u16,
    /// Its fingerprint.
    pub fingerprint: u32,
}

/// One reading in a log.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Logged {
    /// No reading came.
    #[default]
    Missing,
    /// The number it gave, in the sensor's own unit.
    Number(f32),
    /// It gave something that is no number; the controller takes any such for out of range.
    NotANumber,
}

impl Logged {
    /// From a reading.
    #[must_use]
    pub fn of(reading: Reading) -> Self {
        match reading {
            Reading::Missing => Self::Missing,
            Reading::Value(value) if value.is_finite() => Self::Number(value),
            Reading::Value(_) => Self::NotANumber,
        }
    }

    /// Back to a reading that the controller treats as it did the first.
    #[must_use]
    pub fn reading(self) -> Reading {
        match self {
            Self::Missing => Reading::Missing,
            Self::Number(value) => Reading::Value(value),
            Self::NotANumber => Reading::Value(f32::NAN),
        }
    }
}

/// What the sensors gave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ReadingsRecord<const TANKS: usize> {
    /// When, and under what circumstances.
    pub basis: Basis,
    /// 1: as read, and the controller made its step from exactly this. More: the mean over so many steps.
    pub over: u16,
    /// The level sensors, in their own units.
    pub levels: heapless::Vec<Logged, TANKS>,
    /// The manifold gauge, Pa above the atmosphere.
    pub manifold: Logged,
}

/// One lift in a [`StepRecord`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LiftRecord {
    /// What it is doing.
    pub state: LiftState,
    /// Opening commanded.
    pub command: Opening,
    /// Where the valve is believed to stand.
    pub position: Opening,
    /// Air it is believed to get, m3/s at the air reference.
    pub air_m3_s: f32,
    /// Air it is meant to get, m3/s at the air reference.
    pub wanted_air_m3_s: f32,
    /// Flow it is believed to deliver, m3/s.
    pub flow_m3_s: f32,
    /// Standard deviation of that, m3/s.
    pub flow_sigma_m3_s: f32,
    /// Target as ramped, m3/s.
    pub target_m3_s: f32,
    /// What it delivers as a share of its curve.
    pub delivery: f32,
    /// Standard deviation of that share.
    pub delivery_sigma: f32,
}

impl LiftRecord {
    /// From a step.
    #[must_use]
    pub fn of(lift: &LiftStep) -> Self {
        Self {
            state: lift.state,
            command: lift.command,
            position: lift.position,
            air_m3_s: number(lift.air.m3_s),
            wanted_air_m3_s: number(lift.wanted_air.m3_s),
            flow_m3_s: number(lift.flow.m3_s),
            flow_sigma_m3_s: number(lift.flow_sigma_m3_s),
            target_m3_s: number(lift.target.m3_s),
            delivery: number(lift.delivery),
            delivery_sigma: number(lift.delivery_sigma),
        }
    }
}

/// One tank in a [`StepRecord`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TankRecord {
    /// Level believed, m above the floor.
    pub level_m: f32,
    /// Standard deviation of that, m.
    pub sigma_m: f32,
    /// What its reading was worth.
    pub reading: Checked,
    /// About how long its oxygen would last without air, minutes.
    pub oxygen_min: Option<u16>,
}

impl TankRecord {
    /// From a step.
    #[must_use]
    pub fn of(tank: &TankStep) -> Self {
        Self {
            level_m: number(tank.level_m),
            sigma_m: number(tank.sigma_m),
            reading: match tank.reading {
                Checked::Level(level) => Checked::Level(number(level)),
                other => other,
            },
            oxygen_min: tank.oxygen_min,
        }
    }
}

/// The blower in a [`StepRecord`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BlowerRecord {
    /// Units that run.
    pub units: u8,
    /// Speed, share of the full one.
    pub speed: f32,
    /// Air believed to pass it, m3/s at the air reference, bleed included.
    pub air_m3_s: f32,
    /// Power it is believed to take, W.
    pub power_w: f32,
}

impl BlowerRecord {
    /// From a step.
    #[must_use]
    pub fn of(blower: &BlowerStep) -> Self {
        Self {
            units: blower.units,
            speed: number(blower.speed),
            air_m3_s: number(blower.air.m3_s),
            power_w: number(blower.power_w),
        }
    }
}

/// What the controller made of the readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StepRecord<const LIFTS: usize, const TANKS: usize> {
    /// When, and under what circumstances.
    pub basis: Basis,
    /// Time since the step before, as it was used, ms.
    pub step_ms: u32,
    /// The lifts.
    pub lifts: heapless::Vec<LiftRecord, LIFTS>,
    /// The tanks.
    pub tanks: heapless::Vec<TankRecord, TANKS>,
    /// The blower.
    pub blower: BlowerRecord,
    /// About how long the backup lasts, minutes; only on backup.
    pub backup_min: Option<u16>,
}

/// What became of an alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AlarmChange {
    /// It began.
    On,
    /// Somebody has seen it.
    Seen,
    /// It is over, and stays on the list until it is reset.
    Over,
    /// It is off the list.
    Off,
}

/// An alarm that changed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlarmRecord {
    /// When, and under what circumstances.
    pub basis: Basis,
    /// What became of it.
    pub change: AlarmChange,
    /// Which it is.
    pub name: Name,
    /// The alarm it follows from.
    pub cause: Option<Name>,
    /// The number that belonged to it then.
    pub figure: Figure,
}

/// A command, and whether it was taken. It counts from the next step on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CommandRecord {
    /// When, and under what circumstances.
    pub basis: Basis,
    /// What was asked.
    pub command: Command,
    /// Why it was not taken; `None` when it was.
    pub refused: Option<Refused>,
}

/// What the lifts have learned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LearnedRecord<const LIFTS: usize> {
    /// When, and under what circumstances.
    pub basis: Basis,
    /// The lifts.
    pub lifts: heapless::Vec<Learned, LIFTS>,
}

/// How a part of a trial ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Verdict {
    /// Taken over into the installation.
    Taken,
    /// Not.
    Refused(Refusal),
}

/// A trial that ended. What it took over stands in the installation that follows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Commissioned {
    /// When, and under what circumstances.
    pub basis: Basis,
    /// The lift.
    pub lift: u8,
    /// The outlet of its receiving tank.
    pub outlet: u8,
    /// The law of the outlet.
    pub outlet_law: Verdict,
    /// The curve of the lift.
    pub curve: Verdict,
}

impl Commissioned {
    /// From the outcome of a trial.
    #[must_use]
    pub fn of(basis: Basis, outcome: &Outcome) -> Self {
        Self {
            basis,
            lift: outcome.lift,
            outlet: outcome.outlet,
            outlet_law: outcome
                .outlet_law
                .as_ref()
                .map_or_else(|why| Verdict::Refused(*why), |_| Verdict::Taken),
            curve: outcome
                .curve
                .as_ref()
                .map_or_else(|why| Verdict::Refused(*why), |_| Verdict::Taken),
        }
    }
}

/// A valve that could not be driven, or can be again.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ValveRecord {
    /// When, and under what circumstances.
    pub basis: Basis,
    /// The lift.
    pub lift: u8,
    /// True when it can be driven.
    pub driven: bool,
}

/// Why records are missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum GapCause {
    /// Whatever takes the log took no more.
    SinkFull,
    /// A record was longer than the room for a frame.
    TooLong,
}

/// Records that are missing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct GapRecord {
    /// When it ended, and under what circumstances.
    pub basis: Basis,
    /// How many.
    pub records: u32,
    /// Why the last of them.
    pub cause: GapCause,
}

/// No number in a log is anything but a number; the controller gives none that is not (tested), so this changes nothing.
pub(super) fn number(value: f32) -> f32 {
    finite_or(value, 0.0)
}

/// Gathers what an iterator gives, as far as there is room: unlike `collect` it has no way to panic.
pub(super) fn gather<T, const N: usize>(items: impl Iterator<Item = T>) -> heapless::Vec<T, N> {
    let mut gathered = heapless::Vec::new();
    for item in items.take(N) {
        let _ = gathered.push(item);
    }
    gathered
}
