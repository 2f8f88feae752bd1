//! On a battery: what is given up so that it lasts, once a minute.

use super::*;
use crate::air::power_w;
use crate::guard::GivenUp;
use crate::math::seldom::larger;

/// Oxygen left in a tank, after twice the time it has been without, below which its lift gets its air back, minutes.
const LEAST_OXYGEN_MIN: u16 = 10;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Every lift is on its air floor, by command or because nothing is told of the battery it runs on.
    pub(super) fn is_essential(&self) -> bool {
        self.place.essential || (self.place.reserve.is_on() && self.installation.air.backup.is_none())
    }

    /// True when this lift gives up its air, and when it gives up what it gets above its floor.
    pub(super) fn gives_up(&self, index: usize) -> (bool, bool) {
        let given_up = self.place.reserve.given_up();
        let (Some(run), Some(lift)) = (self.lifts.get(index), self.installation.lifts.get(index)) else {
            return (false, false);
        };
        if self.installation.serves_fish(lift) {
            (run.without_air, given_up >= GivenUp::ABOVE_FLOORS)
        } else {
            (given_up >= GivenUp::WITHOUT_FISH, false)
        }
    }

    /// Looks at the battery, and once a minute at what is to be given up.
    #[inline(never)]
    pub(super) fn ration(&mut self, step_ms: u32) {
        let Some(backup) = self.installation.air.backup else {
            return;
        };
        let power = self.power_w();
        let mut reserve = self.place.reserve;
        if reserve.pass(&backup, power, step_ms) {
            let floors = self.floors_to_spare();
            reserve.choose(&backup, floors, |given_up| self.power_with(given_up));
            self.spare_floors(reserve.given_up().floors());
        } else if !reserve.is_on() {
            self.lifts.iter_mut().for_each(|run| run.without_air = false);
        }
        self.place.reserve = reserve;
    }

    /// Minutes of oxygen left where a lift that serves fish could do without its floor; `None` where that is not known.
    fn oxygen_of(&self, index: usize) -> Option<u16> {
        let lift = self.installation.lifts.get(index)?;
        let run = self.lifts.get(index)?;
        let tanks = [usize::from(lift.from), usize::from(lift.to)];
        let fish = |tank: &usize| self.installation.tanks.get(*tank).is_some_and(|tank| tank.fish);
        let mut least = None;
        for tank in tanks.into_iter().filter(fish) {
            let minutes = self.oxygen_min(tank)?;
            least = Some(least.map_or(minutes, |least: u16| least.min(minutes)));
        }
        let left = least?.saturating_sub(run.without_min.saturating_mul(2));
        (left > LEAST_OXYGEN_MIN).then_some(left)
    }

    /// How many air floors can be given up: one always stays.
    fn floors_to_spare(&self) -> u8 {
        let lifts = self.installation.lifts.iter().enumerate();
        let (mut serve, mut known) = (0u8, 0u8);
        for (index, _) in lifts.filter(|(_, lift)| self.installation.serves_fish(lift)) {
            serve = serve.saturating_add(1);
            known = known.saturating_add(u8::from(self.oxygen_of(index).is_some()));
        }
        known.min(serve.saturating_sub(1))
    }

    /// Gives up so many floors, of the lifts with the most oxygen left, and counts the minutes without.
    fn spare_floors(&mut self, floors: u8) {
        for run in &mut self.lifts {
            let minute = run.without_min;
            run.without_min = if run.without_air {
                minute.saturating_add(1)
            } else {
                minute.saturating_sub(1)
            };
            run.without_air = false;
        }
        for _ in 0..floors {
            let mut most: Option<(usize, u16)> = None;
            for (index, run) in self.lifts.iter().enumerate() {
                let left = self.oxygen_of(index).filter(|_| !run.without_air);
                if let Some(left) = left.filter(|left| most.is_none_or(|(_, most)| *left > most)) {
                    most = Some((index, left));
                }
            }
            if let Some(run) = most.and_then(|(index, _)| self.lifts.get_mut(index)) {
                run.without_air = true;
            }
        }
    }

    /// Power that the blower would take with so much given up, W.
    fn power_with(&self, given_up: GivenUp) -> f32 {
        let settings = &self.installation.settings;
        let (mut air, mut fish, mut floors) = (0.0f32, 0.0f32, 0u8);
        for (run, lift) in self.lifts.iter().zip(&self.installation.lifts) {
            let floor = floor_with_margin(lift.air_floor);
            if self.installation.serves_fish(lift) {
                air += if given_up >= GivenUp::ABOVE_FLOORS {
                    floor.m3_s
                } else {
                    run.usual_air(floor, settings).m3_s
                };
                fish += floor.m3_s;
                floors = floors.saturating_add(1);
            } else if given_up < GivenUp::WITHOUT_FISH {
                air += run.usual_air(floor, settings).m3_s;
            }
        }
        air -= fish * f32::from(given_up.floors()) / larger(f32::from(floors), 1.0);
        let pressure_pa = match self.installation.air.drive {
            Drive::Fixed => self.manifold(None).pressure_at_pa(air),
            _ => self.place.reserve.pressure_pa(),
        };
        let bleed = larger(
            self.place.passes_m3_s - self.lifts.iter().fold(0.0, |sum, run| sum + run.air.m3_s),
            0.0,
        );
        let site = self.conditions.atmosphere_pa;
        power_w(air + bleed, pressure_pa, site, self.installation.air.efficiency)
    }
}
