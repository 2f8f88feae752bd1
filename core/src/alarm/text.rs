//! What to tell people: one table of texts for board and host.

use super::Kind;

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

const fn text(what: &'static str, means: &'static str, act: &'static str) -> Text {
    Text { what, means, act }
}

impl Kind {
    /// What to tell people.
    #[must_use]
    pub const fn text(self) -> Text {
        match self {
            Self::LevelTooHigh
            | Self::LevelTooLow
            | Self::LevelHigh
            | Self::LevelLow
            | Self::LevelRisingFast
            | Self::LevelFallingFast
            | Self::WaterLost
            | Self::WaterGained
            | Self::CannotBeHeld
            | Self::RunsBack
            | Self::OverflowTooSmall
            | Self::ReturnSuspect
            | Self::ReturnRestricted => of_water(self),
            Self::NoLevels
            | Self::SensorSilent
            | Self::SensorOutOfRange
            | Self::SensorStuck
            | Self::SensorNoisy
            | Self::SensorDrifting
            | Self::SensorsSwapped
            | Self::LevelJumped => of_sensors(self),
            Self::LiftStopped
            | Self::LiftWeak
            | Self::LiftFouling
            | Self::ValveNotFollowing
            | Self::OutOfReach
            | Self::PastPeak
            | Self::NotToldApart => of_lifts(self),
            _ => of_air_and_the_rest(self),
        }
    }
}

const fn of_water(kind: Kind) -> Text {
    match kind {
        Kind::LevelTooHigh => text(
            "water level too high",
            "the tank may run over; the lifts that feed it are held below the air at which they move water, those that draw from it run at their most",
            "look for a blocked outlet or return pipe, or a hose left running",
        ),
        Kind::LevelTooLow => text(
            "water level too low",
            "the tank may run dry; the lifts that draw from it are held below the air at which they move water",
            "look for a leak or an overflow elsewhere, then top up",
        ),
        Kind::LevelHigh => text(
            "water level high",
            "an outlet may be fouling, or more flows in than usual",
            "look at the tank and its outlet",
        ),
        Kind::LevelLow => text(
            "water level low",
            "water is being lost, or held elsewhere",
            "look for leaks and for another tank that stands high; top up if needed",
        ),
        Kind::LevelRisingFast => text(
            "water level rising fast",
            "the tank will soon be too full; the lifts that feed it are held before it is",
            "look for a blocked outlet, a hose left running or a pump that should not run",
        ),
        Kind::LevelFallingFast => text(
            "water level falling fast",
            "the tank will soon be too empty; the lifts that draw from it are held before it is",
            "look for a burst pipe, an open drain or a siphon",
        ),
        Kind::WaterLost => text(
            "water is being lost",
            "all tanks together hold less and less: a leak, an overflow to the drain, or the level sensor of a tank without an outlet reading ever lower; water held in one tank would show as more in another",
            "look for wet floor and running drains, compare the lowest tank with a ruler, then top up",
        ),
        Kind::WaterGained => text(
            "water is coming in from outside",
            "all tanks together hold more and more: a hose or top-up valve left open, rain, or the level sensor of a tank without an outlet reading ever higher",
            "look for open taps and stuck float valves, and compare the lowest tank with a ruler",
        ),
        Kind::CannotBeHeld => text(
            "a lift that runs without air cannot be held",
            "its source stands above its outlet, so water runs through it whatever its air valve does, and a tank is too full or too empty",
            "shut its water side by hand, or lower the source",
        ),
        Kind::RunsBack => text(
            "water runs back through a lift",
            "its outlet is under water and its air does not hold the column up: the tank it feeds drains back",
            "give it air again or shut its water side by hand; an outlet above the water cannot run back",
        ),
        Kind::OverflowTooSmall => text(
            "the overflow would not carry every lift at full air",
            "if control is lost with the valves open, this tank runs over its rim",
            "fit a wider overflow, or a stop on the air valves that limits how far they open; do not rely on alarms for this",
        ),
        Kind::ReturnSuspect => text(
            "the tank seems to get more water than before",
            "its outlet or return pipe may be clogging, its level sensor drifting, or a lift really gives more since it was cleaned: from levels alone these look the same, so the air is not cut further until it is known",
            "look at the outlet and compare the level with a ruler; if all is well, acknowledge the alarm and the new flow is believed",
        ),
        Kind::ReturnRestricted => text(
            "outlet or return pipe is clogged",
            "a stop of its lift showed the tank draining slower than it should, at every level alike; the lift keeps the air it had before, however high the level stands",
            "clean the outlet, strainer and return pipe",
        ),
        _ => text("", "", ""),
    }
}

