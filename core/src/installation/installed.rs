//! An installation as a controller keeps it: the measured points of all in one place.

use super::pool::{Pools, Run};
use super::{Installation, Lift, LiftView, Settings, Site};
use crate::air::{AirSupply, Branch, Path};
use crate::outlet::{Outlet, OutletView};
use crate::tank::{AreaPoint, Tank, TankView, area_m2};
use serde::ser::{SerializeSeq, SerializeStruct};
use serde::{Serialize, Serializer};

/// A tank with its points in the pool.
pub type PooledTank = Tank<Run, Run>;
/// A lift with its points in the pool.
pub type PooledLift = Lift<Run>;

/// The installation of a controller.
///
/// It is written with the same bytes as the [`Installation`] that it was taken from, and takes about 3 KiB for eight lifts and nine
/// tanks instead of 4.3: measured tables do not each have room for the longest, but share room for two points for every tank (of its surface, and of
/// outlets) and every lift (of valves); tables that are alike share their points.
#[derive(Clone, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Installed<const LIFTS: usize, const TANKS: usize> {
    pub(crate) site: Site,
    pub(crate) air: AirSupply,
    pub(crate) settings: Settings,
    pub(crate) tanks: heapless::Vec<PooledTank, TANKS>,
    pub(crate) lifts: heapless::Vec<PooledLift, LIFTS>,
    points: Pools<LIFTS, TANKS>,
}

impl<const LIFTS: usize, const TANKS: usize> Installed<LIFTS, TANKS> {
    /// Nothing installed.
    pub(crate) const fn none() -> Self {
        Self {
            site: Site::SEA,
            air: AirSupply::NONE,
            settings: Settings::USUAL,
            tanks: heapless::Vec::new(),
            lifts: heapless::Vec::new(),
            points: Pools::NONE,
        }
    }

    /// Takes over an installation whose points there is room for.
    pub(crate) fn take(&mut self, from: &Installation<LIFTS, TANKS>) {
        self.site = from.site;
        self.air = from.air.clone();
        self.settings = from.settings;
        self.points.clear();
        self.tanks.clear();
        for tank in &from.tanks {
            // There is room: it was asked before.
            let area = self.points.take_area(&tank.area).unwrap_or(Run::NONE);
            let outlet = |points: &heapless::Vec<_, _>| self.points.take_outlet(points).unwrap_or(Run::NONE);
            let _ = self.tanks.push(tank.with(|_| area, outlet));
        }
        self.lifts.clear();
        for lift in &from.lifts {
            let valve = |points: &heapless::Vec<_, _>| self.points.take_valve(points).unwrap_or(Run::NONE);
            let _ = self.lifts.push(lift.with(valve));
        }
    }

    /// Writes it out as it would be stored or sent.
    pub fn copy_into(&self, to: &mut Installation<LIFTS, TANKS>) {
        to.site = self.site;
        to.air = self.air.clone();
        to.settings = self.settings;
        to.tanks.clear();
        for tank in &self.tanks {
            let tank = tank.with(
                |area| own(self.points.areas.points(area)),
                |points| own(self.points.outlets.points(points)),
            );
            let _ = to.tanks.push(tank);
        }
        to.lifts.clear();
        for lift in &self.lifts {
            let lift = lift.with(|points| own(self.points.valves.points(points)));
            let _ = to.lifts.push(lift);
        }
    }

    /// The same as a value of its own: some 4 KiB for eight lifts.
    #[must_use]
    pub fn to_installation(&self) -> Installation<LIFTS, TANKS> {
        let mut installation = Installation::none();
        self.copy_into(&mut installation);
        installation
    }

    /// Lifts it has.
    #[must_use]
    pub fn lift_count(&self) -> usize {
        self.lifts.len()
    }

    /// Tanks it has.
    #[must_use]
    pub fn tank_count(&self) -> usize {
        self.tanks.len()
    }

