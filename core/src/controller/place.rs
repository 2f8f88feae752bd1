//! What the controller keeps for the whole place from step to step.

use crate::air::Setting;
use crate::condition::Condition;
use crate::guard::{Gauge, ProofStop, Reserve, WaterSum};
use crate::possibly::Possibly;
use crate::stop::StopPlan;
use crate::time::{Held, Millis};

/// The place at run time; all of it begins anew with an installation.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct PlaceRun {
    pub stops: StopPlan,
    pub proof: ProofStop,
    /// What the lifts of its tank gave together before a lift was stopped, and what it gives by itself as usual, m3/s.
    pub before_stop: (f32, f32),
    /// Lifts that share a tank give too much or too little together; and whether they did in the last step.
    pub odd: Condition,
    pub was_odd: bool,
    /// A valve is on a long way and takes the pressure with it.
    pub hurried: bool,
    /// Tanks that share lifts of which one gives no answer to its air, a bit each.
    pub lost_tanks: u32,
    pub last: Option<Millis>,
    /// Manifold pressure at which the factors were last doubted for a change of it.
    pub doubted_pa: f32,
    pub gauge_pa: Possibly,
    /// It is far from its mean: a blower that stopped or started, a big valve that moves.
    pub gauge_far: Condition,
    /// What the gauge shows above the blower's curve at the airs believed, Pa; zero without a gauge.
    pub above_curve_pa: f32,
    /// What runs of the blower, and the air that passes it, m3/s.
    pub blower: Setting,
    pub passes_m3_s: f32,
    /// Lifts get more air than they need, so that enough passes the blower.
    pub fed_on: bool,
    pub essential: bool,
    pub reserve: Reserve,
    /// Since it began with this installation, or was given it.
    pub since_begin: Held,
    pub dead_headed: Condition,
    pub below_floor: Condition,
    pub air_short: Condition,
    pub no_levels: Condition,
    pub no_air: Condition,
    pub air_weak: Condition,
    pub balance: WaterSum,
    pub gauge: Gauge,
    pub swapped: Condition,
    /// Tanks whose sensors show what another showed before, and the other way round, a bit each.
    pub swapped_tanks: u32,
    pub since_leap: Held,
    pub since_refused: Held,
    pub since_trial: Held,
    pub saved_rejected: bool,
    /// The lift that is next asked whether it hints at its outlet or sensor.
    pub hint_at: u8,
    /// Lifts whose trial was asked for, a bit each.
    pub asked: u32,
    /// Lifts that stood when others last ran, a bit each.
    pub stood: u32,
}

impl PlaceRun {
    /// Nothing has happened yet. One function, that it stands in the program once.
    #[inline(never)]
    pub const fn new() -> Self {
        Self {
            stops: StopPlan::NONE,
            proof: ProofStop::NONE,
            before_stop: (0.0, 0.0),
            odd: Condition::CLEAR,
            was_odd: false,
            hurried: false,
            lost_tanks: 0,
            last: None,
            doubted_pa: 0.0,
            gauge_pa: Possibly::NONE,
            gauge_far: Condition::CLEAR,
            above_curve_pa: 0.0,
            blower: Setting::FIXED,
            passes_m3_s: 0.0,
            fed_on: false,
            essential: false,
            reserve: Reserve::FULL,
            since_begin: Held::NONE,
            dead_headed: Condition::CLEAR,
            below_floor: Condition::CLEAR,
            air_short: Condition::CLEAR,
            no_levels: Condition::CLEAR,
            no_air: Condition::CLEAR,
            air_weak: Condition::CLEAR,
            balance: WaterSum::NEW,
            gauge: Gauge::NEW,
            swapped: Condition::CLEAR,
            swapped_tanks: 0,
            since_leap: Held::LONG,
            since_refused: Held::LONG,
            since_trial: Held::LONG,
            saved_rejected: false,
            hint_at: 0,
            asked: 0,
            stood: 0,
        }
    }
}
