//! What the controller keeps for each lift from step to step.

use crate::air::Path;
use crate::condition::Condition;
use crate::guard::{Delivery, Doubt, Proven, Trend, Trust};
use crate::installation::{Conditions, PooledLift, Settings};
use crate::lift::{Curve, Peak};
use crate::math::{finite_or, seldom, smaller};
use crate::step::LiftState;
use crate::time::Held;
use crate::trim::{Trim, ValveTrim, Wanted, air_to_stand_still, air_when_held};
use crate::units::{FreeAir, Opening, WaterFlow};

/// Who sets a lift's valve.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum Mode {
    /// The trim.
    Automatic,
    /// A person: this opening.
    Manual(Opening),
    /// Nobody: at its air floor, below the onset.
    OutOfService,
}

/// What the controller wants of a lift in this step, before its own mode is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum Order {
    /// Keep to the target.
    Trim,
    /// Stand still below the onset, to measure the others.
    StandStill,
    /// A tank is too full or too empty: air only.
    Hold,
    /// A trial of this lift: go to this air now, or stay.
    Try(Option<FreeAir>),
    /// A trial of another lift: stay.
    Wait,
    /// No level can be read: stay.
    Fix,
    /// Air floor only.
    EssentialAir,
    /// No air at all: the battery must last for others.
    GiveUp,
}

/// The way that a valve is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum Way {
    /// None, or as the trim moves it all the time.
    Short,
    /// To standing still to be measured, or back from it.
    Long,
    /// From standing still, held or out of service: its water starts anew.
    Starts,
}

/// What the tanks of a lift tell of it in this step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum Tells {
    /// It is held, or draws from a tank too empty.
    Nothing,
    /// Another lift is commissioned.
    InTrial,
    /// The tank it fills stands above its warning level.
    High,
    /// All they can.
    All,
}

/// Seconds without a move after which a lift counts as holding.
const HOLDING_AFTER_S: u32 = 60;
/// Time over which a full stroke by hand is spread, s: quick enough for a person, slow enough for the neighbours to be trimmed.
const MANUAL_STROKE_S: u32 = 200;
/// Deviation of the delivery factor above which a lift counts as still settling.
const SETTLED_SIGMA: f32 = 0.05;

/// Delivery below this share of the curve for [`WEAK_AFTER_S`] is an alarm.
const WEAK_BELOW: f32 = 0.5;
/// Seconds of weak delivery before it is an alarm.
const WEAK_AFTER_S: u32 = 600;
/// Seconds for which water must run back, or run where a lift is to be held.
const ASTRAY_S: u32 = 60;
/// Less than this running back is nothing, m3/s.
const RUNS_BACK_M3_S: f32 = 1.0e-6;

/// One lift at run time.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct LiftRun {
    pub mode: Mode,
    pub target: WaterFlow,
    pub trim: Trim,
    pub valve: ValveTrim,
    pub curve: Curve,
    pub peak: Peak,
    /// What its air meets after the valve.
    pub path: Path,
    /// Air it is believed to get.
    pub air: FreeAir,
    /// Air at which its factor was last doubted for a change of air.
    pub doubted_at: FreeAir,
    /// Flow it is believed to deliver.
    pub flow: WaterFlow,
    /// Flow of its curve at the air it is believed to get, m3/s.
    pub curve_m3_s: f32,
    pub trust: Trust,
    pub trend: Trend,
    /// What it gives of what it gave when clean, as of the last look, percent.
    pub percent_of_clean: Option<u8>,
    /// What a stop has shown of the outlet and the sensor of its tank.
    pub proven: Proven,
    /// Other lifts fill the same tank.
    pub shares: bool,
    pub short: bool,
    pub state: LiftState,
    beyond: bool,
    at_once: bool,
    /// Its valve is on a long way, from standing still or to it.
    pub way: Way,
    pub out_of_reach: Condition,
    pub weak: Condition,
    /// Water runs back through it, or through it whatever its valve does while a tank is too full or too empty.
    pub astray: Condition,
    /// Its air floor is given up, and for how many minutes lately.
    pub without_air: bool,
    pub without_min: u16,
    still_for: Held,
}

