//! What is left of a battery, how long it lasts, and what is given up so that it lasts as long as wanted.

use crate::air::Backup;
use crate::math::seldom::{larger, positive, smaller, whole};
use crate::time::Held;

/// Time between two looks, s.
pub const LOOKS_EVERY_S: u32 = 60;
/// Time in which an empty battery is full again, h (common practice for lead and lithium, no source).
const CHARGES_IN_H: f32 = 10.0;
/// It is to last this much longer than wanted: neither its charge nor the blower's power is measured, and a blower may take a fifth more than
/// its curve and efficiency say.
const TO_BE_SURE: f32 = 1.25;
/// What was given up is given back when it would last this much longer still even so.
const GIVEN_BACK: f32 = 1.15;
/// With fewer minutes left than this, or than a quarter of the time wanted, it is ending.
const ENDING_MIN: f32 = 60.0;

/// What has been given up, each with all before it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct GivenUp(u8);

impl GivenUp {
    /// Nothing.
    pub const NOTHING: Self = Self(0);
    /// The air of lifts without fish.
    pub const WITHOUT_FISH: Self = Self(1);
    /// What lifts with fish get above their air floor.
    pub const ABOVE_FLOORS: Self = Self(2);

    /// How many air floors are given up, those of the lifts whose tanks have the most oxygen left.
    #[must_use]
    pub const fn floors(self) -> u8 {
        self.0.saturating_sub(2)
    }

    /// One more.
    #[must_use]
    pub const fn next(self) -> Self {
        Self(self.0.saturating_add(1))
    }
}

/// A battery in use or at rest.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Reserve {
    on: bool,
    left_wh: f32,
    /// Share of the time wanted that has passed on it, as minutes.
    used_min: f32,
    minutes: u16,
    given_up: GivenUp,
    since_look: Held,
    /// Manifold pressure when it was switched to, Pa.
    pressure_pa: f32,
}

impl Reserve {
    /// Full and at rest.
    pub const FULL: Self = Self {
        on: false,
        left_wh: f32::MAX,
        used_min: 0.0,
        minutes: 0,
        given_up: GivenUp::NOTHING,
        since_look: Held::LONG,
        pressure_pa: 0.0,
    };

    /// The mains goes (true) or comes back, the manifold being at `pressure_pa`.
    pub fn switch(&mut self, on: bool, pressure_pa: f32) {
        if on != self.on {
            self.pressure_pa = pressure_pa;
            self.on = on;
            self.used_min = 0.0;
            self.given_up = GivenUp::NOTHING;
            self.since_look = Held::LONG;
        }
    }

    /// The blower runs on it.
    #[must_use]
    pub fn is_on(&self) -> bool {
        self.on
    }

    /// Manifold pressure when it was switched to, Pa: a blower that is slowed for less air holds no more.
    #[must_use]
    pub fn pressure_pa(&self) -> f32 {
        self.pressure_pa
    }

    /// What is given up.
    #[must_use]
    pub fn given_up(&self) -> GivenUp {
        self.given_up
    }

    /// About how long it lasts as things run now, minutes.
    #[must_use]
    pub fn minutes(&self) -> u16 {
        self.minutes
    }

    /// It will not last much longer.
    #[must_use]
    pub fn is_ending(&self, of: &Backup) -> bool {
        self.on && f32::from(self.minutes) < smaller(ENDING_MIN, 15.0 * of.wanted_h)
    }

    /// One step; true when it is time to look. `power_w` is what the blower takes now.
    pub fn pass(&mut self, of: &Backup, power_w: f32, step_ms: u32) -> bool {
        self.left_wh = smaller(self.left_wh, of.energy_wh);
        self.since_look.add(step_ms);
        if !self.since_look.reached_s(LOOKS_EVERY_S) {
            return false;
        }
        let first = self.since_look == Held::LONG;
        self.since_look.clear();
        // A minute at a time: what one step takes would be lost beside what is left.
        let hours = if first { 0.0 } else { 1.0 / 60.0 };
        if self.on {
            self.left_wh = positive(self.left_wh - hours * power_w);
            self.used_min += 60.0 * hours;
        } else {
            self.left_wh = smaller(self.left_wh + hours * of.energy_wh / CHARGES_IN_H, of.energy_wh);
        }
        self.minutes = minutes(self.left_wh, power_w);
        self.on
    }

