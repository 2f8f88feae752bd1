//! The controller: one step from readings to openings.

mod aim;
mod air;
mod backup;
mod commissioning;
mod levels;
mod proving;
mod report;
mod run;
mod slow;

use crate::air::{Branch, Claim, Demand, Drive, Manifold, Running, Setting, share_out};
use crate::alarm::{LONGEST_SILENCE_MIN, List};
use crate::command::{Command, MOST_OF_PEAK, MOST_TARGET_L_MIN, Refused};
use crate::commission::{Move, Outcome, Trial};
use crate::estimate::{Balance, Filter, LevelInput, LiftInput, OutletInput, TankInput};
use crate::fault::Faults;
use crate::guard::{Ageing, Condition, Gauge, ProofStop, Reserve, TankVerdict, Trend, WaterSum};
use crate::installation::{Conditions, Installation, Lift};
use crate::level::Checked;
use crate::lift::{Curve, Point};
use crate::math::{larger, limit, smaller};
use crate::outlet::Drain;
use crate::step::{LiftState, Reading, Readings, Step};
use crate::stop::StopPlan;
use crate::time::{Elapsed, Held, Millis};
use crate::trim::{ValveTrim, air_to_stand_still, floor_with_margin};
use crate::units::{FreeAir, Opening};
use run::{LiftRun, Mode, Order, TankRun, Tells};
use serde::{Deserialize, Serialize};

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
/// Deviation of a level whose sensor's new zero is believed, m.
const AFTER_JUMP_SIGMA_M: f32 = 0.002;
/// Share of its factor by which a lift gave more before, from which on it counts as mended when it comes back from service.
const MENDED: f32 = 1.05;
/// Deviation of the factor of a lift that comes back mended from service.
const AFTER_SERVICE_SIGMA: f32 = 0.1;
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
    /// Share of the curve's most water beyond which more air gave less, in 200ths; 200 where that was never seen.
    pub most: u8,
    /// How it fouls.
    pub trend: Trend,
    /// How the blower ages: the same with every lift, for a place has no record of its own.
    pub blower: Ageing,
}

impl Learned {
    /// What was learned of a lift that was never seen to foul nor past its peak.
    #[must_use]
    pub const fn new(factor: f32, sigma: f32, opening: Opening) -> Self {
        Self {
            factor,
            sigma,
            opening,
            most: WHOLE,
            trend: Trend::NEW,
            blower: Ageing::NEW,
        }
    }
}