impl LiftRun {
    pub fn new(target: WaterFlow, factor: f32, valve: ValveTrim) -> Self {
        Self {
            mode: Mode::Automatic,
            target,
            trim: Trim::new(target, factor),
            valve,
            curve: Curve::nothing(),
            peak: Peak::default(),
            path: Path::default(),
            air: FreeAir::ZERO,
            doubted_at: FreeAir::ZERO,
            flow: WaterFlow::ZERO,
            curve_m3_s: 0.0,
            trust: Trust::NEW,
            trend: Trend::NEW,
            percent_of_clean: None,
            proven: Proven::Nothing,
            shares: false,
            short: false,
            state: LiftState::Settling,
            beyond: false,
            at_once: false,
            way: Way::Short,
            out_of_reach: Condition::default(),
            weak: Condition::default(),
            astray: Condition::default(),
            without_air: false,
            without_min: 0,
            still_for: Held::NONE,
        }
    }

    /// Sets the drift velocity of bubbles in its riser times their slip, m/s: it depends on bore, water and calibration alone, and lasts
    /// from curve to curve.
    pub fn set_drift(&mut self, drift_m_s: f32) {
        self.curve = Curve::dry(drift_m_s);
    }

    pub fn renew_curve(&mut self, lift: &PooledLift, conditions: &Conditions, source_m: f32, receiver_m: f32) {
        self.curve = Curve::with_slip(
            self.curve.drift_m_s(),
            &lift.riser,
            &lift.calibration,
            conditions,
            source_m,
            Some(receiver_m),
        );
        self.peak = self.curve.peak_near(&self.peak);
        self.path = Path::new(
            &lift.line,
            &lift.diffuser,
            self.curve.injector_pa(),
            conditions.atmosphere_pa,
        );
    }

    /// The air this lift asks for, and with it the state it is in.
    pub fn claim(&mut self, order: Order, floor: FreeAir, lift: &PooledLift, settings: &Settings) -> FreeAir {
        let before = self.state;
        self.beyond = false;
        self.at_once = false;
        let (air, state) = match (order, self.mode) {
            (Order::GiveUp, _) => (FreeAir::ZERO, LiftState::EssentialAir),
            // Below the onset but open: when the hand valve is opened again the fish have air at once.
            (_, Mode::OutOfService) => (air_when_held(&self.curve, floor), LiftState::OutOfService),
            (Order::Hold, _) => (air_when_held(&self.curve, lift.air_floor), LiftState::HeldByLevel),
            (Order::Try(air), _) => {
                self.at_once = air.is_some();
                (air.unwrap_or(self.air), LiftState::Commissioning)
            }
            (Order::EssentialAir, _) => (floor, LiftState::EssentialAir),
            // Before what makes others stay: without levels a person's hand is all there is.
            (_, Mode::Manual(_)) => (self.air, LiftState::Manual),
            (Order::Wait, _) => (self.air, LiftState::WaitingForCommissioning),
            (Order::Fix, _) => (self.air, LiftState::Fixed),
            (Order::StandStill, Mode::Automatic) => {
                let still = air_to_stand_still(&self.curve, lift.air_floor).unwrap_or(floor);
                (still, LiftState::StoppedToMeasure)
            }
            (Order::Trim, Mode::Automatic) => {
                let wanted = self.wanted(floor, settings);
                self.beyond = wanted.out_of_reach;
                (
                    wanted.air,
                    if self.beyond {
                        LiftState::OutOfReach
                    } else {
                        self.trimmed_state()
                    },
                )
            }
        };
        self.state = state;
        if state != before {
            let stood = matches!(
                before,
                LiftState::StoppedToMeasure | LiftState::HeldByLevel | LiftState::OutOfService
            );
            if stood && self.is_trimmed() {
                let known = before == LiftState::StoppedToMeasure;
                self.way = if known { Way::Long } else { Way::Starts };
            } else if !stood && state == LiftState::StoppedToMeasure {
                self.way = Way::Long;
            }
        }
        air
    }