    /// Chooses what is given up: as little as lets it last. `power_w` tells what the blower would take with so much given up, `floors`
    /// how many air floors can be.
    pub fn choose(&mut self, of: &Backup, floors: u8, power_w: impl Fn(GivenUp) -> f32) {
        let wanted_min = positive(60.0 * of.wanted_h - self.used_min);
        let most = GivenUp(GivenUp::ABOVE_FLOORS.0.saturating_add(floors));
        let mut choice = GivenUp::NOTHING;
        for _ in 0..=most.0 {
            let margin = if choice < self.given_up {
                GIVEN_BACK * TO_BE_SURE
            } else {
                TO_BE_SURE
            };
            if choice >= most || f32::from(minutes(self.left_wh, power_w(choice))) >= margin * wanted_min {
                break;
            }
            choice = choice.next();
        }
        self.given_up = choice;
    }
}

fn minutes(left_wh: f32, power_w: f32) -> u16 {
    whole(60.0 * left_wh / larger(power_w, 0.1), 60_000.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const BATTERY: Backup = Backup {
        energy_wh: 560.0,
        wanted_h: 8.0,
    };

    /// 100 W with nothing given up, then 80, 50, 40, 30.
    fn power_w(given_up: GivenUp) -> f32 {
        [100.0, 80.0, 50.0, 40.0, 30.0]
            .get(usize::from(given_up.0))
            .copied()
            .unwrap_or(30.0)
    }

    #[test]
    fn as_little_is_given_up_as_lets_the_battery_last_as_long_as_wanted() {
        // 560 Wh for 8 h and a quarter more are 56 W: lifts without fish are not enough, the floors are.
        let mut reserve = Reserve::FULL;
        reserve.switch(true, 15_000.0);
        let mut lasted_s = 0;
        for second in 0..12 * 3600u32 {
            if reserve.pass(&BATTERY, power_w(reserve.given_up()), 1000) {
                reserve.choose(&BATTERY, 2, power_w);
            }
            if reserve.left_wh > 0.0 {
                lasted_s = second;
            }
            if second == 0 {
                assert_eq!(reserve.given_up(), GivenUp::ABOVE_FLOORS);
            }
        }
        assert!((8 * 3600..12 * 3600 - 1).contains(&lasted_s), "{lasted_s}");
    }

    #[test]
    fn with_too_little_energy_floors_are_given_up_and_with_enough_nothing_is() {
        let small = Backup {
            energy_wh: 330.0,
            ..BATTERY
        };
        let large = Backup {
            energy_wh: 2000.0,
            ..BATTERY
        };
        for (of, floors) in [(small, 2), (large, 0)] {
            let mut reserve = Reserve::FULL;
            reserve.switch(true, 15_000.0);
            assert!(reserve.pass(&of, 100.0, 1000));
            reserve.choose(&of, 2, power_w);
            assert_eq!(reserve.given_up().floors(), floors);
        }
    }

    #[test]
    fn the_minutes_left_are_energy_over_power_and_an_hour_of_mains_gives_a_tenth_back() {
        let mut reserve = Reserve::FULL;
        reserve.switch(true, 15_000.0);
        for _ in 0..3601 {
            reserve.pass(&BATTERY, 100.0, 1000);
        }
        assert!((275..=276).contains(&reserve.minutes()), "{}", reserve.minutes());
        reserve.switch(false, 15_000.0);
        for _ in 0..3601 {
            reserve.pass(&BATTERY, 100.0, 1000);
        }
        assert!((309..=310).contains(&reserve.minutes()), "{}", reserve.minutes());
        assert!(!reserve.is_ending(&BATTERY));
    }
}
