//! A log as a series for the fit: means of the readings over short bins, with the air and the state of every lift.

use super::doing::Service;
use crate::log::{HostInstallation, HostStepRecord, Sample, Stretch};
use crate::scenario::{LIFTS, TANKS};
use risertrim::record::Logged;
use risertrim::step::LiftState;

/// Length of a bin, s: short beside the quickest tank that an outlet law can be read from (15 s), long enough that a week is
/// fitted in seconds.
pub const BIN_S: f64 = 5.0;
/// Samples further apart than this do not make one stretch, s.
const MOST_APART_S: f64 = 30.0;
/// Between two steps not further apart than this, air and openings are thought to move evenly, s: held, they would lag behind, and
/// every tank would seem quicker than it is.
const EVEN_S: f64 = 15.0;
/// Steps older than this say nothing of the air any more, s; the plan *sparing* writes one every 300 s at least.
const STALE_S: f64 = 330.0;

/// Some seconds of a log. What lies beyond the tanks and lifts of the place is nothing.
#[derive(Clone, Copy, Debug)]
pub struct Bin {
    /// Time since the bin before, from middle to middle, s; `None` where a stretch begins.
    pub since_s: Option<f64>,
    /// Time from its beginning to its middle, s.
    pub lead_s: f64,
    /// Its middle, in time of records, s.
    pub middle_s: f64,
    /// Mean of each sensor's own numbers; NaN where none came.
    pub raw: [f64; TANKS],
    /// Readings in each mean.
    pub counts: [u32; TANKS],
    /// Where each valve was believed to stand, share of the stroke.
    pub position: [f32; LIFTS],
    /// Air each lift was believed to get, m3/s.
    pub air_m3_s: [f64; LIFTS],
    /// Whether each lift served.
    pub serves: [Service; LIFTS],
    /// Manifold pressure, Pa.
    pub manifold_pa: f64,
    /// Version of the curves that the controller worked with.
    pub curves: u16,
}

/// What a log gave besides its bins.
#[derive(Clone, Debug, Default)]
pub struct Counted {
    /// Samples: readings of all sensors at one moment.
    pub samples: u64,
    /// Readings of single sensors that were numbers.
    pub readings: u64,
    /// Time covered, s.
    pub covered_s: f64,
    /// Starts of the controller.
    pub restarts: u32,
    /// Places where records are missing, or the time does not go on.
    pub gaps: u32,
    /// Samples before which no step told the air: not used.
    pub without_air: u64,
    /// Samples whose installation the log does not tell: not used.
    pub without_installation: u64,
    /// True when the log holds only what changed.
    pub thinned: bool,
}

/// Second differences of one sensor's readings, each in metres, with the steps each reading is a mean of.
pub type Seconds = Vec<f32>;

/// A log as a series.
#[derive(Clone, Debug)]
pub struct Series {
    /// The bins, in the order of time.
    pub bins: Vec<Bin>,
    /// Second differences of each tank's readings, m.
    pub seconds: Vec<Seconds>,
    /// The smallest step between two readings of each tank, m; 0 where there is none to be seen.
    pub steps_m: Vec<f64>,
    /// Readings of one sample are means over so many steps.
    pub over: u16,
    /// What was counted.
    pub counted: Counted,
    /// The last installation in the log.
    pub installation: Option<HostInstallation>,
}

/// What of the last step is held on to.
#[derive(Clone, Copy, Debug)]
struct Held {
    time_s: f64,
    position: [f32; LIFTS],
    air_m3_s: [f64; LIFTS],
    serves: [Service; LIFTS],
    manifold_pa: f64,
}

/// A bin being filled.
#[derive(Clone, Copy, Debug)]
struct Filling {
    from_s: f64,
    times_s: f64,
    samples: u32,
    sums: [f64; TANKS],
    counts: [u32; TANKS],
    position: [f64; LIFTS],
    air: [f64; LIFTS],
    serves: [Service; LIFTS],
    manifold_pa: f64,
    curves: u16,
    over: u16,
}