    fn wanted(&self, floor: FreeAir, settings: &Settings) -> Wanted {
        self.trim.wanted(&self.curve, self.most_m3_s(settings), floor)
    }

    /// The most water of its curve that it may be asked for, m3/s.
    pub fn most_m3_s(&self, settings: &Settings) -> f32 {
        smaller(settings.peak_share, self.trust.most_share()) * self.peak.flow.m3_s
    }

    /// Air that it can take beyond what it wants and gives more water for, m3/s; none where the trim does not decide.
    #[inline(never)]
    pub fn room_to_peak_m3_s(&self, wanted: FreeAir, settings: &Settings) -> f32 {
        let most = WaterFlow::from_m3_s(self.most_m3_s(settings));
        let air = self.curve.air_for(most).unwrap_or(FreeAir::ZERO);
        if self.is_trimmed() {
            seldom::positive(air.m3_s - wanted.m3_s)
        } else {
            0.0
        }
    }

    /// Its factor in so many days, when it fouls on as it does.
    #[inline(never)]
    pub fn factor_in(&self, days: f32) -> f32 {
        let by_trend = self.trend.factor_in(days);
        seldom::limit(by_trend.unwrap_or(self.trust.used()), 0.01, 10.0)
    }

    /// The air for this share of its target in so many days.
    #[inline(never)]
    pub fn air_in(&self, days: f32, share: f32, settings: &Settings) -> FreeAir {
        let asked = smaller(
            share * self.target.m3_s / self.factor_in(days),
            self.most_m3_s(settings),
        );
        self.curve.air_for(WaterFlow::from_m3_s(asked)).unwrap_or(self.air)
    }

    /// The air it would ask for if nothing had to be given up.
    pub fn usual_air(&self, floor: FreeAir, settings: &Settings) -> FreeAir {
        match self.mode {
            Mode::Automatic => self.wanted(floor, settings).air,
            Mode::Manual(_) => self.air,
            Mode::OutOfService => floor,
        }
    }

    /// Judges what the filter says of it, while it serves, as far as its tanks tell. Gives what the filter is to doubt of its factor.
    pub fn judge(
        &mut self,
        seen: (f32, f32, f32),
        beside_one_lost: bool,
        tells: Tells,
        (seconds, step_ms): (f32, u32),
    ) -> Doubt {
        if tells == Tells::Nothing || !self.is_trimmed() {
            self.trust.break_off();
            return Doubt::Nothing;
        }
        let (factor, variance, together) = seen;
        let seen = Delivery {
            factor,
            variance,
            together,
            shares: self.shares,
            curve_m3_s: self.curve_m3_s,
            target_m3_s: self.trim.ramped().m3_s,
            at_its_most: matches!(self.state, LiftState::OutOfReach | LiftState::ShortOfAir),
            peak_m3_s: self.peak.flow.m3_s,
            beside_one_lost,
        };
        match tells {
            Tells::InTrial => self.trust.follow(factor),
            Tells::High => self.trust.stand_high(&seen, seconds, step_ms),
            _ => return self.trust.update(&seen, seconds, step_ms),
        }
        Doubt::Nothing
    }

    fn trimmed_state(&self) -> LiftState {
        if self.trust.stands() {
            return LiftState::Stopped;
        }
        let gap = (self.target.m3_s - self.trim.ramped().m3_s).abs();
        if gap > 0.005 * self.target.m3_s {
            LiftState::Settling
        } else if self.still_for.reached_s(HOLDING_AFTER_S) {
            LiftState::Holding
        } else {
            LiftState::Trimming
        }
    }

