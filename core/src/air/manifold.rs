//! The manifold: pressure and airs for given openings, openings for wanted airs.

use super::blower::AirSupply;
use super::branch::Branch;
use super::path::Path;
use super::running::Running;
use super::valve::flow_into_path;
use crate::math::seldom;
use crate::units::{FreeAir, Opening};

/// Pressure evaluations in one settling. A warm start needs two or three, a cold one about eight.
const EVALUATIONS: usize = 24;

/// Relative error of the air balance at which the search stops.
const BALANCE: f32 = 1.0e-5;

/// The manifold at given openings.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settled<const LIFTS: usize> {
    /// Pressure, Pa above the atmosphere.
    pub pressure_pa: f32,
    /// Free air of each lift.
    pub air: [FreeAir; LIFTS],
    /// Air through the bleed.
    pub bleed: FreeAir,
}

/// The air supply with the paths of the moment.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Manifold<'a> {
    supply: &'a AirSupply,
    atmosphere_pa: f32,
    /// Pressure of a gauge, Pa above the atmosphere, if there is one that can be believed.
    gauge_pa: Option<f32>,
    /// What the gauge shows above the blower's curve, Pa.
    above_curve_pa: f32,
    /// How much of the blower runs.
    running: Running,
}

impl<'a> Manifold<'a> {
    /// A manifold under this atmosphere; with `gauge_pa` the present pressure is taken as measured.
    #[must_use]
    pub fn new(supply: &'a AirSupply, atmosphere_pa: f32, gauge_pa: Option<f32>) -> Self {
        Self {
            supply,
            atmosphere_pa,
            gauge_pa,
            above_curve_pa: 0.0,
            running: Running::FULL,
        }
    }

    /// The same with so much of the blower running.
    #[must_use]
    pub fn running(self, running: Running) -> Self {
        Self { running, ..self }
    }

    /// The same with the blower's curve shifted by what a gauge showed above it: the present pressure is measured, but what it
    /// will be at other airs still has to be foretold.
    #[must_use]
    pub fn shifted(self, above_curve_pa: f32) -> Self {
        Self { above_curve_pa, ..self }
    }

    fn most_m3_s(&self) -> f32 {
        self.running.air_m3_s(self.supply, 0.0)
    }

    fn bleed_m3_s(&self, pressure_pa: f32) -> f32 {
        self.supply.bleed.map_or(0.0, |bleed| {
            let p1 = self.atmosphere_pa + pressure_pa;
            flow_into_path(
                bleed.conductance_m3_s_pa,
                bleed.critical_ratio,
                p1,
                self.atmosphere_pa,
                0.0,
            )
        })
    }

    /// Free air of one lift at this pressure and opening, m3/s.
    #[must_use]
    pub fn branch_m3_s(&self, branch: &Branch<'_>, opening: Opening, pressure_pa: f32) -> f32 {
        let conductance = branch.conductance_m3_s_pa * branch.characteristic.share(opening);
        self.through(conductance, branch.critical_ratio, &branch.path, pressure_pa)
    }

    fn through(&self, conductance: f32, critical_ratio: f32, path: &Path, pressure_pa: f32) -> f32 {
        let p1 = self.atmosphere_pa + pressure_pa;
        flow_into_path(conductance, critical_ratio, p1, path.still_pa, path.loss_pa_s2_m6)
    }

    /// Pressure and airs with the valves at `openings`; `near_pa` is the pressure to start from.
    #[must_use]
    pub fn settle<const LIFTS: usize>(
        &self,
        branches: &heapless::Vec<Branch<'_>, LIFTS>,
        openings: &[Opening; LIFTS],
        near_pa: f32,
    ) -> Settled<LIFTS> {
        // The characteristic needs an exponential: once a lift, not once a pressure.
        let mut conductance = [0.0f32; LIFTS];
        for ((c, branch), opening) in conductance.iter_mut().zip(branches).zip(openings) {
            *c = branch.conductance_m3_s_pa * branch.characteristic.share(*opening);
        }
        let drawn = |pressure: f32| {
            branches.iter().zip(&conductance).fold(0.0f32, |sum, (branch, c)| {
                sum + self.through(*c, branch.critical_ratio, &branch.path, pressure)
            })
        };
        let pressure_pa = match self.gauge_pa {
            Some(pressure) => pressure,
            None => self.balance(near_pa, &drawn),
        };
        let mut air = [FreeAir::ZERO; LIFTS];
        for ((air, branch), c) in air.iter_mut().zip(branches).zip(&conductance) {
            *air = FreeAir::from_m3_s(self.through(*c, branch.critical_ratio, &branch.path, pressure_pa));
        }
        Settled {
            pressure_pa,
            air,
            bleed: FreeAir::from_m3_s(self.bleed_m3_s(pressure_pa)),
        }
    }

    /// Pressure when the lifts together take `total_m3_s` of free air.
    #[must_use]
    pub fn pressure_at_pa(&self, total_m3_s: f32) -> f32 {
        let by_curve = if self.supply.bleed.is_none() {
            self.running.pressure_pa(self.supply, total_m3_s)
        } else {
            self.balance(self.running.pressure_pa(self.supply, total_m3_s), &|_| total_m3_s)
        };
        seldom::positive(by_curve + self.above_curve_pa)
    }