const fn of_sensors(kind: Kind) -> Text {
    match kind {
        Kind::NoLevels => text(
            "no water level can be read",
            "the valves stay where they are; air goes on, flows are no longer kept",
            "check the sensor supply and cable, then look at every tank",
        ),
        Kind::SensorSilent => text(
            "no reading from the level sensor",
            "the level is worked out from the other tanks; it gets less sure with time",
            "check the sensor's plug and cable",
        ),
        Kind::SensorOutOfRange => text(
            "level sensor reads what cannot be",
            "its reading is not used; the level is worked out from the other tanks",
            "check sensor, cable and mounting",
        ),
        Kind::SensorStuck => text(
            "level sensor gives the same number again and again",
            "water never stands that still, so the reading is not used; the level is worked out from the other tanks",
            "look at the water, then at the sensor: frozen electronics, a blocked tube, a float that hangs",
        ),
        Kind::SensorNoisy => text(
            "level sensor scatters far more than it should",
            "its readings count for less; flows into this tank are known less well and follow slower",
            "look for waves, bubbles under the sensor, a loose plug or a cable beside a motor lead",
        ),
        Kind::SensorDrifting => text(
            "the zero of the level sensor has moved",
            "a stop showed the level coming to rest away from the outlet's crest; the flow read from it is wrong by several percent, and too much is not believed",
            "compare the level with a ruler and set the sensor's zero",
        ),
        Kind::SensorsSwapped => text(
            "two level sensors seem to have changed places",
            "each tank shows what the other showed before; flows read from them are wrong",
            "check which plug belongs to which tank",
        ),
        Kind::LevelJumped => text(
            "water level jumped and stayed",
            "water does not move that fast and stay: the sensor was moved or set to another zero; it is read as before by as much",
            "put the sensor back; if it is right as it is, acknowledge the alarm and its readings are believed",
        ),
        _ => text("", "", ""),
    }
}

const fn of_lifts(kind: Kind) -> Text {
    match kind {
        Kind::LiftStopped => text(
            "lift suddenly delivers next to nothing",
            "its hand valve was shut, its air line came off, its air valve sticks shut or its riser is blocked: levels alone cannot tell which; its valve waits where it was, so that nothing overshoots when it comes back",
            "look whether bubbles rise in it, then at hand valve, air line and air valve; if it is meant to be off, take it out of service",
        ),
        Kind::LiftWeak => text(
            "lift delivers far less than it should",
            "mesh, riser or air stone may be fouled, or its air valve was shut by hand",
            "check its hand valve, then clean mesh and air stone",
        ),
        Kind::LiftFouling => text(
            "lift is fouling",
            "it needs more air for the same water from day to day, until the blower cannot make up for it",
            "plan to clean its mesh, riser and air stone",
        ),
        Kind::ValveNotFollowing => text(
            "air valve does not seem to follow",
            "it was sent to another opening and the flow did not change, or changed the wrong way: the valve sticks, is wired the wrong way round, or its air line is blocked",
            "watch the valve while it is moved by hand command; check linkage, wiring and direction",
        ),
        Kind::OutOfReach => text(
            "target is more than the lift can move",
            "it runs at the most it can; more air would move less water",
            "lower the target, raise the source level or clean the lift",
        ),
        Kind::PastPeak => text(
            "more air gave less water",
            "this lift's real peak is lower than its curve says; its air was taken back to where it moved the most, and it is not given more",
            "lower the target, clean the lift, or measure its curve again",
        ),
        Kind::NotToldApart => text(
            "lifts into one tank cannot be told apart",
            "their sum is kept; what each of them delivers is only as sure as its curve",
            "allow short stops of one of them, or measure each with a bucket",
        ),
        _ => text("", "", ""),
    }
}