    /// Works out what it delivers, and whether that is weak or astray; the flow of its curve, m3/s.
    #[inline(never)]
    pub fn note_flow(&mut self, factor: f32, sigma: f32, step_ms: u32) -> f32 {
        let serving = self.state != LiftState::OutOfService;
        let curve = if serving {
            self.curve.at_near(self.air, self.curve_m3_s).flow
        } else {
            WaterFlow::ZERO
        };
        self.curve_m3_s = curve.m3_s;
        self.note_sigma(sigma);
        self.flow = WaterFlow::from_m3_s(finite_or(factor * curve.m3_s, 0.0));
        let judged = self.is_trimmed() && sigma < 0.1;
        self.weak.update(
            judged && factor < WEAK_BELOW,
            !judged || factor > 1.1 * WEAK_BELOW,
            WEAK_AFTER_S,
            step_ms,
        );
        let strays = match self.state {
            LiftState::HeldByLevel => self.curve.lift_m() < 0.0,
            LiftState::StoppedToMeasure | LiftState::Commissioning | LiftState::OutOfService => false,
            _ => self.flow.m3_s < -RUNS_BACK_M3_S,
        };
        self.astray.follow(strays, ASTRAY_S, step_ms);
        curve.m3_s
    }

    /// A lift whose factor is still unsure is settling, whatever its valve does.
    pub fn note_sigma(&mut self, sigma: f32) {
        if sigma > SETTLED_SIGMA && matches!(self.state, LiftState::Holding | LiftState::Trimming) {
            self.state = LiftState::Settling;
        }
    }

    /// True when its valve has not been moved for so long.
    pub fn still_for_s(&self, seconds: f32) -> bool {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // some seconds
        self.still_for.reached_s(seconds as u32)
    }

    /// True when somebody has asked that it get little air, and knows: tried, out of service, or given up on a battery.
    pub fn is_kept_low(&self) -> bool {
        self.without_air || matches!(self.state, LiftState::Commissioning | LiftState::OutOfService)
    }

    /// True when the trim decides.
    pub fn is_trimmed(&self) -> bool {
        matches!(
            self.state,
            LiftState::Settling
                | LiftState::Trimming
                | LiftState::Holding
                | LiftState::OutOfReach
                | LiftState::ShortOfAir
                | LiftState::Stopped
        )
    }

    /// True while its valve is on a long way.
    pub fn is_under_way(&self) -> bool {
        self.way != Way::Short
    }

    /// Sends the valve where this step wants it; `aimed` would give it the air it is to get.
    pub fn move_valve(&mut self, aimed: Opening, settings: &Settings, never_read: bool, hurried: bool, step_ms: u32) {
        let limits = (settings.least_opening, settings.most_opening);
        let within = |opening: Opening| Opening::within(opening.share(), limits);
        let before = self.valve.held();
        // A valve outside the limits (shut by hand before, or as saved by other settings) comes inside at once.
        let outside = within(before) != before;
        match (self.state, self.mode) {
            (LiftState::Manual, Mode::Manual(opening)) => {
                self.valve.go_slowly(within(opening), MANUAL_STROKE_S, step_ms);
            }
            (LiftState::Fixed, _) if never_read || outside || before == Opening::SHUT => {
                self.valve.go_to(within(Opening::new(settings.preset_opening)));
            }
            (LiftState::Fixed | LiftState::WaitingForCommissioning, _) => {}
            (LiftState::Commissioning, _) if !self.at_once => {}
            (LiftState::Commissioning, _) => self.valve.go_to(within(aimed)),
            _ if outside => self.valve.go_to(within(aimed)),
            _ if hurried => self.valve.hurry(aimed),
            _ => {
                self.valve.follow(aimed, settings);
            }
        }
        if self.is_under_way() && self.valve.position() == self.valve.held() {
            self.way = Way::Short;
        }
        if self.valve.held() == before {
            self.still_for.add(step_ms);
        } else {
            self.still_for.clear();
        }
        self.out_of_reach.follow(self.beyond, 60, step_ms);
    }
}
