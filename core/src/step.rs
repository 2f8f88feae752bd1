//! What goes into a step and what comes out of it.

pub use crate::alarm::ALARMS;
pub use crate::reading::Reading;

use crate::alarm::Alarm;
use crate::reading::Checked;
use crate::time::Millis;
use crate::units::{FreeAir, Opening, WaterFlow};
use serde::{Deserialize, Serialize};

/// What was read at one moment.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Readings<const TANKS: usize> {
    /// When, on the board's own counter.
    pub now: Millis,
    /// The level sensor of each tank, in the order of the installation; a tank left out counts as missing.
    pub levels: heapless::Vec<Reading, TANKS>,
    /// The manifold gauge, Pa above the atmosphere.
    pub manifold: Reading,
}

/// What a lift is doing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LiftState {
    /// On its way to a new target, or still learning what it delivers.
    #[default]
    Settling,
    /// On target; the valve follows small changes.
    Trimming,
    /// On target; the valve rests.
    Holding,
    /// Stopped below its onset for a few minutes, to tell it apart from its neighbours. Air still flows.
    StoppedToMeasure,
    /// Being commissioned: its outlet and its curve are measured.
    Commissioning,
    /// Left where it stands while another lift is commissioned.
    WaitingForCommissioning,
    /// Held at its air floor because a tank is too full or too empty.
    HeldByLevel,
    /// At the most it can move, because the tank it draws from is too full or the one it feeds too empty.
    FullByLevel,
    /// Getting less air than it needs because the blower cannot serve all.
    ShortOfAir,
    /// Asked for more than it can move at these levels.
    OutOfReach,
    /// Delivers next to nothing though it has air: its valve waits where it was.
    Stopped,
    /// All lifts on their air floor: essential air.
    EssentialAir,
    /// Opening set by hand.
    Manual,
    /// Taken out of service, by command: valve on the air floor, below the onset.
    OutOfService,
    /// Opening fixed because no level can be read.
    Fixed,
}

/// One lift after a step.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LiftStep {
    /// Opening to command now, backlash made up for.
    pub command: Opening,
    /// Where the valve is believed to stand.
    pub position: Opening,
    /// Air it is believed to get.
    pub air: FreeAir,
    /// Air it is meant to get.
    pub wanted_air: FreeAir,
    /// Flow it is believed to deliver.
    pub flow: WaterFlow,
    /// Standard deviation of that belief, m3/s.
    pub flow_sigma_m3_s: f32,
    /// The target as ramped at this moment.
    pub target: WaterFlow,
    /// What it delivers as a share of its curve.
    pub delivery: f32,
    /// Standard deviation of that share.
    pub delivery_sigma: f32,
    /// What it delivers of what it did when clean, %, by its trend over weeks; only once that is known.
    pub percent_of_clean: Option<u8>,
    /// Days until it falls below what more air makes up for, as foreseen once a day; only where that is foreseen within half a year.
    pub cleaning_days: Option<u8>,
    /// What it is doing.
    pub state: LiftState,
}

/// One tank after a step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TankStep {
    /// Level believed, m above the floor.
    pub level_m: f32,
    /// Standard deviation of that belief, m.
    pub sigma_m: f32,
    /// What its reading was worth.
    pub reading: Checked,
    /// About how long the oxygen in its water would last without any air, minutes; only where the mass of the fish is told.
    pub oxygen_min: Option<u16>,
}

/// What the blower is to do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BlowerStep {
    /// Units that are to run; 1 where there is no bank of them, and more than there are means all.
    pub units: u8,
    /// Speed, share of the full one; 1 where it cannot be set.
    pub speed: f32,
    /// Air that is believed to pass it, bleed included.
    pub air: FreeAir,
    /// Power it is believed to take, W.
    pub power_w: f32,
}

impl BlowerStep {
    /// All of it: every unit there is, at full speed. For a board that drives a blower while nothing is computed.
    pub const FULL: Self = Self {
        units: u8::MAX,
        speed: 1.0,
        air: FreeAir::ZERO,
        power_w: 0.0,
    };
}

/// The outcome of one step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Step<const LIFTS: usize, const TANKS: usize> {
    /// When the readings were taken.
    pub now: Millis,
    /// Time since the step before, as it was used, ms.
    pub step_ms: u32,
    /// The lifts.
    pub lifts: heapless::Vec<LiftStep, LIFTS>,
    /// The tanks.
    pub tanks: heapless::Vec<TankStep, TANKS>,
    /// Manifold pressure as measured or worked out, Pa above the atmosphere.
    pub manifold_pa: f32,
    /// What the blower is to do.
    pub blower: BlowerStep,
    /// About how long the backup lasts as things run now, minutes; only on backup, and where its energy is told.
    pub backup_min: Option<u16>,
    /// Alarms on the list, the most urgent first. Those that are over and only latched say so.
    pub alarms: heapless::Vec<Alarm, ALARMS>,
}

impl<const LIFTS: usize, const TANKS: usize> Step<LIFTS, TANKS> {
    /// A step of no lift and no tank yet.
    #[must_use]
    pub const fn empty(now: Millis, step_ms: u32) -> Self {
        Self {
            now,
            step_ms,
            lifts: heapless::Vec::new(),
            tanks: heapless::Vec::new(),
            manifold_pa: 0.0,
            blower: BlowerStep {
                units: 1,
                speed: 1.0,
                air: FreeAir::ZERO,
                power_w: 0.0,
            },
            backup_min: None,
            alarms: heapless::Vec::new(),
        }
    }
}