    /// The pressure at which the blower gives what is drawn: bracketed secant on a falling function.
    #[inline(never)]
    fn balance(&self, near_pa: f32, drawn: &dyn Fn(f32) -> f32) -> f32 {
        let surplus = |pressure: f32| {
            let given = self.running.air_m3_s(self.supply, pressure);
            (given - drawn(pressure) - self.bleed_m3_s(pressure), given)
        };
        let most = self.running.shut_off_pa(self.supply);
        let (mut low, mut high) = (0.0f32, most);
        let mut pressure = seldom::limit(near_pa, 0.0, most);
        let mut last: Option<(f32, f32)> = None;
        for _ in 0..EVALUATIONS {
            let (off, given) = surplus(pressure);
            if off.abs() <= BALANCE * seldom::larger(given, 1.0e-5) {
                break;
            }
            if off > 0.0 {
                low = pressure;
            } else {
                high = pressure;
            }
            let next = match last {
                Some((before, before_off)) if (before_off - off).abs() > 1.0e-12 => {
                    pressure - off * (pressure - before) / (off - before_off)
                }
                // First step: the slope of a blower that loses its whole pressure over its whole air.
                _ => pressure + off * most / seldom::larger(self.most_m3_s(), 1.0e-6) * 0.5,
            };
            last = Some((pressure, off));
            let inside = low + 0.02 * (high - low) < next && next < high - 0.02 * (high - low);
            let near_end = (high - low) < 1.0;
            pressure = if inside || (near_end && low < next && next < high) {
                next
            } else {
                0.5 * (low + high)
            };
            if high - low < 0.01 {
                break;
            }
        }
        pressure
    }

    /// The share of its full conductance that the valve needs to pass `air` at this pressure; above 1 when even wide open is
    /// too little.
    fn share_for(&self, branch: &Branch<'_>, air: FreeAir, pressure_pa: f32) -> f32 {
        let p1 = self.atmosphere_pa + pressure_pa;
        let ratio = branch.path.behind_valve_pa(air.m3_s) / p1;
        if air.m3_s <= 0.0 {
            0.0
        } else if ratio >= 1.0 {
            f32::MAX
        } else {
            branch.share_for(air.m3_s, p1, ratio)
        }
    }

    /// What the valves must pass for the wanted airs, at the pressure that is left when all have theirs.
    #[must_use]
    pub fn feed<const LIFTS: usize>(
        &self,
        branches: &heapless::Vec<Branch<'_>, LIFTS>,
        wanted: &[FreeAir; LIFTS],
    ) -> Feed<LIFTS> {
        self.feed_meanwhile(branches, wanted, wanted)
    }

    /// What the valves must pass for the wanted airs at the pressure of a moment, while some lifts do not have theirs yet: `gets` is
    /// what each gets then.
    #[must_use]
    #[inline(never)]
    pub fn feed_meanwhile<const LIFTS: usize>(
        &self,
        branches: &heapless::Vec<Branch<'_>, LIFTS>,
        wanted: &[FreeAir; LIFTS],
        gets: &[FreeAir; LIFTS],
    ) -> Feed<LIFTS> {
        let total = gets.iter().take(branches.len()).fold(0.0f32, |sum, air| sum + air.m3_s);
        let most = self.most_m3_s();
        let pressure = self.pressure_at_pa(seldom::smaller(total, most));
        let mut shares = [0.0; LIFTS];
        for ((share, branch), air) in shares.iter_mut().zip(branches).zip(wanted) {
            *share = self.share_for(branch, *air, pressure);
        }
        Feed {
            shares,
            beyond_blower: total > most,
        }
    }

    /// True when every lift can have its air at the pressure that is left when all have theirs.
    #[must_use]
    pub fn can_serve<const LIFTS: usize>(
        &self,
        branches: &heapless::Vec<Branch<'_>, LIFTS>,
        wanted: &[FreeAir; LIFTS],
        most_opening: f32,
    ) -> bool {
        self.feed(branches, wanted).serves(branches, most_opening)
    }

    /// Openings for the wanted airs, `limits` = least and most opening; a lift that cannot have its air opens to the most.
    #[must_use]
    pub fn feed_forward<const LIFTS: usize>(
        &self,
        branches: &heapless::Vec<Branch<'_>, LIFTS>,
        wanted: &[FreeAir; LIFTS],
        limits: (f32, f32),
    ) -> [Opening; LIFTS] {
        self.feed(branches, wanted).openings(branches, limits)
    }
}

/// What the valves must pass so that every lift has its air.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Feed<const LIFTS: usize> {
    /// Shares of the valves' full conductances; above 1 where even wide open is too little.
    shares: [f32; LIFTS],
    /// All together want more than the blower gives at no pressure.
    beyond_blower: bool,
}

impl<const LIFTS: usize> Feed<LIFTS> {
    /// True when no valve has to open further than this.
    #[must_use]
    pub fn serves(&self, branches: &heapless::Vec<Branch<'_>, LIFTS>, most_opening: f32) -> bool {
        let wide = Opening::new(most_opening);
        !self.beyond_blower
            && branches.iter().zip(&self.shares).all(|(branch, share)| {
                let most = branch.characteristic.share(wide);
                *share <= most * 1.000_01
            })
    }

    /// The openings, `limits` = least and most; a lift that cannot have its air opens to the most.
    #[must_use]
    #[inline(never)]
    pub fn openings(&self, branches: &heapless::Vec<Branch<'_>, LIFTS>, limits: (f32, f32)) -> [Opening; LIFTS] {
        let mut openings = [Opening::SHUT; LIFTS];
        for ((opening, branch), share) in openings.iter_mut().zip(branches).zip(&self.shares) {
            let share = branch.characteristic.opening(*share).share();
            *opening = Opening::within(share, limits);
        }
        openings
    }
}
