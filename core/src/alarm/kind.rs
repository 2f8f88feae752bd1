//! The kinds of alarm, how urgent each is, and its name for programs.

use serde::{Deserialize, Serialize};

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

/// Declares the kinds with their urgency, whether they are latched, and their name for programs: one line each, so that
/// none is forgotten.
macro_rules! kinds {
    ($($(#[$doc:meta])* $kind:ident $urgency:ident $latched:literal $name:literal,)*) => {
        /// The kinds of alarm.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        pub enum Kind {
            $($(#[$doc])* $kind,)*
        }

        impl Kind {
            /// Every kind there is.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)*];

            /// How soon somebody must come.
            #[must_use]
            pub const fn urgency(self) -> Urgency {
                match self { $(Self::$kind => Urgency::$urgency,)* }
            }

            /// True when it stays on the list after it is over, until it is reset: somebody has to look even so.
            #[must_use]
            pub const fn is_latched(self) -> bool {
                match self { $(Self::$kind => $latched,)* }
            }

            /// A short name for programs.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)* }
            }
        }
    };
}

kinds! {
    /// Level above its upper act limit: lifts feeding the tank are held at their air floor, or below one that moves water.
    LevelTooHigh High true "level_too_high",
    /// Level below its lower act limit: lifts drawing from the tank are held at their air floor, or below one that moves water.
    LevelTooLow High true "level_too_low",
    /// Every level reading is lost: openings are fixed.
    NoLevels High true "no_levels",
    /// The blower does not blow.
    BlowerStopped High true "blower_stopped",
    /// A lift that brings fish air gets less than its floor: for want of it, or because air would move water to where there is too much, or by
    /// hand.
    AirBelowFloor High true "air_below_floor",
    /// The mains is gone: essential air on a backup.
    PowerOnBackup High false "power_on_backup",
    /// The backup will not last much longer.
    BackupEnding High false "backup_ending",
    /// A tank is too full or too empty, and a lift that moves water without air cannot be stopped by its valve.
    CannotBeHeld High false "cannot_be_held",
    /// The installation was not accepted: there is no control (reserved for a board that raises it: no controller runs then).
    ConfigurationRejected High false "configuration_rejected",
    /// The blower cannot give all lifts their air.
    AirShort Medium false "air_short",
    /// Every lift delivers less at once: the air supply, not the lifts.
    AirWeak Medium false "air_weak",
    /// Manifold pressure lower than the blower should hold.
    PressureLow Medium false "pressure_low",
    /// Manifold pressure higher than it should be.
    PressureHigh Medium false "pressure_high",
    /// Manifold pressure swings.
    PressureUnsteady Medium false "pressure_unsteady",
    /// Less air passes the blower than it needs.
    DeadHeaded Medium false "dead_headed",
    /// The manifold gauge gives what cannot be.
    GaugeDoubtful Medium false "gauge_doubtful",
    /// Level above its upper warning limit.
    LevelHigh Medium false "level_high",
    /// Level below its lower warning limit.
    LevelLow Medium false "level_low",
    /// A level rises so fast that it will soon be too high.
    LevelRisingFast Medium false "level_rising_fast",
    /// A level falls so fast that it will soon be too low.
    LevelFallingFast Medium false "level_falling_fast",
    /// The water of all tanks together is getting less.
    WaterLost Medium false "water_lost",
    /// The water of all tanks together is getting more.
    WaterGained Medium false "water_gained",
    /// No reading from a level sensor.
    SensorSilent Medium false "sensor_silent",
    /// A level sensor gives numbers that no water here can give.
    SensorOutOfRange Medium false "sensor_out_of_range",
    /// A level sensor gives the same number again and again.
    SensorStuck Medium false "sensor_stuck",
    /// A level sensor scatters far more than it should.
    SensorNoisy Medium false "sensor_noisy",
    /// The zero of a level sensor has moved.
    SensorDrifting Medium false "sensor_drifting",
    /// Two level sensors have changed places.
    SensorsSwapped Medium false "sensors_swapped",
    /// A level jumped further than water can move.
    LevelJumped Medium false "level_jumped",
    /// A lift suddenly delivers next to nothing.
    LiftStopped Medium false "lift_stopped",
    /// A lift delivers far less than its curve.
    LiftWeak Medium false "lift_weak",
    /// A lift's air valve does not follow, or follows the wrong way.
    ValveNotFollowing Medium false "valve_not_following",
    /// A target is beyond what the lift can move at these levels.
    OutOfReach Medium false "out_of_reach",
    /// More air gave less water: the lift's true peak is lower than its curve says.
    PastPeak Medium false "past_peak",
    /// A tank seems to get more water than before: its outlet may be clogging.
    ReturnSuspect Medium false "return_suspect",
    /// A stop has shown that a tank's outlet is clogged.
    ReturnRestricted Medium false "return_restricted",
    /// Water runs back through a drowned outlet while the air is off.
    RunsBack Medium false "runs_back",
    /// A tank whose overflow would not carry the water with every valve open.
    OverflowTooSmall Low false "overflow_too_small",
    /// A lift is fouling: cleaning will be due.
    LiftFouling Low false "lift_fouling",
    /// The blower gives less from week to week.
    BlowerAgeing Low false "blower_ageing",
    /// Lifts share a receiving tank and no stop is allowed: what each delivers cannot be told apart.
    NotToldApart Low false "not_told_apart",
    /// A command was refused.
    CommandRefused Low false "command_refused",
    /// The clock went back or leapt.
    ClockJumped Low false "clock_jumped",
    /// Saved state was not used.
    SavedStateRejected Low false "saved_state_rejected",
    /// Every lift in service that fills a tank of fish stands still, or every one that draws from it where none fills it. Of lifts that share a tank only the sum is seen: there, when none
    /// of it is left.
    FishAirLost High true "fish_air_lost",
}

impl Kind {
    /// How long it stays after its condition was there last, s: where what the guard does about it makes it come and go, one
    /// alarm is enough.
    #[must_use]
    pub const fn lingers_s(self) -> u16 {
        match self {
            Self::LevelTooHigh
            | Self::LevelTooLow
            | Self::LevelHigh
            | Self::LevelLow
            | Self::LevelRisingFast
            | Self::LevelFallingFast
            | Self::FishAirLost
            | Self::LiftFouling
            | Self::NotToldApart => 900,
            Self::LiftStopped => 300,
            _ => 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_a_name_of_its_own() {
        for (index, kind) in Kind::ALL.iter().enumerate() {
            assert!(
                !Kind::ALL
                    .iter()
                    .skip(index + 1)
                    .any(|other| other.name() == kind.name())
            );
        }
    }

    #[test]
    fn only_what_somebody_must_come_for_is_latched() {
        for kind in Kind::ALL.iter().filter(|kind| kind.is_latched()) {
            assert_eq!(kind.urgency(), Urgency::High, "{}", kind.name());
        }
    }
}