/// Builds a [`Series`] from samples, of one file or several.
#[derive(Debug)]
pub struct SeriesBuilder {
    fallback: Option<HostInstallation>,
    series: Series,
    held: Option<Held>,
    /// The step before that, and the first bin that it does not reach.
    before: Option<(Held, usize)>,
    filling: Option<Filling>,
    /// Middle of the last bin, when the next follows from it, s.
    last_middle_s: Option<f64>,
    last_s: Option<f64>,
    last_raw: Vec<[Option<f64>; 2]>,
    spacing_s: Option<f64>,
}

impl SeriesBuilder {
    /// Nothing taken yet; `fallback` stands in where the log does not tell its installation.
    #[must_use]
    pub fn new(fallback: Option<HostInstallation>) -> Self {
        Self {
            fallback,
            series: Series {
                bins: Vec::new(),
                seconds: Vec::new(),
                steps_m: Vec::new(),
                over: 1,
                counted: Counted::default(),
                installation: None,
            },
            held: None,
            before: None,
            filling: None,
            last_middle_s: None,
            last_s: None,
            last_raw: Vec::new(),
            spacing_s: None,
        }
    }

    /// Another file begins: nothing follows from before.
    pub fn cut(&mut self) {
        self.close();
        self.held = None;
        self.before = None;
        self.last_middle_s = None;
        self.last_s = None;
        self.last_raw.clear();
        self.spacing_s = None;
    }

    /// Takes the next sample.
    pub fn take(&mut self, sample: &Sample) {
        self.series.counted.samples += 1;
        match sample.begins {
            Some(cause) => {
                self.cut();
                match cause {
                    Stretch::First | Stretch::Renewed => {}
                    Stretch::Restarted => self.series.counted.restarts += 1,
                    Stretch::Missing | Stretch::ClockBroken => self.series.counted.gaps += 1,
                }
            }
            None if sample.since_s.is_some_and(|since| since > MOST_APART_S) => {
                self.cut();
                self.series.counted.gaps += 1;
            }
            None => {}
        }
        if let Some(installation) = &sample.installation
            && self.series.installation.as_ref() != Some(installation)
        {
            self.series.installation = Some((**installation).clone());
        }
        let Some(installation) = self.series.installation.as_ref().or(self.fallback.as_ref()) else {
            self.series.counted.without_installation += 1;
            return;
        };
        let tanks = installation.tanks.len();
        let levels = believable(installation, &sample.readings.levels);
        if self.series.seconds.len() < tanks {
            self.series.seconds.resize(tanks, Vec::new());
            self.series.steps_m.resize(tanks, 0.0);
        }
        let slopes: Vec<f64> = installation
            .tanks
            .iter()
            .map(|tank| slope(&tank.sensor.scale))
            .collect();
        self.note_noise(sample, &levels, &slopes);
        if let Some((time_s, step)) = &sample.step_between {
            self.hold(*time_s, step);
        }
        if let Some(step) = &sample.step {
            self.hold(sample.time_s, step);
        }
        let Some(held) = self.held.filter(|held| (sample.time_s - held.time_s).abs() < STALE_S) else {
            self.series.counted.without_air += 1;
            return;
        };
        self.fill(sample, &levels, &held);
    }

    /// Holds on to what a step tells of air and openings.
    fn hold(&mut self, time_s: f64, step: &HostStepRecord) {
        let mut held = Held {
            time_s,
            position: [0.0; LIFTS],
            air_m3_s: [0.0; LIFTS],
            serves: [Service::Out; LIFTS],
            manifold_pa: step.basis.seen.map_or(0.0, |seen| f64::from(seen.manifold_pa)),
        };
        for (index, lift) in step.lifts.iter().enumerate() {
            held.position[index] = lift.position.share();
            held.air_m3_s[index] = f64::from(lift.air_m3_s);
            held.serves[index] = match lift.state {
                LiftState::OutOfService => Service::Out,
                LiftState::StoppedToMeasure => Service::Measured,
                _ => Service::Serves,
            };
        }
        self.even_out(&held);
        self.held = Some(held);
    }

