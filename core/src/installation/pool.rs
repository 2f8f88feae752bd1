//! Measured points of many tables in one room.

use super::Installation;
use crate::air::{CHARACTERISTIC_POINTS, Characteristic, ValvePoint};
use crate::fault::Place;
use crate::outlet::{Law, TABLE_POINTS, TablePoint};
use crate::tank::{AREA_POINTS, AreaPoint};
use serde::{Deserialize, Serialize};

/// Where the points of one table are in their pool.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Run {
    first: u8,
    count: u8,
}

impl Run {
    /// Of no point.
    pub const NONE: Self = Self { first: 0, count: 0 };
}

/// A measured point.
pub trait Point: Copy {
    /// What stands where there is none.
    const NONE: Self;
    /// Both its numbers bit by bit: tables may share their points only when they are written with the same bytes.
    fn bits(&self) -> (u32, u32);
}

impl Point for AreaPoint {
    const NONE: Self = Self {
        level_m: 0.0,
        area_m2: 0.0,
    };

    fn bits(&self) -> (u32, u32) {
        (self.level_m.to_bits(), self.area_m2.to_bits())
    }
}

impl Point for TablePoint {
    const NONE: Self = Self {
        level_m: 0.0,
        flow_m3_s: 0.0,
    };

    fn bits(&self) -> (u32, u32) {
        (self.level_m.to_bits(), self.flow_m3_s.to_bits())
    }
}

impl Point for ValvePoint {
    const NONE: Self = Self {
        opening: 0.0,
        share: 0.0,
    };

    fn bits(&self) -> (u32, u32) {
        (self.opening.to_bits(), self.share.to_bits())
    }
}

/// Room for `EACH` points for each of `OF` tanks or lifts in the mean, and for one table of `LONG` besides.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pool<T, const EACH: usize, const OF: usize, const LONG: usize> {
    each: [[T; EACH]; OF],
    long: [T; LONG],
}

impl<T: Point, const EACH: usize, const OF: usize, const LONG: usize> Pool<T, EACH, OF, LONG> {
    /// No point yet.
    pub const NONE: Self = Self {
        each: [[T::NONE; EACH]; OF],
        long: [T::NONE; LONG],
    };

    /// The points of a table.
    #[inline]
    pub fn points(&self, run: &Run) -> &[T] {
        let each = self.each.as_flattened();
        let (first, count) = (usize::from(run.first), usize::from(run.count));
        each.get(first..first + count)
            .or_else(|| {
                let first = first.checked_sub(each.len())?;
                self.long.get(first..first + count)
            })
            .unwrap_or(&[])
    }

    /// Takes a table in behind those that use so much of the two rooms; none when there is no more.
    fn take(&mut self, used: &mut [u8; 2], table: &[T]) -> Option<Run> {
        take(self.each.as_flattened_mut(), &mut self.long, used, table)
    }

    /// The same of a table that may be like one that is there: then they share their points.
    #[inline(never)]
    fn take_alike(&mut self, used: &mut [u8; 2], table: &[T]) -> Option<Run> {
        let count = u8::try_from(table.len()).ok()?;
        // What is not used yet, all of it nothing, is like no table: levels and openings rise from point to point.
        let alike = |run: &Run| {
            let there = self.points(run);
            there.len() == table.len() && there.iter().zip(table).all(|(a, b)| a.bits() == b.bits())
        };
        let there = (0..u8::MAX).map(|first| Run { first, count }).find(alike);
        there.or_else(|| self.take(used, table))
    }
}

/// See [`Pool::take`].
#[inline(never)]
fn take<T: Copy>(each: &mut [T], long: &mut [T], used: &mut [u8; 2], table: &[T]) -> Option<Run> {
    let [of_each, of_long] = used;
    let count = u8::try_from(table.len()).ok()?;
    let (room, used, begins) = if usize::from(*of_each) + table.len() <= each.len() {
        (each, of_each, 0)
    } else {
        (long, of_long, u8::try_from(each.len()).ok()?)
    };
    let first = *used;
    let room = room.get_mut(usize::from(first)..)?.get_mut(..table.len())?;
    for (place, point) in room.iter_mut().zip(table) {
        *place = *point;
    }
    *used = first.saturating_add(count);
    Some(Run {
        first: first.saturating_add(begins),
        count,
    })
}

/// The points of all tables of an installation.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pools<const LIFTS: usize, const TANKS: usize> {
    /// Of surfaces.
    pub areas: Pool<AreaPoint, 2, TANKS, AREA_POINTS>,
    /// Of measured outlets.
    pub outlets: Pool<TablePoint, 1, TANKS, TABLE_POINTS>,
    /// Of measured valves.
    pub valves: Pool<ValvePoint, 1, LIFTS, CHARACTERISTIC_POINTS>,
    /// How much of each is used.
    used: [[u8; 2]; 3],
}

impl<const LIFTS: usize, const TANKS: usize> Pools<LIFTS, TANKS> {
    /// No point yet.
    pub const NONE: Self = Self {
        areas: Pool::NONE,
        outlets: Pool::NONE,
        valves: Pool::NONE,
        used: [[0; 2]; 3],
    };

    /// Forgets all tables.
    pub fn clear(&mut self) {
        *self = Self::NONE;
    }

    /// Takes a table of a surface in; none when there is no room.
    pub fn take_area(&mut self, table: &[AreaPoint]) -> Option<Run> {
        let [used, ..] = &mut self.used;
        self.areas.take(used, table)
    }

    /// The same of a measured outlet.
    pub fn take_outlet(&mut self, table: &[TablePoint]) -> Option<Run> {
        let [_, used, _] = &mut self.used;
        self.outlets.take_alike(used, table)
    }

    /// The same of a measured valve.
    pub fn take_valve(&mut self, table: &[ValvePoint]) -> Option<Run> {
        let [.., used] = &mut self.used;
        self.valves.take_alike(used, table)
    }

    /// Takes all tables of an installation in, as far as there is room: the place of the first that there is none for.
    #[inline(never)]
    pub fn fill(&mut self, from: &Installation<LIFTS, TANKS>) -> Option<Place> {
        for (index, tank) in (0u8..).zip(&from.tanks) {
            let mut fits = self.take_area(&tank.area).is_some();
            for outlet in &tank.outlets {
                if let Law::Table { points } = &outlet.law {
                    fits &= self.take_outlet(points).is_some();
                }
            }
            if !fits {
                return Some(Place::Tank(index));
            }
        }
        for (index, lift) in (0u8..).zip(&from.lifts) {
            if let Characteristic::Table { points } = &lift.valve.characteristic
                && self.take_valve(points).is_none()
            {
                return Some(Place::Lift(index));
            }
        }
        None
    }
}
