//! The controller: one step from readings to openings.

mod aim;
mod air;
mod backup;
mod commissioning;
mod learned;
mod levels;
mod orders;
mod place;
mod proving;
mod report;
mod run;
mod slow;
mod standing;
mod start;
mod tank_run;

use crate::air::{Branch, Claim, Demand, Drive, Manifold, Running, share_out};
use crate::alarm::{LONGEST_SILENCE_MIN, List};
use crate::command::{Command, MOST_OF_PEAK, MOST_TARGET_L_MIN, Refused};
use crate::commission::{Move, Trial};
use crate::estimate::{Balance, Filter, LevelInput, LiftInput, OutletInput, TankInput};
use crate::fault::Faults;
use crate::guard::{Ageing, TankVerdict, Trend};
use crate::installation::{Conditions, Installation, Installed, PooledLift};
use crate::lift::{Curve, Point};
use crate::math::{larger, smaller};
use crate::outlet::Drain;
use crate::reading::Checked;
use crate::step::{LiftState, Reading, Readings, Step};
use crate::time::{Elapsed, Held, Millis};
use crate::trim::{ValveTrim, air_to_stand_still, floor_with_margin};
use crate::units::{FreeAir, Opening};
use commissioning::Trying;
pub use learned::Learned;
use place::PlaceRun;
use run::{LiftRun, Mode, Order, Tells, Way};
use tank_run::TankRun;

/// A step longer than this many periods is taken for a leap of the clock.
const LEAP_PERIODS: u32 = 10;
/// Seconds without any level before the openings are fixed.
const NO_LEVELS_AFTER_S: u32 = 60;
/// Time constant of the filter on the manifold gauge, s: a raw gauge moves every valve at every step.
const GAUGE_FILTER_S: f32 = 10.0;
/// The same while the gauge is far from its mean, by more than this share of the highest pressure.
const GAUGE_FOLLOWS_S: f32 = 1.5;
/// See above.
const GAUGE_FAR: f32 = 0.04;
/// Seconds of enough air before the shortage is over.
const AIR_SHORT_OFF_S: u32 = 600;
/// Deviation of a delivery factor below which a stop has told enough.
const KNOWN_WELL: f32 = 0.006;
/// Relative change of air that counts once as the unit of doubt.
const DOUBT_UNIT: f32 = 0.25;
/// Relative change of air below which no doubt is added: the noise of a gauge must not add up.
const DOUBT_STEP: f32 = 0.02;

/// A bit for each lift or tank, as far as there are bits.
fn bit(index: impl Into<usize>) -> u32 {
    u32::try_from(index.into())
        .ok()
        .and_then(|index| 1u32.checked_shl(index))
        .unwrap_or(0)
}

fn is_set(bits: u32, index: usize) -> bool {
    bits & bit(index) != 0
}

/// Trims the valves of at most `LIFTS` lifts on at most `TANKS` tanks.
///
/// ```
/// # use risertrim::{Controller, Installation, Readings};
/// # fn run(installation: &Installation<2, 3>, mut read: impl FnMut() -> Readings<3>, mut apply: impl FnMut(usize, f32)) {
/// let Ok(mut controller) = Controller::<2, 3>::new(installation, &[]) else { return };
/// for _ in 0..10 {
///     let step = controller.step(&read());
///     for (index, lift) in step.lifts.iter().enumerate() {
///         apply(index, lift.command.share());
///     }
/// }
/// # }
/// ```
// In this order in memory, what every step asks for first: an instruction reaches no further than 1 KiB (4 for whole numbers).
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Controller<const LIFTS: usize, const TANKS: usize> {
    place: PlaceRun,
    conditions: Conditions,
    manifold_pa: f32,
    /// Oxygen of water in balance with the air, mg/L.
    oxygen_mg_l: f32,
    /// Tanks whose overflow would not carry the water with every valve open, a bit each.
    small_overflows: u32,
    /// Time since the day's look at what changes over weeks, and the lift that is looked at next; 255: none.
    look_at: u8,
    /// The binary digit of the day foreseen for it that is asked now, 0 before the first; and what is known of that day.
    look_bit: u8,
    look_days: u8,
    ageing: Ageing,
    since_look: Held,
    filter: Filter<LIFTS, TANKS>,
    tanks: heapless::Vec<TankRun, TANKS>,
    lifts: heapless::Vec<LiftRun, LIFTS>,
    installation: Installed<LIFTS, TANKS>,
    alarms: List,
    trial: Trying,
}

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// The installation it runs.
    #[must_use]
    pub fn installation(&self) -> &Installed<LIFTS, TANKS> {
        &self.installation
    }

    /// One step: from what was read to where every valve should stand.
    ///
    /// Any reading is allowed, also NaN, infinite or missing, and any clock. The openings are always numbers between the
    /// limits of the settings.
    #[must_use = "the openings are to be sent to the valves"]
    pub fn step(&mut self, readings: &Readings<TANKS>) -> Step<LIFTS, TANKS> {
        let (step_ms, seconds) = self.elapsed(readings.now);
        self.take_gauge(readings.manifold, seconds, step_ms);
        for (run, lift) in self.lifts.iter_mut().zip(&self.installation.lifts) {
            run.valve.travel(lift.valve.stroke_s, step_ms, seconds);
        }
        let doubts = self.settle_air(seconds);
        self.predict(&doubts, seconds);
        let mut checked = [Checked::Missing; TANKS];
        self.take_levels(readings, &mut checked, (step_ms, seconds));
        let any_level = checked.iter().any(|checked| matches!(checked, Checked::Level(_)));
        self.renew_curves();
        let fixed = self.place.no_levels.follow(!any_level, NO_LEVELS_AFTER_S, step_ms);
        let mut verdicts = [TankVerdict::default(); TANKS];
        self.guard(&mut verdicts, step_ms);
        let trial = self.run_trial(readings, &verdicts, (step_ms, seconds));
        self.ration(step_ms);
        self.plan_stops(&verdicts, (step_ms, seconds), fixed || trial.is_some());
        let aimed = self.aim(&verdicts, (step_ms, seconds), fixed, trial);
        self.move_valves(&aimed, step_ms);
        self.look_daily(step_ms);
        let mut step = Step::empty(readings.now, step_ms);
        self.report(&mut step, &aimed, &verdicts, &checked);
        step
    }

    /// Time since the last step, and as seconds. The first step, a clock that went back and a leap count as one period.
    fn elapsed(&mut self, now: Millis) -> (u32, f32) {
        let period = self.installation.settings.period_ms;
        let passed = self.place.last.map(|last| now.since(last));
        self.place.last = Some(now);
        let step_ms = match passed {
            None => period,
            Some(Elapsed::Forward(gap)) if gap <= period.saturating_mul(LEAP_PERIODS) => gap,
            Some(_) => {
                self.place.since_leap.clear();
                period
            }
        };
        self.place.since_leap.add(step_ms);
        self.place.since_begin.add(step_ms);
        self.place.since_refused.add(step_ms);
        #[allow(clippy::cast_precision_loss)] // at most 100 000 ms: exact in f32
        let seconds = step_ms as f32 * 0.001;
        (step_ms, seconds)
    }
}
