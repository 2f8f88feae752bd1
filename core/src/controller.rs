//! The controller: one step from readings to openings.

mod aim;
mod air;
mod commissioning;
mod levels;
mod report;
mod run;

use crate::air::{Branch, Claim, Manifold, Path, share_out};
use crate::command::{Command, MOST_TARGET_L_MIN, Refused};
use crate::commission::{Move, Outcome, Trial};
use crate::estimate::{Filter, LiftInput, OutletInput, TankInput};
use crate::fault::Faults;
use crate::guard::{Condition, TankVerdict};
use crate::installation::{Conditions, Installation, Lift};
use crate::level::Checked;
use crate::lift::{Curve, Point};
use crate::math::{larger, limit, smaller};
use crate::outlet::Drain;
use crate::step::{LiftState, Reading, Readings, Step};
use crate::stop::StopPlan;
use crate::tank::OUTLETS;
use crate::time::{Elapsed, Held, Millis};
use crate::trim::{ValveTrim, air_to_stand_still, floor_with_margin};
use crate::units::{FreeAir, Opening};
use run::{LiftRun, Mode, Order, TankRun};
use serde::{Deserialize, Serialize};

/// A step longer than this many periods is taken for a leap of the clock.
const LEAP_PERIODS: u32 = 10;
/// Seconds without any level before the openings are fixed.
const NO_LEVELS_AFTER_S: u32 = 60;
/// Time constant of the filter on the manifold gauge, s: a raw gauge moves every valve at every step.
const GAUGE_FILTER_S: f32 = 10.0;
/// Seconds of enough air before the shortage is over.
const AIR_SHORT_OFF_S: u32 = 600;
/// Deviation of a delivery factor below which a stop has told enough.
const KNOWN_WELL: f32 = 0.006;
/// Relative change of air that counts once as the unit of doubt.
const DOUBT_UNIT: f32 = 0.25;
/// Relative change of air below which no doubt is added: the noise of a gauge must not add up.
const DOUBT_STEP: f32 = 0.02;

