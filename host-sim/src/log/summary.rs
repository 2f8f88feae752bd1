//! A log in figures.

use super::entry::{Entry, HostReadingsRecord, HostRecord, HostStepRecord, What};
use crate::names::Names;
use risertrim::alarm::Name;
use risertrim::frame::Damage;
use risertrim::record::{AlarmChange, Began, Header, Logged, ResetCause};
use serde::Serialize;
use std::collections::HashMap;

/// Of everything that can be many, so many are told one by one.
pub const TOLD: usize = 12;
/// A silence longer than this is a gap even where no record is missing by its number: twice what a plan leaves between two
/// records of readings when nothing moves. Shorter ones are told by the alarm of the clock.
const SILENCE_MS: u64 = 600_000;

/// A start of the controller and what followed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Session {
    /// Byte of its header.
    pub byte: u64,
    /// Why it started; `None` where the log begins in the middle of it.
    pub cause: Option<String>,
    /// What ran.
    pub firmware: String,
    /// Fingerprint of its installation.
    pub fingerprint: String,
    /// Time of records since the beginning of the log, s.
    pub from_s: f64,
    /// Until when, s.
    pub until_s: f64,
}

/// A stretch without records.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gap {
    /// Byte after which it is.
    pub byte: u64,
    /// Time of records since the beginning of the log, s.
    pub at_s: f64,
    /// Records missing by their numbers, or by the writer's own account; 0 when only time is missing.
    pub records: u64,
    /// Time without readings, s; 0 when it is not known.
    pub silent_s: f64,
}

/// A stretch of damaged bytes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DamagedBytes {
    /// Where it begins.
    pub byte: u64,
    /// How long it is.
    pub bytes: u64,
    /// What is wrong with it.
    pub harm: String,
    /// Time of records since the beginning of the log, s.
    pub at_s: f64,
}

/// One kind of alarm about one subject.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlarmSpan {
    /// Short name.
    pub alarm: String,
    /// About what.
    pub subject: String,
    /// What happened, in words.
    pub what: String,
    /// How often it came.
    pub times: u32,
    /// When first, s.
    pub first_s: f64,
    /// How long it stood in all, s, as far as it is known.
    pub stood_s: f64,
    /// True when it stands at the end.
    pub stands: bool,
    #[serde(skip)]
    since_s: Option<f64>,
}

/// What one lift did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct LiftFigures {
    /// Mean flow believed, L/min.
    pub flow_l_min: f64,
    /// Mean target, L/min.
    pub target_l_min: f64,
    /// Mean opening commanded, %.
    pub opening_percent: f64,
    /// Delivery factor last seen, %.
    pub delivery_percent: f64,
}

/// What one tank did.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TankFigures {
    /// Lowest level believed, mm.
    pub lowest_mm: f64,
    /// Mean level believed, mm.
    pub mean_mm: f64,
    /// Highest level believed, mm.
    pub highest_mm: f64,
    /// Readings that were missing or no number.
    pub no_reading: u64,
}

impl Default for TankFigures {
    fn default() -> Self {
        Self {
            lowest_mm: f64::INFINITY,
            mean_mm: 0.0,
            highest_mm: f64::NEG_INFINITY,
            no_reading: 0,
        }
    }
}

/// A log in figures. Takes one entry after the other; of what can be many it keeps the first [`TOLD`] and a count.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Summary {
    /// Bytes.
    pub bytes: u64,
    /// Records read.
    pub records: u64,
    /// Records of readings.
    pub readings: u64,
    /// Records of steps.
    pub steps: u64,
    /// Time that records cover, s.
    pub span_s: f64,
    /// Starts, the first [`TOLD`].
    pub sessions: Vec<Session>,
    /// Starts in all.
    pub starts: u64,
    /// Exchanges of the installation, and changes of it by trials.
    pub renewals: u64,
    /// Gaps, the first [`TOLD`].
    pub gaps: Vec<Gap>,
    /// Gaps in all.
    pub gap_count: u64,
    /// Records missing by their numbers or by the writer's account.
    pub missing_records: u64,
    /// Damage, the first [`TOLD`].
    pub damage: Vec<DamagedBytes>,
    /// Damaged stretches in all.
    pub damage_count: u64,
    /// Bytes of damage.
    pub damaged_bytes: u64,
    /// Records that came twice or late.
    pub repeated: u64,
    /// Intact frames that are no record known here.
    pub unknown: u64,
    /// Alarms, in order of their first coming.
    pub alarms: Vec<AlarmSpan>,
    /// Commands taken.
    pub commands: u64,
    /// Commands refused.
    pub refused: u64,
    /// Trials that ended.
    pub trials: u64,
    /// Valve faults that began.
    pub valve_faults: u64,
    /// Seconds since 1970 UTC at the beginning of the log, where the wall clock was known.
    pub began_unix_s: Option<u64>,
    /// The lifts.
    pub lifts: Vec<LiftFigures>,
    /// The tanks.
    pub tanks: Vec<TankFigures>,
    #[serde(skip)]
    last_readings_ms: Option<u64>,
    /// Records missing since the last readings.
    #[serde(skip)]
    missing_here: u64,
    #[serde(skip)]
    names: HashMap<Name, usize>,
    /// What lifts and tanks are called; a log knows only their numbers.
    #[serde(skip)]
    pub(super) parts: Names,
}

