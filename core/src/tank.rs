//! Tanks: how much water a level holds.

use crate::level::Sensor;
use crate::math::{interpolate, limit, seldom};
use crate::outlet::{Outlet, TABLE_POINTS, TablePoint};
use serde::{Deserialize, Serialize};

/// Points a table of areas can hold.
pub const AREA_POINTS: usize = 4;

/// Outlets a tank can have.
pub const OUTLETS: usize = 3;

/// One point of a table of areas.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AreaPoint {
    /// Level above the floor, m.
    pub level_m: f32,
    /// Water surface at that level, m2.
    pub area_m2: f32,
}

/// A tank whose points are looked at where they are.
pub type TankView<'a> = Tank<&'a [AreaPoint], &'a [TablePoint]>;

/// A tank: its shape, its outlets and the levels it must keep. Levels are above its own floor. `A` and `P` are where the points of
/// its surface and of its measured outlets are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Tank<A = heapless::Vec<AreaPoint, AREA_POINTS>, P = heapless::Vec<TablePoint, TABLE_POINTS>> {
    /// Height of the floor above the site's datum, m.
    pub floor_m: f32,
    /// Water surface against level, at least one point, rising levels; the ends hold outside.
    pub area: A,
    /// Outlets, none for a tank that only lifts draw from.
    pub outlets: heapless::Vec<Outlet<P>, OUTLETS>,
    /// The level sensor.
    pub sensor: Sensor,
    /// Where water runs over the rim, m.
    pub rim_m: f32,
    /// The levels that warn and act.
    pub limits: LevelLimits,
    /// True where fish live: lifts of this tank keep their air first.
    pub fish: bool,
    /// The fish in it, as far as they are told: what alarms about air say of the time that is left depends on them.
    pub stock: Stock,
}

/// Fish in a tank, and the oxygen they use.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stock {
    /// Mass of all fish in the tank, kg; 0 when it is not told.
    pub fish_kg: f32,
    /// Oxygen they use at the site's water temperature, mg a kg of fish and hour; 50 to 2000. 200 to 500 is common
    /// practice without a source, up to twice as much for some hours after a meal.
    pub oxygen_use_mg_kg_h: f32,
    /// Oxygen below which they suffer, mg/L; 1 to 8. 3 for hardy warm-water fish, 5 to 6 for trout is common practice.
    pub least_oxygen_mg_l: f32,
}

impl Stock {
    /// Fish that were not told; the usual figures for those that are.
    pub const UNTOLD: Self = Self {
        fish_kg: 0.0,
        oxygen_use_mg_kg_h: 400.0,
        least_oxygen_mg_l: 3.0,
    };
}

impl Default for Stock {
    fn default() -> Self {
        Self::UNTOLD
    }
}

/// Levels at which the guard warns and acts, m above the floor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LevelLimits {
    /// Above this, warn.
    pub high_warn_m: f32,
    /// Above this, lifts that feed the tank go down to their air floor, or below a floor that moves water.
    pub high_act_m: f32,
    /// Below this, warn.
    pub low_warn_m: f32,
    /// Below this, lifts that draw from the tank go down to their air floor, or below a floor that moves water.
    pub low_act_m: f32,
}

impl<A, P> Tank<A, P> {
    /// The same with its points elsewhere.
    pub(crate) fn with<'a, B, Q>(
        &'a self,
        area: impl FnOnce(&'a A) -> B,
        mut points: impl FnMut(&'a P) -> Q,
    ) -> Tank<B, Q> {
        let mut outlets = heapless::Vec::new();
        for outlet in &self.outlets {
            let _ = outlets.push(outlet.with(&mut points));
        }
        Tank {
            floor_m: self.floor_m,
            area: area(&self.area),
            outlets,
            sensor: self.sensor,
            rim_m: self.rim_m,
            limits: self.limits,
            fish: self.fish,
            stock: self.stock,
        }
    }
}

impl<A: AsRef<[AreaPoint]>, P> Tank<A, P> {
    /// Water surface at a level, m2; never below 1 cm2.
    #[must_use]
    pub fn area_m2(&self, level_m: f32) -> f32 {
        area_m2(self.area.as_ref(), level_m)
    }

    /// Water held at a level, m3: the table of areas added up, straight between its points.
    #[must_use]
    pub fn volume_m3(&self, level_m: f32) -> f32 {
        volume_m3(self.area.as_ref(), level_m)
    }
}

/// See [`Tank::area_m2`].
#[inline(never)]
pub(crate) fn area_m2(points: &[AreaPoint], level_m: f32) -> f32 {
    let area = match points {
        [upright] => upright.area_m2,
        table => interpolate(table, level_m, |p| p.level_m, |p| p.area_m2).unwrap_or(1.0),
    };
    seldom::limit(area, 1.0e-4, 1.0e6)
}

/// See [`Tank::volume_m3`].
#[inline(never)]
pub(crate) fn volume_m3(points: &[AreaPoint], level_m: f32) -> f32 {
    let level = limit(level_m, 0.0, 100.0);
    if points.len() <= 1 {
        return area_m2(points, level) * level;
    }
    let (mut volume, mut below) = (0.0f32, 0.0f32);
    let mut area = area_m2(points, 0.0);
    for point in points {
        if point.level_m >= level {
            break;
        }
        volume += 0.5 * (area + point.area_m2) * (point.level_m - below);
        (below, area) = (point.level_m, point.area_m2);
    }
    volume + 0.5 * (area + area_m2(points, level)) * (level - below)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::level::{Scale, Sensor};

    #[test]
    fn the_water_in_a_tank_is_its_area_added_up() {
        let area = [(0.0, 1.0), (1.0, 3.0)].map(|(level_m, area_m2)| AreaPoint { level_m, area_m2 });
        let tank: Tank = Tank {
            floor_m: 0.0,
            area: area.into_iter().collect(),
            outlets: heapless::Vec::new(),
            sensor: Sensor {
                scale: Scale::METRES,
                zero_m: 0.0,
                noise_m: 0.001,
                resolution_m: 0.0,
            },
            rim_m: 2.0,
            limits: LevelLimits {
                high_warn_m: 1.8,
                high_act_m: 1.9,
                low_warn_m: 0.2,
                low_act_m: 0.1,
            },
            fish: false,
            stock: Stock::UNTOLD,
        };
        // A frustum: 1 m2 at the floor, 3 m2 from 1 m up.
        for (level, volume) in [(0.0, 0.0), (0.5, 0.75), (1.0, 2.0), (2.0, 5.0), (f32::NAN, 0.0)] {
            let got = tank.volume_m3(level);
            assert!((got - volume).abs() < 1.0e-5, "{level} m: {got}");
        }
    }
}