/// What a lift has learned, to be kept over a restart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Learned {
    /// Delivery factor.
    pub factor: f32,
    /// Its standard deviation.
    pub sigma: f32,
    /// Where the valve was last sent.
    pub opening: Opening,
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
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Controller<const LIFTS: usize, const TANKS: usize> {
    installation: Installation<LIFTS, TANKS>,
    conditions: Conditions,
    filter: Filter<LIFTS, TANKS>,
    lifts: heapless::Vec<LiftRun, LIFTS>,
    tanks: heapless::Vec<TankRun, TANKS>,
    stops: StopPlan,
    last: Option<Millis>,
    manifold_pa: f32,
    /// Manifold pressure at which the factors were last doubted for a change of it.
    doubted_pa: f32,
    gauge_pa: Option<f32>,
    /// What the gauge shows above the blower's curve at the airs believed, Pa; zero without a gauge.
    above_curve_pa: f32,
    essential: bool,
    air_short: Condition,
    no_levels: Condition,
    since_leap: Held,
    saved_rejected: bool,
    trial: Option<Trial>,
    /// Lifts whose trial was asked for, a bit each.
    asked: u32,
    outcome: Option<Outcome>,
}

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Starts a controller. `saved` holds what each lift had learned, in order, or nothing; a wrong count or an absurd
    /// value means it is not used (and an alarm says so).
    ///
    /// # Errors
    /// All faults found in the installation, when any of them stops it from starting.
    #[allow(clippy::result_large_err)] // once at start, and the error is the point of it
    pub fn new(installation: &Installation<LIFTS, TANKS>, saved: &[Learned]) -> Result<Self, Faults> {
        let faults = crate::validate::validate(installation);
        if !faults.can_start() {
            return Err(faults);
        }
        let settings = &installation.settings;
        let conditions = installation.site.conditions();
        let sound = |learned: &Learned| {
            learned.factor > 0.05 && learned.factor < 3.0 && learned.sigma > 0.0 && learned.sigma < 1.0
        };
        let usable = saved.len() == installation.lifts.len() && saved.iter().all(sound);
        let mut filter = Filter::new(
            installation.lifts.len(),
            installation.tanks.len(),
            settings.delivery_spread,
        );
        for (index, tank) in installation.tanks.iter().enumerate() {
            filter.assume_level(index, 0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m));
        }
        let mut lifts = heapless::Vec::new();
        for (index, lift) in installation.lifts.iter().enumerate() {
            let learned = saved.get(index).filter(|_| usable);
            let preset = Opening::new(settings.preset_opening);
            // A board opens its valves to the preset before anything else; from there they go where they were last.
            let valve = learned.map_or(ValveTrim::new(preset), |learned| {
                ValveTrim::sent(preset, learned.opening)
            });
            filter.restart_factor(index, 1.0, prior_sigma(installation, lift, &conditions));
            if let Some(learned) = learned {
                // An hour may have passed: what was known is known a little less.
                filter.restart_factor(index, learned.factor, larger(learned.sigma, 0.05));
            }
            let drift = crate::lift::drift_velocity_m_s(
                lift.riser.bore_m,
                conditions.density_kg_m3,
                conditions.surface_tension_n_m,
            );
            let _ = lifts.push(LiftRun::new(lift.target, filter.factor(index), valve, drift));
        }
        let mut tanks = heapless::Vec::new();
        for _ in &installation.tanks {
            let _ = tanks.push(TankRun::default());
        }
        let mut controller = Self {
            installation: installation.clone(),
            conditions,
            filter,
            lifts,
            tanks,
            stops: StopPlan::default(),
            last: None,
            manifold_pa: installation.air.shut_off_pa() * 0.5,
            doubted_pa: 0.0,
            gauge_pa: None,
            above_curve_pa: 0.0,
            essential: false,
            air_short: Condition::default(),
            no_levels: Condition::default(),
            since_leap: Held::LONG,
            saved_rejected: !saved.is_empty() && !usable,
            trial: None,
            asked: 0,
            outcome: None,
        };
        controller.renew_curves();
        Ok(controller)
    }

    /// The installation it runs.
    #[must_use]
    pub fn installation(&self) -> &Installation<LIFTS, TANKS> {
        &self.installation
    }

    /// What each lift has learned, to be saved now and then.
    #[must_use]
    pub fn learned(&self) -> heapless::Vec<Learned, LIFTS> {
        let mut learned = heapless::Vec::new();
        for (index, lift) in self.lifts.iter().enumerate() {
            let _ = learned.push(Learned {
                factor: self.filter.factor(index),
                sigma: self.filter.factor_sigma(index),
                opening: lift.valve.held(),
            });
        }
        learned
    }

    /// Takes a command; it shows from the next step on.
    ///
    /// # Errors
    /// [`Refused`] when it names no lift of this installation or an absurd target; nothing changes then.
    pub fn command(&mut self, command: Command) -> Result<(), Refused> {
        match command {
            Command::EssentialAir(on) => {
                self.essential = on;
                return Ok(());
            }
            Command::Target { lift, flow } => {
                if !(flow.m3_s >= 0.0 && flow.l_min() <= MOST_TARGET_L_MIN) {
                    return Err(Refused::TargetOutOfRange);
                }
                self.lift_mut(lift)?.target = flow;
            }
            Command::Manual { lift, opening } => self.lift_mut(lift)?.mode = Mode::Manual(opening),
            Command::Commission { lift } => return self.ask_for_trial(lift),
            Command::OutOfService { lift } => self.lift_mut(lift)?.mode = Mode::OutOfService,
            Command::Automatic { lift } => {
                let lift = self.lift_mut(lift)?;
                if lift.mode != Mode::Automatic {
                    lift.mode = Mode::Automatic;
                    lift.trim.return_from(lift.flow);
                }
            }
        }
        Ok(())
    }

    fn lift_mut(&mut self, index: u8) -> Result<&mut LiftRun, Refused> {
        self.lifts.get_mut(usize::from(index)).ok_or(Refused::NoSuchLift)
    }

    /// One step: from what was read to where every valve should stand.
    ///
    /// Any reading is allowed, also NaN, infinite or missing, and any clock. The openings are always numbers between the
    /// limits of the settings.
    pub fn step(&mut self, readings: &Readings<TANKS>) -> Step<LIFTS, TANKS> {
        let (step_ms, seconds) = self.elapsed(readings.now);
        self.take_gauge(readings.manifold, seconds);
        for (run, lift) in self.lifts.iter_mut().zip(&self.installation.lifts) {
            run.valve.travel(lift.valve.stroke_s, step_ms, seconds);
        }
        self.settle_air(seconds);
        self.predict(seconds);
        let any_level = self.take_levels(readings, step_ms, seconds);
        self.renew_curves();
        let fixed = self.no_levels.update(!any_level, any_level, NO_LEVELS_AFTER_S, step_ms);
        let verdicts = self.guard(step_ms);
        let trial = self.run_trial(readings, &verdicts, (step_ms, seconds));
        self.plan_stops(step_ms, fixed || trial.is_some());
        self.aim(&verdicts, seconds, fixed, trial);
        self.move_valves(step_ms);
        self.report(readings.now, step_ms, &verdicts)
    }

    /// Time since the last step, and as seconds. The first step, a clock that went back and a leap count as one period.
    fn elapsed(&mut self, now: Millis) -> (u32, f32) {
        let period = self.installation.settings.period_ms;
        let passed = self.last.map(|last| now.since(last));
        self.last = Some(now);
        let step_ms = match passed {
            None => period,
            Some(Elapsed::Forward(gap)) if gap <= period.saturating_mul(LEAP_PERIODS) => gap,
            Some(_) => {
                self.since_leap.clear();
                period
            }
        };
        self.since_leap.add(step_ms);
        #[allow(clippy::cast_precision_loss)] // at most 100 000 ms: exact in f32
        let seconds = step_ms as f32 * 0.001;
        (step_ms, seconds)
    }
}

/// Standard deviation of a delivery factor before anything was learned: that of the fitted curve at the air for the
/// target with the source in the middle of its band, at least 3 %; the spread of the settings for a lift never measured.
fn prior_sigma<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    lift: &Lift,
    conditions: &Conditions,
) -> f32 {
    let spread = installation.settings.delivery_spread;
    let Some(source) = installation.tanks.get(usize::from(lift.from)) else {
        return spread;
    };
    let level = 0.5 * (source.limits.low_warn_m + source.limits.high_warn_m);
    let curve = Curve::new(&lift.riser, &lift.calibration, conditions, level, None);
    let air = curve.air_for(lift.target).unwrap_or(curve.peak().air);
    let sigma = crate::lift::relative_sigma(&lift.riser, &lift.calibration, conditions, level, None, air);
    sigma.map_or(spread, |sigma| limit(sigma, 0.03, spread))
}
