//! How much of the blower is to run: just enough for what the lifts want.
//!
//! A blower of variable speed is slowed until the most open valve stands nearly open (the most-open-valve practice of wastewater
//! aeration): then nothing is throttled away that need not be. Of several on relays one more starts when those that run cannot serve, and one
//! stops when fewer have long been enough. All start one after another, also after a power cut.

use super::blower::Drive;
use super::running::Running;
use crate::math::seldom::{larger, limit};
use crate::time::Held;

/// Where the most open valve is to stand, share of its widest opening: between these the speed stays.
const MOST_OPEN: (f32, f32) = (0.87, 0.93);
/// How fast the speed sinks, share of the full one a second: the valves make up for it meanwhile.
const SLOWER_PER_S: f32 = 2.0e-4;
/// How fast it rises.
const FASTER_PER_S: f32 = 2.0e-3;
/// How fast it rises when a lift does not get its air, or after a start.
const URGENT_PER_S: f32 = 0.05;
/// Time for which fewer units must have been enough, and for which one runs or rests at the least, s: six starts an hour (common practice, no
/// source).
const UNIT_RESTS_S: u32 = 600;

/// What the air side asks of the blower in one step.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Demand {
    /// Opening of the most open valve of a lift that is to get air, share of its widest.
    pub most_open: f32,
    /// What runs cannot serve what the lifts want.
    pub short: bool,
    /// One unit less could; only asked for a bank of several.
    pub fewer_serve: bool,
    /// It must not run slower: the least air or the water's pressure at an air inlet is near.
    pub at_its_least: bool,
    /// All of it is to run: levels are lost, or there is no air.
    pub all: bool,
}

/// What runs of the blower.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Setting {
    speed: f32,
    units: u8,
    since_start: Held,
    fewer_for: Held,
}

impl Setting {
    /// A blower that runs by itself.
    pub const FIXED: Self = Self {
        speed: 1.0,
        units: 1,
        since_start: Held::LONG,
        fewer_for: Held::NONE,
    };

    /// A blower that starts: the first of its units, or at full speed as a drive does that ramps up by itself.
    pub fn start(&mut self) {
        *self = Self::FIXED;
        self.since_start.clear();
    }

    /// Speed, share of the full one.
    #[must_use]
    pub fn speed(&self) -> f32 {
        self.speed
    }

    /// Units that are to run.
    #[must_use]
    pub fn units(&self) -> u8 {
        self.units
    }

    /// What runs, as shares of the blower's curve.
    #[must_use]
    pub fn running(&self, drive: &Drive) -> Running {
        match drive {
            Drive::Fixed => Running::FULL,
            Drive::Relays { units, .. } => Running::units(self.units, *units),
            Drive::Speed { .. } => Running::speed(self.speed),
        }
    }

    /// What would run with one unit less; `None` where there is none to spare.
    #[must_use]
    pub fn one_less(&self, drive: &Drive) -> Option<Running> {
        match drive {
            Drive::Relays { units, .. } if self.units > 1 => Some(Running::units(self.units.saturating_sub(1), *units)),
            _ => None,
        }
    }

    /// One step.
    pub fn advance(&mut self, drive: &Drive, demand: &Demand, seconds: f32, step_ms: u32) {
        match *drive {
            Drive::Fixed => {}
            Drive::Speed { least } => {
                let change = if demand.all || demand.short {
                    URGENT_PER_S
                } else if demand.most_open > MOST_OPEN.1 {
                    FASTER_PER_S
                } else if demand.most_open < MOST_OPEN.0 && !demand.at_its_least {
                    -SLOWER_PER_S
                } else {
                    0.0
                };
                self.speed = limit(self.speed + change * seconds, larger(least, 0.05), 1.0);
            }
            Drive::Relays { units, start_gap_s } => {
                self.since_start.add(step_ms);
                if demand.fewer_serve && !demand.short && !demand.all {
                    self.fewer_for.add(step_ms);
                } else {
                    self.fewer_for.clear();
                }
                if (demand.short || demand.all)
                    && self.units < units
                    && self.since_start.reached_s(u32::from(start_gap_s))
                {
                    self.units = self.units.saturating_add(1);
                    self.since_start.clear();
                } else if self.units > 1
                    && self.fewer_for.reached_s(UNIT_RESTS_S)
                    && self.since_start.reached_s(UNIT_RESTS_S)
                {
                    self.units = self.units.saturating_sub(1);
                    self.fewer_for.clear();
                    self.since_start.clear();
                }
                self.units = self.units.min(units).max(1);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BANK: Drive = Drive::Relays {
        units: 3,
        start_gap_s: 20,
    };

    fn run(setting: &mut Setting, drive: &Drive, demand: &Demand, seconds: u32) {
        for _ in 0..seconds {
            setting.advance(drive, demand, 1.0, 1000);
        }
    }

    #[test]
    fn a_bank_starts_one_after_another_and_stops_only_when_fewer_have_long_been_enough() {
        let mut setting = Setting::FIXED;
        setting.start();
        let short = Demand {
            short: true,
            ..Demand::default()
        };
        run(&mut setting, &BANK, &short, 19);
        assert_eq!(setting.units(), 1);
        run(&mut setting, &BANK, &short, 21);
        assert_eq!(setting.units(), 3);
        let enough = Demand {
            fewer_serve: true,
            ..Demand::default()
        };
        run(&mut setting, &BANK, &enough, 590);
        run(&mut setting, &BANK, &Demand::default(), 1);
        run(&mut setting, &BANK, &enough, 590);
        assert_eq!(setting.units(), 3);
        run(&mut setting, &BANK, &enough, 1900);
        assert_eq!(setting.units(), 1);
    }

    #[test]
    fn speed_sinks_until_the_most_open_valve_is_nearly_open_and_rises_at_once_when_air_is_short() {
        let drive = Drive::Speed { least: 0.4 };
        let mut setting = Setting::FIXED;
        // A valve that opens as the speed sinks: at 70 % it stands at 90 %.
        for _ in 0..7200 {
            let demand = Demand {
                most_open: 0.63 / setting.speed(),
                ..Demand::default()
            };
            setting.advance(&drive, &demand, 1.0, 1000);
        }
        let open = 0.63 / setting.speed();
        assert!((0.86..0.94).contains(&open), "{open}");
        let short = Demand {
            short: true,
            ..Demand::default()
        };
        run(&mut setting, &drive, &short, 10);
        assert_eq!(setting.speed(), 1.0);
        run(&mut setting, &drive, &Demand::default(), 36_000);
        assert_eq!(setting.speed(), 0.4);
    }
}
