//! Everything the place is, as one value that can be stored, sent and fingerprinted.

use crate::air::{AirSupply, CHARACTERISTIC_POINTS, Diffuser, Line, Valve, ValvePoint};
use crate::lift::{Calibration, Riser};
use crate::tank::Tank;
use crate::units::{FreeAir, WaterFlow};
use serde::{Deserialize, Serialize};

mod installed;
mod pool;

pub use crate::site::{Conditions, Site};
pub use installed::{Installed, PooledLift, PooledTank};
pub(crate) use pool::Pools;

/// An installation of at most `LIFTS` lifts and `TANKS` tanks.
///
/// The capacities only bound memory: nothing computed from an installation depends on them. Each is 32 at most (a controller for more does not
/// compile).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Installation<const LIFTS: usize, const TANKS: usize> {
    /// Water and atmosphere.
    pub site: Site,
    /// Blower and manifold.
    pub air: AirSupply,
    /// The tanks.
    pub tanks: heapless::Vec<Tank, TANKS>,
    /// The lifts.
    pub lifts: heapless::Vec<Lift, LIFTS>,
    /// How the loop behaves.
    pub settings: Settings,
}

/// A lift whose points are looked at where they are.
pub type LiftView<'a> = Lift<&'a [ValvePoint]>;

/// One lift: a riser from a source tank to a receiving tank, with its air path and its job. `P` is where the points of a measured
/// valve are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Lift<P = heapless::Vec<ValvePoint, CHARACTERISTIC_POINTS>> {
    /// Source tank, by index.
    pub from: u8,
    /// Receiving tank, by index.
    pub to: u8,
    /// The riser as mounted.
    pub riser: Riser,
    /// Multipliers fitted on site.
    pub calibration: Calibration,
    /// Its air valve.
    pub valve: Valve<P>,
    /// The air line from manifold to injector.
    pub line: Line,
    /// The air stone or injector.
    pub diffuser: Diffuser,
    /// Water it is to deliver.
    pub target: WaterFlow,
    /// Air it keeps for the fish, with two exceptions: a lift that is held because a tank is too full or too empty goes below a floor
    /// that would move water (more than 0.8 of its onset), and on a backup that would not last lifts without fish give it up.
    pub air_floor: FreeAir,
    /// Who gets air first when the blower cannot serve all: 1 before 2 before 3.
    pub priority: u8,
    /// True when a short stop of this lift is allowed, to tell it apart from others that feed the same tank.
    pub may_stop: bool,
}

impl<P> Lift<P> {
    /// The same with its points elsewhere.
    pub(crate) fn with<'a, Q>(&'a self, points: impl FnOnce(&'a P) -> Q) -> Lift<Q> {
        Lift {
            from: self.from,
            to: self.to,
            riser: self.riser,
            calibration: self.calibration,
            valve: self.valve.with(points),
            line: self.line,
            diffuser: self.diffuser,
            target: self.target,
            air_floor: self.air_floor,
            priority: self.priority,
            may_stop: self.may_stop,
        }
    }
}

/// How the loop behaves. [`Settings::default`] suits tanks of a quarter to ten square metres.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settings {
    /// Time between two steps, ms; 100 to 10 000.
    pub period_ms: u32,
    /// How fast a target moves to its new value, share of the larger of the two per second; 1e-5 to 1. A
    /// value of 1 is a step.
    pub ramp_per_s: f32,
    /// Largest share of a lift's peak flow it may be asked for; 0.5 to 0.97. Beyond lies air that gives nothing.
    pub peak_share: f32,
    /// Time over which a change of the learned factor reaches the valve, s; 0 to 600.
    pub trim_s: f32,
    /// Valve moves smaller than this are not made, share of the stroke; 0 to 0.05.
    pub valve_deadband: f32,
    /// Shortest time between two moves of a valve, s; 0 to 600.
    pub move_interval_s: u32,
    /// Smallest opening ever commanded, share of the stroke; 0 to 0.5.
    pub least_opening: f32,
    /// Largest opening ever commanded, share of the stroke; 0.5 to 1.
    pub most_opening: f32,
    /// Opening that every valve takes when nothing can be computed; from the smallest to the largest.
    pub preset_opening: f32,
    /// Standard deviation of the delivery factor of a lift that was never observed; 0.02 to 1.
    pub delivery_spread: f32,
    /// How fast a delivery factor may wander by itself, share per square root of a second; 0 to 1e-2.
    pub delivery_walk: f32,
    /// What a change of the lift's air adds to the doubt about its factor: standard deviation per unit of relative change; 0 to 1.
    pub delivery_shock: f32,
    /// Flow that comes and goes unseen (splash, sampling, rounding of the outlet law), m3/s in one second; 1e-7 to 1e-2.
    pub unseen_flow_m3_s: f32,
    /// How long a level must stand beyond a limit before the guard believes it, s; 0 to 600.
    pub level_delay_s: u32,
    /// How far a level must come back before the guard lets go, m; 0 to 0.2.
    pub level_deadband_m: f32,
    /// Time between two scheduled stops of any lift, s; 900 to 604 800, or 0 for none. Stops happen only where lifts share a tank.
    pub stop_every_s: u32,
    /// Length of a scheduled stop, s; 60 to 1200.
    pub stop_for_s: u32,
    /// How well lifts into one tank shall be told apart, share of their flow; 0.005 to 0.5. While every delivery factor is known
    /// this well, no stop is made.
    pub share_accuracy: f32,
}

