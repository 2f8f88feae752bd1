//! The controller: one step from readings to openings.

mod commissioning;
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

    fn take_gauge(&mut self, reading: Reading, seconds: f32) {
        let most = 1.5 * self.installation.air.shut_off_pa();
        self.gauge_pa = match reading {
            Reading::Value(pa) if self.installation.air.gauge_noise_pa.is_some() && pa >= -500.0 && pa <= most => {
                let pa = larger(pa, 0.0);
                let share = seconds / (seconds + GAUGE_FILTER_S);
                Some(self.gauge_pa.map_or(pa, |before| before + share * (pa - before)))
            }
            _ => None,
        };
    }

    fn branches(&self) -> heapless::Vec<Branch<'_>, LIFTS> {
        let mut branches = heapless::Vec::new();
        for (lift, run) in self.installation.lifts.iter().zip(&self.lifts) {
            let path = Path::new(
                &lift.line,
                &lift.diffuser,
                run.curve.injector_pa(),
                self.conditions.atmosphere_pa,
            );
            let _ = branches.push((&lift.valve, path));
        }
        branches
    }

    /// Works out the air of each lift from where its valve stands.
    fn settle_air(&mut self, seconds: f32) {
        let settings = self.installation.settings;
        let mut openings = [Opening::SHUT; LIFTS];
        for (opening, run) in openings.iter_mut().zip(&self.lifts) {
            *opening = run.valve.position();
        }
        let fresh_stop = self.stops.is_fresh();
        let manifold = Manifold::new(&self.installation.air, self.conditions.atmosphere_pa, self.gauge_pa);
        let settled = manifold.settle(&self.branches(), &openings, self.manifold_pa);
        self.manifold_pa = settled.pressure_pa;
        // A moved neighbour shows as pressure: what the valve made of the old drop it may not make of the new one.
        let drop = larger(
            settled.pressure_pa
                - self
                    .lifts
                    .iter()
                    .fold(0.0, |most, run| larger(most, run.curve.injector_pa())),
            500.0,
        );
        let pressed = (settled.pressure_pa - self.doubted_pa).abs() / (2.0 * drop);
        let pressed = if pressed > DOUBT_STEP {
            self.doubted_pa = settled.pressure_pa;
            pressed
        } else {
            0.0
        };
        self.above_curve_pa = self.gauge_pa.map_or(0.0, |gauge| {
            let lifts = settled
                .air
                .iter()
                .take(self.lifts.len())
                .fold(0.0f32, |sum, air| sum + air.m3_s);
            gauge - manifold.pressure_at_pa(lifts)
        });
        for (run, air) in self.lifts.iter_mut().zip(settled.air) {
            let before = run.air;
            run.air = air;
            run.doubt = 0.0;
            if run.mode == Mode::OutOfService {
                continue;
            }
            run.doubt = settings.delivery_walk * settings.delivery_walk * seconds;
            let reference = run.doubted_at.m3_s;
            let change = (air.m3_s - reference).abs() / larger(larger(air.m3_s, reference), 1.0e-9);
            let change = if change > DOUBT_STEP {
                run.doubted_at = air;
                larger(change, pressed)
            } else {
                pressed
            };
            if change > 0.0 {
                if before.m3_s > 0.0 && air.m3_s > 0.0 && !fresh_stop {
                    run.doubt += settings.delivery_shock * settings.delivery_shock * DOUBT_UNIT * change;
                }
            }
        }
    }

    /// Carries levels and factors on with the flows of the moment.
    fn predict(&mut self, seconds: f32) {
        let mut lifts = [LiftInput::default(); LIFTS];
        for ((input, run), lift) in lifts.iter_mut().zip(&self.lifts).zip(&self.installation.lifts) {
            // Out of service, a person may have shut it at once: what its valve still passes tells nothing of its factor.
            let point = if run.mode == Mode::OutOfService {
                Point::default()
            } else {
                run.curve.at(run.air)
            };
            *input = LiftInput {
                from: usize::from(lift.from),
                to: usize::from(lift.to),
                curve_m3_s: point.flow.m3_s,
                per_source: point.per_source_m,
                per_receiver: point.per_receiver_m,
                doubt: run.doubt,
            };
        }
        let mut outlets = [[None; OUTLETS]; TANKS];
        let mut tanks = [TankInput::default(); TANKS];
        for (index, ((tank, input), row)) in self
            .installation
            .tanks
            .iter()
            .zip(&mut tanks)
            .zip(&mut outlets)
            .enumerate()
        {
            let level = self.filter.level_m(index);
            let mut unseen = self.installation.settings.unseen_flow_m3_s;
            if self.trial.is_some() {
                unseen = larger(unseen, commissioning::DOUBT_IN_TRIAL_M3_S);
            }
            for (outlet, slot) in tank.outlets.iter().zip(row.iter_mut()) {
                let to = match outlet.to {
                    Drain::Tank(to) => Some(usize::from(to)),
                    Drain::Away => None,
                };
                let downstream = to.map(|to| self.filter.level_m(to) + self.floor_difference_m(to, index));
                let flow = outlet.at(level, downstream);
                if flow.doubtful {
                    // Outside the law's range: what it says may be a tenth wrong, differently from one head to the next.
                    unseen += 0.02 * flow.flow_m3_s.abs();
                }
                *slot = Some(OutletInput {
                    from: index,
                    to,
                    flow_m3_s: flow.flow_m3_s,
                    per_level: flow.per_level,
                    per_downstream: flow.per_downstream,
                });
            }
            *input = TankInput {
                area_m2: tank.area_m2(level),
                most_m: tank.rim_m + 0.25,
                unseen_m3_s: unseen,
            };
        }
        let lifts = lifts.get(..self.lifts.len()).unwrap_or(&[]);
        let tanks = tanks.get(..self.tanks.len()).unwrap_or(&[]);
        self.filter
            .predict(seconds, lifts, outlets.iter().flatten().flatten().copied(), tanks);
    }

    /// Height of one tank's floor above another's, m.
    fn floor_difference_m(&self, of: usize, above: usize) -> f32 {
        let floor = |tank: usize| self.installation.tanks.get(tank).map_or(0.0, |tank| tank.floor_m);
        floor(of) - floor(above)
    }

    /// Checks and takes the level readings; true when at least one could be used.
    fn take_levels(&mut self, readings: &Readings<TANKS>, step_ms: u32, seconds: f32) -> bool {
        let mut any = false;
        let rates = self.fastest_rates();
        for (index, ((run, tank), rate)) in self
            .tanks
            .iter_mut()
            .zip(&self.installation.tanks)
            .zip(rates)
            .enumerate()
        {
            let reading = readings.levels.get(index).copied().unwrap_or(Reading::Missing);
            let sensor = &tank.sensor;
            let checked = run.watch.check(reading, sensor, tank.rim_m, rate, (step_ms, seconds));
            if let Checked::Level(level) = checked {
                any = true;
                if run.watch.believed_jump() || !self.filter.knows(index) {
                    self.filter
                        .restart_level(index, level, crate::math::sqrt(sensor.variance_m2()));
                } else {
                    self.filter.update(index, level, sensor.variance_m2());
                }
            }
            run.note(checked, step_ms);
        }
        any
    }

    /// The fastest each level can move by lifts and outlets, m/s: all lifts at their peak, and as much again through outlets.
    fn fastest_rates(&self) -> [f32; TANKS] {
        let mut rates = [0.0f32; TANKS];
        for (run, lift) in self.lifts.iter().zip(&self.installation.lifts) {
            for tank in [lift.from, lift.to] {
                let index = usize::from(tank);
                if let (Some(rate), Some(tank)) = (rates.get_mut(index), self.installation.tanks.get(index)) {
                    *rate += 2.0 * run.peak.flow.m3_s / tank.area_m2(self.filter.level_m(index));
                }
            }
        }
        rates
    }

    /// The curves at the levels of the moment.
    fn renew_curves(&mut self) {
        for (run, lift) in self.lifts.iter_mut().zip(&self.installation.lifts) {
            let source = self.filter.level_m(usize::from(lift.from));
            let receiver = self.filter.level_m(usize::from(lift.to));
            let receiver = self.installation.receiver_above_source_floor_m(lift, receiver);
            run.renew_curve(lift, &self.conditions, source, receiver);
        }
    }

    fn guard(&mut self, step_ms: u32) -> [TankVerdict; TANKS] {
        let settings = self.installation.settings;
        let mut verdicts = [TankVerdict::default(); TANKS];
        let tanks = self.tanks.iter_mut().zip(&self.installation.tanks).zip(&mut verdicts);
        for (index, ((run, tank), verdict)) in tanks.enumerate() {
            let unsure = if matches!(run.reading, Checked::Level(_)) {
                0.0
            } else {
                self.filter.level_sigma_m(index)
            };
            *verdict = run.guard.update(
                self.filter.level_m(index),
                unsure,
                &tank.limits,
                settings.level_delay_s,
                settings.level_deadband_m,
                step_ms,
            );
        }
        verdicts
    }

    fn plan_stops(&mut self, step_ms: u32, fixed: bool) {
        let settings = self.installation.settings;
        let may = |index: usize| !fixed && !self.essential && self.may_be_stopped(index) && self.others_steady(index);
        let told = self.stops.running().is_some_and(|stopped| self.others_known(stopped));
        let mut stops = self.stops;
        stops.advance(
            self.lifts.len(),
            (settings.stop_every_s, settings.stop_for_s),
            step_ms,
            told,
            may,
        );
        self.stops = stops;
    }

    /// True when what every other lift into this lift's tank delivers is known well.
    fn others_known(&self, stopped: usize) -> bool {
        let Some(own) = self.installation.lifts.get(stopped) else {
            return true;
        };
        let others = self
            .installation
            .lifts
            .iter()
            .enumerate()
            .filter(|(other, lift)| *other != stopped && lift.to == own.to);
        others
            .map(|(other, _)| self.filter.factor_sigma(other))
            .all(|sigma| sigma < KNOWN_WELL)
    }

    /// True when this lift shares its tank, may be stopped, and can stand still without leaving its air floor.
    fn may_be_stopped(&self, index: usize) -> bool {
        let (Some(lift), Some(run)) = (self.installation.lifts.get(index), self.lifts.get(index)) else {
            return false;
        };
        lift.may_stop
            && self.installation.shares_receiver(index)
            && air_to_stand_still(&run.curve, lift.air_floor).is_some()
    }

    /// True when this lift and those it shares a tank with run in automatic, undisturbed by a level.
    fn others_steady(&self, index: usize) -> bool {
        let Some(own) = self.installation.lifts.get(index) else {
            return false;
        };
        self.lifts
            .iter()
            .zip(&self.installation.lifts)
            .filter(|(_, lift)| lift.to == own.to)
            .all(|(run, _)| {
                run.mode == Mode::Automatic && !matches!(run.state, LiftState::HeldByLevel | LiftState::ShortOfAir)
            })
    }

    /// The air each lift is to get, after guard, stops and sharing, and the opening for it.
    fn aim(&mut self, verdicts: &[TankVerdict; TANKS], seconds: f32, fixed: bool, trial: Option<(usize, Move)>) {
        let settings = self.installation.settings;
        let stopped = self.stops.running();
        let others_wait = self.trial.as_ref().is_some_and(Trial::others_wait);
        let verdict = |tank: u8| verdicts.get(usize::from(tank)).copied().unwrap_or_default();
        let mut claims: heapless::Vec<Claim, LIFTS> = heapless::Vec::new();
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            let floor = floor_with_margin(lift.air_floor);
            let held = verdict(lift.to).too_high || verdict(lift.from).too_low;
            run.trim
                .advance(run.target, self.filter.factor(index), seconds, &settings);
            let order = match trial {
                Some((_, Move::End(_))) | None if held => Order::Hold,
                Some((tried, Move::Air(air))) if tried == index => Order::Try(Some(air)),
                Some((tried, Move::Keep)) if tried == index => Order::Try(None),
                Some((_, Move::Keep | Move::Air(_))) if others_wait => Order::Wait,
                _ if fixed => Order::Fix,
                _ if self.essential => Order::EssentialAir,
                _ if stopped == Some(index) => Order::StandStill,
                _ => Order::Trim,
            };
            let claim = run.claim(order, floor, lift, &settings);
            let priority = if self.essential && self.installation.serves_fish(lift) {
                0
            } else {
                lift.priority
            };
            let floor = FreeAir::from_m3_s(smaller(floor.m3_s, claim.m3_s));
            let _ = claims.push(Claim {
                wanted: claim,
                floor,
                priority,
            });
        }
        let (air, short, openings) = {
            let manifold = Manifold::new(&self.installation.air, self.conditions.atmosphere_pa, self.gauge_pa)
                .shifted(self.above_curve_pa);
            let branches = self.branches();
            let (air, short) = share_out(&claims, |air| manifold.can_serve(&branches, air, settings.most_opening));
            let limits = (settings.least_opening, settings.most_opening);
            (air, short, manifold.feed_forward(&branches, &air, limits))
        };
        let margin = |air: &FreeAir, claim: &Claim| air.m3_s < 0.995 * claim.wanted.m3_s;
        for (((run, air), claim), opening) in self.lifts.iter_mut().zip(&air).zip(&claims).zip(openings) {
            run.wanted_air = *air;
            run.feed_forward = opening;
            run.short = short && margin(air, claim);
            if run.short && run.is_trimmed() {
                run.state = LiftState::ShortOfAir;
            }
        }
    }

    fn move_valves(&mut self, step_ms: u32) {
        let settings = self.installation.settings;
        let never_read = (0..self.tanks.len()).all(|tank| !self.filter.knows(tank));
        for run in &mut self.lifts {
            run.move_valve(&settings, never_read, step_ms);
        }
        let short = self.lifts.iter().any(|run| run.short);
        self.air_short
            .update_slow(short, !short, (20, AIR_SHORT_OFF_S), step_ms);
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