    /// A step was told: what lies between it and the one before is thought to have moved evenly.
    fn even_out(&mut self, now: &Held) {
        // Bins that are closed by now; the one being filled is evened out by the next step.
        let to = self.series.bins.len();
        if let Some((before, from)) = self.before
            && now.time_s - before.time_s <= 2.0 * EVEN_S
            && before.serves == now.serves
        {
            let held = self.held.unwrap_or(before);
            for bin in &mut self.series.bins[from.min(to)..to] {
                let (a, b) = if bin.middle_s < held.time_s {
                    (&before, &held)
                } else {
                    (&held, now)
                };
                let apart = b.time_s - a.time_s;
                if apart <= 0.0 || apart > EVEN_S || bin.serves != b.serves || a.serves != b.serves {
                    continue;
                }
                let share = ((bin.middle_s - a.time_s) / apart).clamp(0.0, 1.0);
                for lift in 0..LIFTS {
                    bin.air_m3_s[lift] = a.air_m3_s[lift] + share * (b.air_m3_s[lift] - a.air_m3_s[lift]);
                    #[allow(clippy::cast_possible_truncation)]
                    let share = share as f32;
                    bin.position[lift] = a.position[lift] + share * (b.position[lift] - a.position[lift]);
                }
                bin.manifold_pa = a.manifold_pa + share * (b.manifold_pa - a.manifold_pa);
            }
        }
        if let Some(held) = self.held {
            self.before = Some((held, to.saturating_sub(1)));
        }
    }

    fn fill(&mut self, sample: &Sample, levels: &[f64; TANKS], held: &Held) {
        // A lift that is switched begins a bin of its own: half a switch cannot be fitted.
        if self.filling.is_some_and(|filling| filling.serves != held.serves) {
            self.close();
        }
        let time_s = sample.time_s;
        let over = sample.readings.over.max(1);
        let filling = self.filling.get_or_insert(Filling {
            from_s: time_s,
            times_s: 0.0,
            samples: 0,
            sums: [0.0; TANKS],
            counts: [0; TANKS],
            position: [0.0; LIFTS],
            air: [0.0; LIFTS],
            serves: held.serves,
            manifold_pa: 0.0,
            curves: sample.readings.basis.curves,
            over,
        });
        filling.times_s += time_s;
        filling.samples += 1;
        filling.manifold_pa += held.manifold_pa;
        filling.over = filling.over.max(over);
        for (tank, level) in levels.iter().enumerate() {
            if level.is_finite() {
                filling.sums[tank] += level;
                filling.counts[tank] += 1;
                self.series.counted.readings += 1;
            }
        }
        for lift in 0..LIFTS {
            filling.position[lift] += f64::from(held.position[lift]);
            filling.air[lift] += held.air_m3_s[lift];
        }
        self.series.over = self.series.over.max(over);
        let spacing = self.spacing_s.unwrap_or(1.0);
        if time_s - filling.from_s + spacing >= BIN_S - 1.0e-6 {
            self.close();
        }
    }