impl Summary {
    /// Nothing read yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The same with lifts and tanks by name.
    #[must_use]
    pub fn named(parts: Names) -> Self {
        Self { parts, ..Self::new() }
    }

    /// Takes the next entry.
    pub fn take(&mut self, entry: &Entry) {
        let at_s = entry.time_s();
        self.span_s = self.span_s.max(at_s);
        if let Some(session) = self.sessions.last_mut().filter(|_| self.starts <= TOLD as u64) {
            session.until_s = at_s;
        }
        if entry.time_broken {
            self.last_readings_ms = None;
        }
        match &entry.what {
            What::Record(record) => {
                self.records += 1;
                self.take_record(entry, record);
            }
            What::Installation { .. } => self.records += 1,
            What::Damaged(damage) => self.take_damage(at_s, damage),
            What::Missing(records) => self.take_missing(u64::from(*records)),
            What::Repeated(_) => self.repeated += 1,
            What::Unknown => self.unknown += 1,
            What::Stretch => {
                self.last_readings_ms = None;
                self.begin(entry, None, "unknown", "unknown");
            }
        }
    }

    /// Ends it: the log is this long.
    pub fn finish(&mut self, bytes: u64) {
        self.bytes = bytes;
        let until_s = self.span_s;
        for alarm in &mut self.alarms {
            alarm.stands = alarm.since_s.is_some();
            alarm.stood_s += alarm.since_s.take().map_or(0.0, |since_s| until_s - since_s);
        }
    }

    fn take_record(&mut self, entry: &Entry, record: &HostRecord) {
        match record {
            HostRecord::Header(header) => self.take_header(entry, header),
            HostRecord::Readings(readings) => self.take_readings(entry, readings),
            HostRecord::Step(step) => self.take_step(step),
            HostRecord::Alarm(alarm) => self.take_alarm(entry.time_s(), alarm.name, alarm.change),
            HostRecord::Command(command) if command.refused.is_none() => self.commands += 1,
            HostRecord::Command(_) => self.refused += 1,
            HostRecord::Commissioned(_) => self.trials += 1,
            HostRecord::Valve(valve) if !valve.driven => self.valve_faults += 1,
            HostRecord::Gap(gap) => self.take_missing(u64::from(gap.records)),
            HostRecord::Clock { unix_s, .. } => {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // the cast saturates
                let since = entry.time_s() as u64;
                self.began_unix_s.get_or_insert(unix_s.saturating_sub(since));
            }
            HostRecord::Installation(_) | HostRecord::Loaded(_) | HostRecord::Learned(_) | HostRecord::Valve(_) => {}
        }
    }

    fn take_header(&mut self, entry: &Entry, header: &Header) {
        let firmware = String::from_utf8_lossy(&header.firmware).into_owned();
        let fingerprint = format!("{:08X}", header.fingerprint);
        match header.began {
            Began::Started(cause) => {
                self.last_readings_ms = None;
                self.begin(entry, Some(cause), &firmware, &fingerprint);
            }
            Began::Exchanged | Began::Measured => self.renewals += 1,
            Began::Repeated if self.starts == 0 => self.begin(entry, None, &firmware, &fingerprint),
            Began::Repeated => {}
        }
    }