const fn of_air_and_the_rest(kind: Kind) -> Text {
    match kind {
        Kind::BlowerStopped => text(
            "no air: the blower does not blow",
            "no lift moves water and the fish get no air; where there is one lift and no pressure gauge, its hand valve shut or its air line off looks the same",
            "start the spare blower or open bottled oxygen now; then check the blower's supply, fuse, motor switch and belt, and if it runs, hand valve and air line",
        ),
        Kind::FishAirLost => text(
            "fish may be without air: their lift stands still",
            "no lift in service that brings this tank air moves water, and levels cannot tell whether bubbles still rise",
            "give the fish air another way now; then look at hand valve, air line and air valve of the lift; if it is meant to be off, take it out of service",
        ),
        Kind::AirBelowFloor => text(
            "fish get less air than they need",
            "a lift of theirs gets less than its air floor: the blower is too weak, a tank is so full or empty that any air would move water, or its valve is set by hand",
            "give the fish air another way now; then start the spare blower and check intake filter and air lines, put the level right, or set the valve back to automatic",
        ),
        Kind::AirShort => text(
            "not enough air for all lifts",
            "lifts of low priority get less; their flow is below target",
            "check blower, intake filter and air lines; close what need not run",
        ),
        Kind::AirWeak => text(
            "every lift delivers less at once",
            "the air supply has become weaker: blower, intake filter, or a leak at the manifold; without a pressure gauge these cannot be told apart, and a gauge alone cannot tell a weak blower from a leak: the blower's current can (a leak draws more, a blocked intake less)",
            "listen for leaks, check the intake filter, measure the blower's current and pressure",
        ),
        Kind::PressureLow => text(
            "manifold pressure is low",
            "the blower holds less than its curve says, or air leaks away: a gauge alone cannot tell which; the blower's current can (a leak draws more, a blocked intake or low speed less)",
            "listen for leaks at the manifold, check the intake filter, belt and supply voltage",
        ),
        Kind::PressureHigh => text(
            "manifold pressure is high",
            "air lines or air stones are clogging, or valves stand further shut than they should; if one lift is weak at the same time, it is that lift's line",
            "look for a kinked air line and a lift with few bubbles; clean the air stones",
        ),
        Kind::PressureUnsteady => text(
            "manifold pressure swings",
            "the blower surges or a relief valve chatters; both wear it out",
            "open a bleed valve a little; check the intake filter",
        ),
        Kind::DeadHeaded => text(
            "too little air passes the blower",
            "it runs against nearly shut valves and may overheat; lifts get more air than their targets need, as far as the tanks allow, and so move more water",
            "open a bleed valve, or switch off a blower that is not needed",
        ),
        Kind::GaugeDoubtful => text(
            "the pressure gauge reads what cannot be",
            "its reading is not used; pressure is worked out from the blower's curve",
            "check the gauge, its tube and its plug",
        ),
        Kind::BlowerAgeing => text(
            "the blower gives less than it did",
            "for the same air it holds less pressure from week to week: worn vanes or belt, an intake filter that fills, or a leak that grows; a gauge alone cannot tell which, the blower's current can (a leak draws more, a filter or a slow blower less)",
            "clean the intake filter, listen for leaks, measure the blower's current; have vanes, belt and bearings looked at",
        ),
        Kind::PowerOnBackup => text(
            "mains power is gone: running on the backup",
            "air goes to the fish first; water is moved only by what air is left",
            "find out why, and get the mains or a generator back before the battery is empty",
        ),
        Kind::BackupEnding => text(
            "the backup will soon be empty",
            "air will stop with it",
            "bring a generator or bottled oxygen now; stop feeding",
        ),
        Kind::ConfigurationRejected => text(
            "the installation data was not accepted",
            "nothing is controlled: the valves stand at their preset openings",
            "read the list of faults and send a corrected installation; watch the tanks until then",
        ),
        Kind::CommandRefused => text(
            "a command was refused",
            "it names what does not exist or asks for what cannot be; everything runs on as before",
            "check the number or the value that was entered",
        ),
        Kind::ClockJumped => text(
            "the clock jumped",
            "one step was reckoned with the usual time",
            "nothing, if it happens once",
        ),
        Kind::SavedStateRejected => text(
            "saved state was not used",
            "it belongs to another installation or was damaged; what the lifts deliver is learned afresh",
            "nothing; flows settle within minutes",
        ),
        _ => text("", "", ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_alarm_says_what_happened_what_it_means_and_what_to_do() {
        for kind in Kind::ALL {
            let text = kind.text();
            for part in [text.what, text.means, text.act] {
                assert!(part.len() > 10, "{}", kind.name());
                assert!(
                    !part.ends_with('.') && !part.contains(". "),
                    "{}: one sentence a part",
                    kind.name()
                );
            }
            assert!(text.what.len() <= 60, "{}: what happened fits a line", kind.name());
        }
    }
}