    /// How the loop behaves.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// A tank as what looks at one takes it.
    #[inline(never)]
    pub(crate) fn tank_view(&self, index: usize) -> Option<TankView<'_>> {
        let tank = self.tanks.get(index)?;
        Some(tank.with(
            |area| self.points.areas.points(area),
            |points| self.points.outlets.points(points),
        ))
    }

    /// A lift as what looks at one takes it.
    #[inline(never)]
    pub(crate) fn lift_view(&self, index: usize) -> Option<LiftView<'_>> {
        let lift = self.lifts.get(index)?;
        Some(lift.with(|points| self.points.valves.points(points)))
    }

    /// Level below which nothing can run out of an outlet, m above its tank's floor.
    #[inline(never)]
    pub(crate) fn dry_below_m(&self, outlet: &Outlet<Run>) -> f32 {
        self.outlet(outlet).law.is_dry_below_m()
    }

    /// The outlets of a tank.
    pub(crate) fn outlets_of<'a>(&'a self, tank: &'a PooledTank) -> impl Iterator<Item = OutletView<'a>> {
        tank.outlets.iter().map(|outlet| self.outlet(outlet))
    }

    /// One of its tanks' outlets as what looks at one takes it.
    #[inline(never)]
    pub(crate) fn outlet<'a>(&'a self, outlet: &'a Outlet<Run>) -> OutletView<'a> {
        outlet.with(|points| self.points.outlets.points(points))
    }

    /// Water surface of a tank against level.
    pub(crate) fn surface(&self, tank: &PooledTank) -> &[AreaPoint] {
        self.points.areas.points(&tank.area)
    }

    /// Water surface of a tank at a level, m2.
    pub(crate) fn area_m2(&self, tank: &PooledTank, level_m: f32) -> f32 {
        match self.surface(tank) {
            // In range, or it had not been taken over.
            [upright] => upright.area_m2,
            table => area_m2(table, level_m),
        }
    }

    /// The place of a lift on the manifold, with this path.
    #[inline]
    pub(crate) fn branch<'a>(&'a self, lift: &'a PooledLift, path: Path) -> Branch<'a> {
        Branch {
            conductance_m3_s_pa: lift.valve.conductance_m3_s_pa,
            critical_ratio: lift.valve.critical_ratio,
            characteristic: lift
                .valve
                .characteristic
                .with(|points| self.points.valves.points(points)),
            path,
        }
    }

    /// The receiving level of `lift` above its source tank's floor, given both levels above their own floors.
    pub(crate) fn receiver_above_source_floor_m(&self, lift: &PooledLift, receiver_level_m: f32) -> f32 {
        self.floor_m(lift.to) - self.floor_m(lift.from) + receiver_level_m
    }

    /// Height of a tank's floor above the site's datum, m; zero for an index out of range.
    pub(crate) fn floor_m(&self, tank: u8) -> f32 {
        self.tanks.get(usize::from(tank)).map_or(0.0, |tank| tank.floor_m)
    }

    /// True when fish live in the tank this lift draws from or feeds.
    pub(crate) fn serves_fish(&self, lift: &PooledLift) -> bool {
        [lift.from, lift.to]
            .iter()
            .any(|tank| self.tanks.get(usize::from(*tank)).is_some_and(|tank| tank.fish))
    }

    /// True when another lift feeds the same tank.
    pub(crate) fn shares_receiver(&self, index: usize) -> bool {
        let Some(own) = self.lifts.get(index) else { return false };
        self.lifts
            .iter()
            .enumerate()
            .any(|(other, lift)| other != index && lift.to == own.to)
    }
}

/// A table of its own; there is room, for it came from one of this length.
fn own<T: Copy, const N: usize>(points: &[T]) -> heapless::Vec<T, N> {
    heapless::Vec::from_slice(points).unwrap_or_default()
}

/// Each of a number of things, written as a sequence as it is looked at.
struct Each<F>(usize, F);

impl<T: Serialize, F: Fn(usize) -> Option<T>> Serialize for Each<F> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut all = serializer.serialize_seq(Some(self.0))?;
        for one in (0..self.0).filter_map(&self.1) {
            all.serialize_element(&one)?;
        }
        all.end()
    }
}

impl<const LIFTS: usize, const TANKS: usize> Serialize for Installed<LIFTS, TANKS> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut all = serializer.serialize_struct("Installation", 5)?;
        all.serialize_field("site", &self.site)?;
        all.serialize_field("air", &self.air)?;
        all.serialize_field("tanks", &Each(self.tanks.len(), |index| self.tank_view(index)))?;
        all.serialize_field("lifts", &Each(self.lifts.len(), |index| self.lift_view(index)))?;
        all.serialize_field("settings", &self.settings)?;
        all.end()
    }
}

impl<const LIFTS: usize, const TANKS: usize> PartialEq<Installation<LIFTS, TANKS>> for Installed<LIFTS, TANKS> {
    fn eq(&self, other: &Installation<LIFTS, TANKS>) -> bool {
        self.to_installation() == *other
    }
}
