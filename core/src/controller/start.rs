//! Beginning with an installation, and changing to another while it runs.

use super::learned::{FACTORS, MOST_SIGMA};
use super::*;
use crate::math::seldom::{larger, limit};

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// A controller of no lift and no tank: its steps give nothing. For a `static`, where [`Controller::begin`] then
    /// starts it without passing the whole of it through the stack.
    #[must_use]
    // Written out where it is made, or it is made on the stack first and then moved to its place: 5 KB of stack for 360 bytes of flash.
    #[allow(clippy::inline_always)]
    #[inline(always)]
    pub const fn idle() -> Self {
        Self {
            installation: Installed::none(),
            conditions: Conditions::NONE,
            oxygen_mg_l: 0.0,
            filter: Filter::idle(),
            lifts: heapless::Vec::new(),
            tanks: heapless::Vec::new(),
            manifold_pa: 0.0,
            small_overflows: 0,
            ageing: Ageing::NEW,
            since_look: Held::NONE,
            look_at: u8::MAX,
            look_bit: 0,
            look_days: 0,
            trial: Trying::Nothing,
            alarms: List::NONE,
            place: PlaceRun::new(),
        }
    }

    /// Starts a controller. `saved` holds what each lift had learned, in order, or nothing; a wrong count or an absurd
    /// value means it is not used (and an alarm says so).
    ///
    /// What only warns is not an error and not told here: [`validate`](crate::validate::validate) tells it, before or after.
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
            (FACTORS.0..=FACTORS.1).contains(&learned.factor) && learned.sigma > 0.0 && learned.sigma <= MOST_SIGMA
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
                run.trust.set_most_share(learned.most_share());
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
        self.place = PlaceRun::new();
        self.manifold_pa = self.installation.air.shut_off_pa() * 0.5;
        self.place.blower.start();
        self.place.saved_rejected = !saved.is_empty() && !usable;
        self.trial = Trying::Nothing;
        self.alarms = List::NONE;
        self.renew_drifts();
        self.renew_curves();
        Ok(())
    }

    /// Exchanges the installation of a running controller without a bump: with as many lifts and tanks as before, valves,
    /// levels and modes stay as they are, and each lift's factor is changed so that it is believed to deliver what it did. A target
    /// that was commanded stays too, unless the installation now tells another one for that lift than before.
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
        let told = self.installation.lifts.iter().zip(&installation.lifts);
        for (run, (before, now)) in self.lifts.iter_mut().zip(told) {
            if now.target != before.target {
                run.target = now.target;
            }
        }
        self.take_installation(installation);
        self.small_overflows = faults.overflows_too_small();
        self.place.since_begin = Held::NONE;
        if self.trial.running().is_some() {
            self.trial = Trying::Nothing;
        }
        self.place.asked = 0;
        self.renew_drifts();
        self.renew_curves();
        for (index, run) in self.lifts.iter_mut().enumerate() {
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

    #[inline(never)] // what passes through its frame is not on the stack while the rest begins
    fn take_installation(&mut self, installation: &Installation<LIFTS, TANKS>) {
        self.installation.take(installation);
        self.conditions = installation.site.conditions();
        self.oxygen_mg_l = crate::guard::saturation_mg_l(&installation.site);
    }

    /// What follows from the installation alone: who shares a tank, how fast bubbles rise.
    pub(super) fn renew_drifts(&mut self) {
        for (index, (run, lift)) in self.lifts.iter_mut().zip(&self.installation.lifts).enumerate() {
            run.shares = self.installation.shares_receiver(index);
            let drift_m_s = crate::lift::drift_velocity_m_s(
                lift.riser.bore_m,
                self.conditions.density_kg_m3,
                self.conditions.surface_tension_n_m,
            );
            run.set_drift(drift_m_s * lift.calibration.slip);
        }
    }
}

/// Standard deviation of a delivery factor before anything was learned: that of the fitted curve at the air for the
/// target with the source in the middle of its band, at least 3 %; the spread of the settings for a lift never measured.
pub(super) fn prior_sigma<const LIFTS: usize, const TANKS: usize>(
    installation: &Installed<LIFTS, TANKS>,
    lift: &PooledLift,
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