impl Settings {
    /// The usual settings.
    pub const USUAL: Self = Self {
        period_ms: 1000,
        ramp_per_s: 0.001,
        peak_share: 0.9,
        trim_s: 15.0,
        valve_deadband: 0.002,
        move_interval_s: 10,
        least_opening: 0.0,
        most_opening: 1.0,
        preset_opening: 0.5,
        delivery_spread: 0.3,
        delivery_walk: 3.0e-4,
        delivery_shock: 0.1,
        unseen_flow_m3_s: 2.0e-5,
        level_delay_s: 10,
        level_deadband_m: 0.01,
        stop_every_s: 3 * 3600,
        stop_for_s: 300,
        share_accuracy: 0.02,
    };
}

impl Default for Settings {
    fn default() -> Self {
        Self::USUAL
    }
}

impl<const LIFTS: usize, const TANKS: usize> Installation<LIFTS, TANKS> {
    /// A place with no tank, no lift and no blower: what memory holds before an installation is put there.
    pub const NONE: Self = Self::none();

    /// The same, written where it lies: the constant would stand in the program whole, its empty places included.
    #[must_use]
    pub const fn none() -> Self {
        Self {
            site: Site::SEA,
            air: AirSupply::NONE,
            tanks: heapless::Vec::new(),
            lifts: heapless::Vec::new(),
            settings: Settings::USUAL,
        }
    }

    /// Takes over another installation piece by piece: a copy as a whole would pass through the stack.
    pub fn copy_from(&mut self, other: &Self) {
        self.site = other.site;
        self.air = other.air.clone();
        self.settings = other.settings;
        self.tanks.clear();
        for tank in &other.tanks {
            let _ = self.tanks.push(tank.clone());
        }
        self.lifts.clear();
        for lift in &other.lifts {
            let _ = self.lifts.push(lift.clone());
        }
    }

    /// The receiving level of `lift` above its source tank's floor, given both levels above their own floors.
    #[must_use]
    pub fn receiver_above_source_floor_m(&self, lift: &Lift, receiver_level_m: f32) -> f32 {
        self.floor_m(lift.to) - self.floor_m(lift.from) + receiver_level_m
    }

    /// Height of a tank's floor above the site's datum, m; zero for an index out of range.
    #[must_use]
    pub fn floor_m(&self, tank: u8) -> f32 {
        self.tanks.get(usize::from(tank)).map_or(0.0, |tank| tank.floor_m)
    }

    /// True when fish live in the tank this lift draws from or feeds.
    #[must_use]
    pub fn serves_fish(&self, lift: &Lift) -> bool {
        [lift.from, lift.to]
            .iter()
            .any(|tank| self.tanks.get(usize::from(*tank)).is_some_and(|tank| tank.fish))
    }

    /// True when another lift feeds the same tank.
    #[must_use]
    pub fn shares_receiver(&self, index: usize) -> bool {
        let Some(own) = self.lifts.get(index) else { return false };
        self.lifts
            .iter()
            .enumerate()
            .any(|(other, lift)| other != index && lift.to == own.to)
    }
}