/// A whole, in the parts in which [`Learned::most`] is kept.
const WHOLE: u8 = 200;

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
    /// Oxygen of water in balance with the air, mg/L.
    oxygen_mg_l: f32,
    filter: Filter<LIFTS, TANKS>,
    lifts: heapless::Vec<LiftRun, LIFTS>,
    tanks: heapless::Vec<TankRun, TANKS>,
    stops: StopPlan,
    proof: ProofStop,
    /// What the lifts of its tank gave together before a lift was stopped, and what it gives by itself as usual, m3/s.
    before_stop: (f32, f32),
    /// Lifts that share a tank give too much or too little together; and whether they did in the last step.
    odd: Condition,
    was_odd: bool,
    /// A valve is on a long way and takes the pressure with it.
    hurried: bool,
    /// Tanks that share lifts of which one gives no answer to its air, a bit each.
    lost_tanks: u32,
    last: Option<Millis>,
    manifold_pa: f32,
    /// Manifold pressure at which the factors were last doubted for a change of it.
    doubted_pa: f32,
    gauge_pa: Option<f32>,
    /// It is far from its mean: a blower that stopped or started, a big valve that moves.
    gauge_far: Condition,
    /// What the gauge shows above the blower's curve at the airs believed, Pa; zero without a gauge.
    above_curve_pa: f32,
    /// What runs of the blower, and the air that passes it, m3/s.
    blower: Setting,
    passes_m3_s: f32,
    /// Lifts get more air than they need, so that enough passes the blower.
    fed_on: bool,
    essential: bool,
    reserve: Reserve,
    /// Tanks whose overflow would not carry the water with every valve open, a bit each.
    small_overflows: u16,
    since_begin: Held,
    dead_headed: Condition,
    below_floor: Condition,
    air_short: Condition,
    no_levels: Condition,
    no_air: Condition,
    air_weak: Condition,
    balance: WaterSum,
    gauge: Gauge,
    ageing: Ageing,
    swapped: Condition,
    since_leap: Held,
    since_refused: Held,
    since_trial: Held,
    saved_rejected: bool,
    /// Time since the day's look at what changes over weeks, and the lift that is looked at next; 255: none.
    since_look: Held,
    look_at: u8,
    /// The lift that is next asked whether it hints at its outlet or sensor.
    hint_at: u8,
    trial: Option<Trial>,
    /// Lifts whose trial was asked for, a bit each.
    asked: u32,
    outcome: Option<Outcome>,
    alarms: List,
}

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// A controller of no lift and no tank: its steps give nothing. For a `static`, where [`Controller::begin`] then
    /// starts it without passing the whole of it through the stack.
    #[must_use]
    pub const fn idle() -> Self {
        Self {
            installation: Installation::none(),
            conditions: Conditions::NONE,
            oxygen_mg_l: 0.0,
            filter: Filter::idle(),
            lifts: heapless::Vec::new(),
            tanks: heapless::Vec::new(),
            stops: StopPlan::NONE,
            proof: ProofStop::NONE,
            before_stop: (0.0, 0.0),
            odd: Condition::CLEAR,
            was_odd: false,
            hurried: false,
            lost_tanks: 0,
            gauge_far: Condition::CLEAR,
            last: None,
            manifold_pa: 0.0,
            doubted_pa: 0.0,
            gauge_pa: None,
            above_curve_pa: 0.0,
            blower: Setting::FIXED,
            passes_m3_s: 0.0,
            fed_on: false,
            essential: false,
            reserve: Reserve::FULL,
            small_overflows: 0,
            since_begin: Held::NONE,
            dead_headed: Condition::CLEAR,
            below_floor: Condition::CLEAR,
            air_short: Condition::CLEAR,
            no_levels: Condition::CLEAR,
            no_air: Condition::CLEAR,
            air_weak: Condition::CLEAR,
            balance: WaterSum::NEW,
            gauge: Gauge::NEW,
            ageing: Ageing::NEW,
            swapped: Condition::CLEAR,
            since_leap: Held::LONG,
            since_refused: Held::LONG,
            since_trial: Held::LONG,
            saved_rejected: false,
            since_look: Held::NONE,
            look_at: u8::MAX,
            hint_at: 0,
            trial: None,
            asked: 0,
            outcome: None,
            alarms: List::NONE,
        }
    }

    /// Starts a controller. `saved` holds what each lift had learned, in order, or nothing; a wrong count or an absurd
    /// value means it is not used (and an alarm says so).
    ///
    /// The value is about 8 KiB for eight lifts: where the stack is small, use [`Controller::idle`] and
    /// [`Controller::begin`].
    ///
    /// # Errors
    /// All faults found in the installation, when any of them stops it from starting.
    #[allow(clippy::result_large_err)] // once at start, and the error is the point of it
    pub fn new(installation: &Installation<LIFTS, TANKS>, saved: &[Learned]) -> Result<Self, Faults> {
        let mut controller = Self::idle();
        match controller.begin(installation, saved) {
            Ok(()) => Ok(controller),
            Err(faults) => Err(faults),
        }
    }

    /// Starts afresh where it lies, as [`Controller::new`] does. With an error nothing has changed.
    ///
    /// # Errors
    /// All faults found in the installation, when any of them stops it from starting.
    #[allow(clippy::result_large_err)] // once at start, and the error is the point of it
    pub fn begin(&mut self, installation: &Installation<LIFTS, TANKS>, saved: &[Learned]) -> Result<(), Faults> {
        let faults = crate::validate::validate(installation);
        if !faults.can_start() {
            return Err(faults);
        }
        self.take_installation(installation);
        self.small_overflows = faults.overflows_too_small();
        let settings = self.installation.settings;
        let sound = |learned: &Learned| {
            learned.factor > 0.05 && learned.factor < 3.0 && learned.sigma > 0.0 && learned.sigma < 1.0
        };
        let usable = saved.len() == self.installation.lifts.len() && saved.iter().all(sound);
        self.filter.begin(
            self.installation.lifts.len(),
            self.installation.tanks.len(),
            settings.delivery_spread,
        );
        self.lifts.clear();
        self.ageing = Ageing::NEW;
        self.begin_looks(usable);
        for (index, lift) in self.installation.lifts.iter().enumerate() {
            let learned = saved.get(index).filter(|_| usable);
            let preset = Opening::new(settings.preset_opening);
            // A board opens its valves to the preset before anything else; from there they go where they were last.
            let valve = learned.map_or(ValveTrim::new(preset), |learned| {
                ValveTrim::sent(preset, learned.opening)
            });
            let sigma = prior_sigma(&self.installation, lift, &self.conditions);
            self.filter.restart_factor(index, 1.0, sigma);
            if let Some(learned) = learned {
                // An hour may have passed: what was known is known a little less.
                self.filter
                    .restart_factor(index, learned.factor, larger(learned.sigma, 0.05));
            }
            let mut run = LiftRun::new(lift.target, self.filter.factor(index), valve);
            if let Some(learned) = learned {
                run.trust.set_most_share(f32::from(learned.most) / f32::from(WHOLE));
                run.trend = learned.trend;
                run.percent_of_clean = run.trend.percent_of_clean();
                self.ageing = learned.blower;
            }
            let _ = self.lifts.push(run);
        }
        self.tanks.clear();
        for (index, tank) in self.installation.tanks.iter().enumerate() {
            let middle = 0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m);
            self.filter.assume_level(index, middle);
            let _ = self.tanks.push(TankRun::default());
        }
        self.stops = StopPlan::NONE;
        self.proof = ProofStop::NONE;
        self.hint_at = 0;
        self.before_stop = (0.0, 0.0);
        self.odd = Condition::CLEAR;
        self.was_odd = false;
        self.hurried = false;
        self.lost_tanks = 0;
        self.gauge_far = Condition::CLEAR;
        self.last = None;
        self.manifold_pa = self.installation.air.shut_off_pa() * 0.5;
        self.doubted_pa = 0.0;
        self.gauge_pa = None;
        self.above_curve_pa = 0.0;
        self.blower.start();
        self.passes_m3_s = 0.0;
        self.fed_on = false;
        self.essential = false;
        self.reserve = Reserve::FULL;
        self.since_begin = Held::NONE;
        self.dead_headed = Condition::CLEAR;
        self.below_floor = Condition::CLEAR;
        self.air_short = Condition::CLEAR;
        self.no_levels = Condition::CLEAR;
        self.no_air = Condition::CLEAR;
        self.air_weak = Condition::CLEAR;
        self.balance = WaterSum::NEW;
        self.gauge = Gauge::NEW;
        self.swapped = Condition::CLEAR;
        self.since_leap = Held::LONG;
        self.since_refused = Held::LONG;
        self.since_trial = Held::LONG;
        self.saved_rejected = !saved.is_empty() && !usable;
        self.trial = None;
        self.asked = 0;
        self.outcome = None;
        self.alarms = List::NONE;
        self.renew_drifts();
        self.renew_curves();
        Ok(())
    }

    /// Exchanges the installation of a running controller without a bump: with as many lifts and tanks as before, valves,
    /// levels and modes stay as they are, and each lift's factor is changed so that it is believed to deliver what it did.
    /// With other numbers of lifts or tanks it starts afresh. With an error nothing has changed.
    ///
    /// # Errors
    /// All faults found in the installation, when any of them stops it from starting.
    #[allow(clippy::result_large_err)] // once in a while, and the error is the point of it
    pub fn exchange(&mut self, installation: &Installation<LIFTS, TANKS>) -> Result<(), Faults> {
        if installation.lifts.len() != self.lifts.len() || installation.tanks.len() != self.tanks.len() {
            return self.begin(installation, &[]);
        }
        let faults = crate::validate::validate(installation);
        if !faults.can_start() {
            return Err(faults);
        }
        self.take_installation(installation);
        self.trial = None;
        self.asked = 0;
        self.renew_drifts();
        self.renew_curves();
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            run.target = lift.target;
            run.trust.set_most_share(1.0);
            run.trend = Trend::NEW;
            run.percent_of_clean = None;
            let delivered = run.flow.m3_s;
            let now = run.curve.flow(run.air).m3_s;
            let sigma = larger(self.filter.factor_sigma(index), 0.05);
            if delivered > 0.0 && now > 0.0 {
                self.filter.restart_factor(index, delivered / now, sigma);
                let factor = self.filter.factor(index);
                run.trim.restart(run.flow, factor);
            }
        }
        Ok(())
    }

    fn take_installation(&mut self, installation: &Installation<LIFTS, TANKS>) {
        self.installation.copy_from(installation);
        self.conditions = installation.site.conditions();
        self.oxygen_mg_l = crate::guard::saturation_mg_l(&installation.site);
    }

    fn renew_drifts(&mut self) {
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            run.shares = self.installation.shares_receiver(index);
            run.set_drift(crate::lift::drift_velocity_m_s(
                lift.riser.bore_m,
                self.conditions.density_kg_m3,
                self.conditions.surface_tension_n_m,
            ));
        }
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
                factor: if lift.trust.holds_back() {
                    lift.trust.used()
                } else {
                    self.filter.factor(index)
                },
                sigma: self.filter.factor_sigma(index),
                opening: lift.valve.held(),
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a share up to 1
                most: (lift.trust.most_share() * f32::from(WHOLE) + 0.5) as u8,
                trend: lift.trend,
                blower: self.ageing,
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
            Command::EssentialAir(on) => self.essential = on,
            Command::OnBackup(on) => self.reserve.switch(on, self.manifold_pa),
            Command::Acknowledge => {
                self.alarms.acknowledge();
                for run in &mut self.lifts {
                    run.trust.believe();
                }
                for (index, run) in self.tanks.iter_mut().enumerate() {
                    if run.has_moved() {
                        let level = self.filter.level_m(index) + run.watch.shift_m();
                        self.filter.restart_level(index, level, AFTER_JUMP_SIGMA_M);
                        run.watch.unshift();
                    }
                }
            }
            Command::ResetLatched => self.alarms.reset(),
            Command::Silence { minutes } => {
                if minutes > LONGEST_SILENCE_MIN {
                    return Err(Refused::SilenceTooLong);
                }
                self.alarms.silence(minutes);
            }
            Command::Target { lift, flow } => {
                if !(flow.m3_s >= 0.0 && flow.l_min() <= MOST_TARGET_L_MIN) {
                    return Err(Refused::TargetOutOfRange);
                }
                let run = self.lift_mut(lift)?;
                let peak = run.peak.flow.m3_s;
                if peak > 0.0 && flow.m3_s > MOST_OF_PEAK * peak {
                    self.since_refused.clear();
                    return Err(Refused::TargetBeyondLift);
                }
                run.target = flow;
            }
            Command::Manual { lift, opening } => self.lift_mut(lift)?.mode = Mode::Manual(opening),
            Command::Commission { lift } => return self.ask_for_trial(lift),
            Command::OutOfService { lift } => self.lift_mut(lift)?.mode = Mode::OutOfService,
            Command::Automatic { lift } => {
                let (given, index) = (lift, usize::from(lift));
                let lift = self.lift_mut(given)?;
                if lift.mode == Mode::OutOfService {
                    // It may have been cleaned: the best it ever gave is the safe guess, with too much it would overshoot.
                    lift.trust.relearn();
                    lift.trend.serve();
                    lift.percent_of_clean = None;
                    let best = lift.trust.best();
                    // What was worse than that was likely mended meanwhile; the rest is kept, or its noise would be learned anew.
                    if best > MENDED * self.filter.factor(index) {
                        let sigma = larger(self.filter.factor_sigma(index), AFTER_SERVICE_SIGMA);
                        self.filter.restart_factor(index, best, sigma);
                        let lift = self.lift_mut(given)?;
                        lift.trim.restart(lift.flow, best);
                    }
                }
                let lift = self.lift_mut(given)?;
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
        self.take_gauge(readings.manifold, seconds, step_ms);
        for (run, lift) in self.lifts.iter_mut().zip(&self.installation.lifts) {
            run.valve.travel(lift.valve.stroke_s, step_ms, seconds);
        }
        let doubts = self.settle_air(seconds);
        self.predict(&doubts, seconds);
        let any_level = self.take_levels(readings, step_ms, seconds);
        self.renew_curves();
        let fixed = self.no_levels.update(!any_level, any_level, NO_LEVELS_AFTER_S, step_ms);
        let verdicts = self.guard(step_ms);
        let trial = self.run_trial(readings, &verdicts, (step_ms, seconds));
        self.ration(step_ms);
        self.plan_stops((step_ms, seconds), fixed || trial.is_some());
        let aimed = self.aim(&verdicts, (step_ms, seconds), fixed, trial);
        self.move_valves(&aimed, step_ms);
        self.look_daily(step_ms);
        let mut step = Step::empty(readings.now, step_ms);
        self.report(&mut step, &aimed, &verdicts);
        step
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
        self.since_begin.add(step_ms);
        self.since_refused.add(step_ms);
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