    /// Ends the bin being filled.
    fn close(&mut self) {
        let Some(filling) = self.filling.take() else { return };
        let many = f64::from(filling.samples);
        let middle_s = filling.times_s / many;
        // A mean over some steps belongs to the middle of them.
        let apart_s = self.last_middle_s.map(|last| middle_s - last);
        let since_s = apart_s.filter(|since| *since > 0.0 && *since <= 2.0 * MOST_APART_S);
        self.last_middle_s = Some(middle_s);
        self.series.counted.covered_s += since_s.unwrap_or(0.0);
        let mut bin = Bin {
            since_s,
            // The first of its readings shows what went on in the whole period before it.
            lead_s: middle_s - filling.from_s + self.spacing_s.unwrap_or(1.0),
            middle_s,
            raw: [f64::NAN; TANKS],
            counts: [0; TANKS],
            position: [0.0; LIFTS],
            air_m3_s: [0.0; LIFTS],
            serves: filling.serves,
            manifold_pa: filling.manifold_pa / many,
            curves: filling.curves,
        };
        for tank in 0..TANKS {
            if filling.counts[tank] > 0 {
                bin.raw[tank] = filling.sums[tank] / f64::from(filling.counts[tank]);
                bin.counts[tank] = filling.counts[tank] * u32::from(filling.over);
            }
        }
        for lift in 0..LIFTS {
            #[allow(clippy::cast_possible_truncation)]
            {
                bin.position[lift] = (filling.position[lift] / many) as f32;
            }
            bin.air_m3_s[lift] = filling.air[lift] / many;
        }
        self.series.bins.push(bin);
    }

    /// Second differences of readings at even spacing, and the smallest step to be seen.
    fn note_noise(&mut self, sample: &Sample, raw: &[f64; TANKS], slopes: &[f64]) {
        let even = match (self.last_s, self.spacing_s) {
            (Some(last), Some(spacing)) => {
                let since = sample.time_s - last;
                let even = (since - spacing).abs() < 0.01 * spacing;
                if !even && since > 1.5 * spacing && sample.begins.is_none() {
                    self.series.counted.thinned = true;
                }
                self.spacing_s = Some(since.min(spacing).max(1.0e-3));
                even
            }
            (Some(last), None) => {
                self.spacing_s = Some((sample.time_s - last).max(1.0e-3));
                true
            }
            _ => false,
        };
        self.last_s = Some(sample.time_s);
        self.last_raw.resize(slopes.len(), [None; 2]);
        for (tank, slope) in slopes.iter().enumerate() {
            let now = Some(raw[tank] * slope).filter(|level| level.is_finite());
            let history = &mut self.last_raw[tank];
            if !even {
                *history = [None, now];
                continue;
            }
            if let ([Some(first), Some(second)], Some(now)) = (*history, now) {
                #[allow(clippy::cast_possible_truncation)] // noise to seven digits
                self.series.seconds[tank].push((now - 2.0 * second + first) as f32);
            }
            if let (Some(before), Some(now)) = (history[1], now) {
                let step = (now - before).abs();
                let known = &mut self.series.steps_m[tank];
                // Below a hundredth of a millimetre it is f32 that rounds, not the sensor.
                if step > 1.0e-5 && (*known == 0.0 || step < *known) {
                    *known = step;
                } else if step > 1.0e-7 && step <= 1.0e-5 {
                    *known = 1.0e-7;
                }
            }
            *history = [history[1], now];
        }
    }

    /// The series.
    #[must_use]
    pub fn finish(mut self) -> Series {
        self.close();
        self.series
    }
}

/// Metres in one unit of the sensor.
fn slope(scale: &risertrim::level::Scale) -> f64 {
    f64::from(scale.level_high_m - scale.level_low_m) / f64::from(scale.raw_high - scale.raw_low)
}

/// The readings that water in these tanks can give; NaN for all others.
fn believable(installation: &HostInstallation, levels: &[Logged]) -> [f64; TANKS] {
    let mut believed = [f64::NAN; TANKS];
    for ((believed, level), tank) in believed.iter_mut().zip(levels).zip(&installation.tanks) {
        if let Logged::Number(raw) = level {
            let level_m = tank.sensor.scale.level_m(*raw) + tank.sensor.zero_m;
            if level_m > -0.1 && level_m < tank.rim_m + 0.25 {
                *believed = f64::from(*raw);
            }
        }
    }
    believed
}
