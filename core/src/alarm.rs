//! Alarms: what can go wrong, how urgent it is, and what to tell people.

use serde::{Deserialize, Serialize};

/// What an alarm is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Subject {
    /// The installation as a whole.
    Place,
    /// A tank, by index.
    Tank(u8),
    /// A lift, by index.
    Lift(u8),
}

/// How soon somebody must come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Urgency {
    /// Come now, also at night.
    High,
    /// Today.
    Medium,
    /// When next there.
    Low,
}

/// The kinds of alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Kind {
    /// Level above its upper act limit: lifts feeding the tank are held at their air floor.
    LevelTooHigh,
    /// Level below its lower act limit: lifts drawing from the tank are held at their air floor.
    LevelTooLow,
    /// Every level reading is lost: openings are fixed.
    NoLevels,
    /// The blower cannot give all lifts their air.
    AirShort,
    /// Level above its upper warning limit.
    LevelHigh,
    /// Level below its lower warning limit.
    LevelLow,
    /// No reading from a level sensor.
    SensorSilent,
    /// A level sensor gives numbers that no water here can give.
    SensorOutOfRange,
    /// A level jumped further than water can move.
    LevelJumped,
    /// A lift delivers far less than its curve.
    LiftWeak,
    /// A target is beyond what the lift can move at these levels.
    OutOfReach,
    /// Lifts share a receiving tank and no stop is allowed: what each delivers cannot be told apart.
    NotToldApart,
    /// The clock went back or leapt.
    ClockJumped,
    /// Saved state was not used.
    SavedStateRejected,
}

/// The texts of one kind of alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Text {
    /// What happened.
    pub what: &'static str,
    /// What it means.
    pub means: &'static str,
    /// What to do.
    pub act: &'static str,
}

impl Kind {
    /// How soon somebody must come.
    #[must_use]
    pub const fn urgency(self) -> Urgency {
        match self {
            Self::LevelTooHigh | Self::LevelTooLow | Self::NoLevels | Self::AirShort => Urgency::High,
            Self::LevelHigh
            | Self::LevelLow
            | Self::SensorSilent
            | Self::SensorOutOfRange
            | Self::LevelJumped
            | Self::LiftWeak
            | Self::OutOfReach => Urgency::Medium,
            Self::NotToldApart | Self::ClockJumped | Self::SavedStateRejected => Urgency::Low,
        }
    }

    /// What to tell people. One table for board and host.
    #[must_use]
    pub const fn text(self) -> Text {
        let (what, means, act) = match self {
            Self::LevelTooHigh => (
                "water level too high",
                "the tank may run over; the lifts that feed it are held at their air floor",
                "look for a blocked outlet or return pipe",
            ),
            Self::LevelTooLow => (
                "water level too low",
                "the tank may run dry; the lifts that draw from it are held at their air floor",
                "look for a leak or an overflow elsewhere, then top up",
            ),
            Self::NoLevels => (
                "no water level can be read",
                "the valves stay where they are; air goes on, flows are no longer kept",
                "check the sensor supply and cable, then look at every tank",
            ),
            Self::AirShort => (
                "not enough air for all lifts",
                "lifts of low priority get less; their flow is below target",
                "check blower, intake filter and air lines; close what need not run",
            ),
            Self::LevelHigh => (
                "water level high",
                "an outlet may be fouling, or more flows in than usual",
                "look at the tank and its outlet",
            ),
            Self::LevelLow => (
                "water level low",
                "water is being lost, or held elsewhere",
                "look for leaks and top up if needed",
            ),
            Self::SensorSilent => (
                "no reading from the level sensor",
                "the level is worked out from the other tanks; it gets less sure with time",
                "check the sensor's plug and cable",
            ),
            Self::SensorOutOfRange => (
                "level sensor reads what cannot be",
                "its reading is not used; the level is worked out from the other tanks",
                "check sensor, cable and mounting",
            ),
            Self::LevelJumped => (
                "water level jumped",
                "water was added or taken, or the sensor was moved",
                "look at the tank; if nobody touched it, check the sensor's mounting",
            ),
            Self::LiftWeak => (
                "lift delivers far less than it should",
                "mesh, riser or air stone may be fouled, or its air valve was shut by hand",
                "check its hand valve, then clean mesh and air stone",
            ),
            Self::OutOfReach => (
                "target is more than the lift can move",
                "it runs at the most it can; more air would move less water",
                "lower the target, raise the source level or clean the lift",
            ),
            Self::NotToldApart => (
                "lifts into one tank cannot be told apart",
                "their sum is kept; what each of them delivers is only as sure as its curve",
                "allow short stops of one of them, or measure each with a bucket",
            ),
            Self::ClockJumped => (
                "the clock jumped",
                "one step was reckoned with the usual time",
                "nothing, if it happens once",
            ),
            Self::SavedStateRejected => (
                "saved state was not used",
                "it belongs to another installation or was damaged; what the lifts deliver is learned afresh",
                "nothing; flows settle within minutes",
            ),
        };
        Text { what, means, act }
    }

    /// A short name for programs.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LevelTooHigh => "level_too_high",
            Self::LevelTooLow => "level_too_low",
            Self::NoLevels => "no_levels",
            Self::AirShort => "air_short",
            Self::LevelHigh => "level_high",
            Self::LevelLow => "level_low",
            Self::SensorSilent => "sensor_silent",
            Self::SensorOutOfRange => "sensor_out_of_range",
            Self::LevelJumped => "level_jumped",
            Self::LiftWeak => "lift_weak",
            Self::OutOfReach => "out_of_reach",
            Self::NotToldApart => "not_told_apart",
            Self::ClockJumped => "clock_jumped",
            Self::SavedStateRejected => "saved_state_rejected",
        }
    }
}

/// An alarm that stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Alarm {
    /// What it is.
    pub kind: Kind,
    /// What it is about.
    pub subject: Subject,
}