    fn begin(&mut self, entry: &Entry, cause: Option<ResetCause>, firmware: &str, fingerprint: &str) {
        self.starts += 1;
        let at_s = entry.time_s();
        for alarm in &mut self.alarms {
            alarm.stood_s += alarm.since_s.take().map_or(0.0, |since_s| at_s - since_s);
        }
        if self.sessions.len() < TOLD {
            self.sessions.push(Session {
                byte: entry.offset,
                cause: cause.map(|cause| super::words::cause_words(cause).to_owned()),
                firmware: firmware.to_owned(),
                fingerprint: fingerprint.to_owned(),
                from_s: at_s,
                until_s: at_s,
            });
        }
    }

    fn take_damage(&mut self, at_s: f64, damage: &Damage) {
        self.damage_count += 1;
        self.damaged_bytes += damage.bytes;
        if self.damage.len() < TOLD {
            self.damage.push(DamagedBytes {
                byte: damage.offset,
                bytes: damage.bytes,
                harm: damage.harm.to_string(),
                at_s,
            });
        }
    }

    fn take_missing(&mut self, records: u64) {
        self.missing_records += records;
        self.missing_here += records;
    }

    fn take_readings(&mut self, entry: &Entry, readings: &HostReadingsRecord) {
        self.readings += 1;
        for (index, level) in readings.levels.iter().enumerate() {
            let tank = at(&mut self.tanks, index);
            tank.no_reading += u64::from(!matches!(level, Logged::Number(_)));
        }
        let silent_ms = self.last_readings_ms.map(|last| entry.time_ms - last);
        self.last_readings_ms = Some(entry.time_ms);
        let missing = std::mem::take(&mut self.missing_here);
        let too_long = silent_ms.is_some_and(|silent| silent > SILENCE_MS);
        if too_long || missing > 0 {
            self.gap_count += 1;
            if self.gaps.len() < TOLD {
                #[allow(clippy::cast_precision_loss)] // exact below 2^53 ms
                let silent_s = silent_ms.map_or(0.0, |silent| silent as f64 * 1e-3);
                self.gaps.push(Gap {
                    byte: entry.offset,
                    at_s: entry.time_s() - silent_s,
                    records: missing,
                    silent_s,
                });
            }
        }
    }

    fn take_step(&mut self, step: &HostStepRecord) {
        self.steps += 1;
        #[allow(clippy::cast_precision_loss)]
        let weight = 1.0 / self.steps as f64;
        let nearer = |mean: &mut f64, value: f64| *mean += (value - *mean) * weight;
        for (index, lift) in step.lifts.iter().enumerate() {
            let figures = at(&mut self.lifts, index);
            nearer(&mut figures.flow_l_min, 60_000.0 * f64::from(lift.flow_m3_s));
            nearer(&mut figures.target_l_min, 60_000.0 * f64::from(lift.target_m3_s));
            nearer(&mut figures.opening_percent, 100.0 * f64::from(lift.command.share()));
            figures.delivery_percent = 100.0 * f64::from(lift.delivery);
        }
        for (index, tank) in step.tanks.iter().enumerate() {
            let figures = at(&mut self.tanks, index);
            let level_mm = 1000.0 * f64::from(tank.level_m);
            nearer(&mut figures.mean_mm, level_mm);
            figures.lowest_mm = figures.lowest_mm.min(level_mm);
            figures.highest_mm = figures.highest_mm.max(level_mm);
        }
    }

    fn take_alarm(&mut self, at_s: f64, name: Name, change: AlarmChange) {
        let (alarms, parts) = (&mut self.alarms, &self.parts);
        let place = *self.names.entry(name).or_insert_with(|| {
            alarms.push(AlarmSpan {
                alarm: name.kind.name().to_owned(),
                subject: parts.subject(name.subject),
                what: name.kind.text().what.to_owned(),
                times: 0,
                first_s: at_s,
                stood_s: 0.0,
                stands: false,
                since_s: None,
            });
            alarms.len() - 1
        });
        let Some(alarm) = self.alarms.get_mut(place) else {
            return;
        };
        match change {
            AlarmChange::On => {
                alarm.times += 1;
                alarm.since_s.get_or_insert(at_s);
            }
            AlarmChange::Seen => {}
            AlarmChange::Over | AlarmChange::Off => {
                alarm.stood_s += alarm.since_s.take().map_or(0.0, |since_s| at_s - since_s);
            }
        }
    }
}

/// The figures of this place, made if need be. Places are bounded by the capacities of this crate.
fn at<T: Default + Clone>(list: &mut Vec<T>, index: usize) -> &mut T {
    if list.len() <= index {
        list.resize(index + 1, T::default());
    }
    &mut list[index]
}
