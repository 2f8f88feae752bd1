//! Every valve standing wide open at full blower: does each overflow carry its inflow, does every source keep its lifts' feet wet?
//!
//! That is the state after a lost signal. The tanks are followed from their working levels for an hour and a half: lifts and
//! manifold as everywhere in this crate, levels by a linearised implicit step, which is steady at any step length and
//! keeps the water.

use crate::air::{Branch, Manifold, Path};
use crate::installation::Installation;
use crate::lift::Curve;
use crate::math::seldom::{limit, positive, smaller};
use crate::outlet::Drain;
use crate::units::Opening;

/// Step, s, and most steps: an hour and a half. Ends sooner when every level stands still.
const STEP_S: f32 = 10.0;
const STEPS: usize = 540;
/// Sweeps over the tanks in one step.
const SWEEPS: usize = 6;
/// Change of a level in one step below which it stands still, m.
const STILL_M: f32 = 2.0e-6;
/// Share of an air floor that may be missing: what a valve is a little narrower than told is no fault of the installation.
const FLOOR_MISSED: f32 = 0.02;
/// Water above an air inlet below which a lift's foot counts as dry, m.
const FOOT_M: f32 = 0.02;

/// What becomes of the tanks.
#[derive(Clone, Copy, Debug)]
pub(super) struct WideOpen<const LIFTS: usize, const TANKS: usize> {
    /// Tanks that run over their rim.
    pub runs_over: [bool; TANKS],
    /// Lowest level of each tank, m.
    pub lowest_m: [f32; TANKS],
    /// Lifts whose source sinks to their foot.
    pub foot_dry: [bool; LIFTS],
    /// Lifts that get less than their air floor while every valve stands at the preset opening and every tank at its working level.
    pub short_at_preset: [bool; LIFTS],
}

/// Follows the tanks with every valve at its widest.
pub(super) fn wide_open<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
) -> WideOpen<LIFTS, TANKS> {
    let conditions = installation.site.conditions();
    let manifold = Manifold::new(&installation.air, conditions.atmosphere_pa, None);
    let openings = [Opening::new(installation.settings.most_opening); LIFTS];
    let mut middle = [0.0f32; TANKS];
    for (tank, middle) in installation.tanks.iter().zip(&mut middle) {
        *middle = 0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m);
    }
    let mut level = middle;
    for (index, level) in (0u8..).zip(&mut level) {
        *level = working_level(installation, index, &middle).unwrap_or(*level);
    }
    let mut out = WideOpen {
        runs_over: [false; TANKS],
        lowest_m: level,
        foot_dry: [false; LIFTS],
        short_at_preset: [false; LIFTS],
    };
    let mut pressure = 0.5 * installation.air.shut_off_pa();
    for step in 0..STEPS {
        let mut curves = heapless::Vec::<Curve, LIFTS>::new();
        let mut branches = heapless::Vec::<Branch<'_>, LIFTS>::new();
        for lift in &installation.lifts {
            let receiver = installation.receiver_above_source_floor_m(lift, of(&level, lift.to));
            let source = of(&level, lift.from);
            let curve = Curve::new(&lift.riser, &lift.calibration, &conditions, source, Some(receiver));
            let path = Path::new(
                &lift.line,
                &lift.diffuser,
                curve.injector_pa(),
                conditions.atmosphere_pa,
            );
            // As many as lifts.
            let _ = curves.push(curve);
            let _ = branches.push(Branch::new(&lift.valve, path));
        }
        if step == 0 {
            let preset = [Opening::new(installation.settings.preset_opening); LIFTS];
            let settled = manifold.settle(&branches, &preset, pressure);
            for ((lift, air), short) in installation
                .lifts
                .iter()
                .zip(&settled.air)
                .zip(&mut out.short_at_preset)
            {
                *short = air.m3_s < (1.0 - FLOOR_MISSED) * lift.air_floor.m3_s;
            }
        }
        let settled = manifold.settle(&branches, &openings, pressure);
        pressure = settled.pressure_pa;
        let mut streams = Streams::<TANKS>::default();
        for ((lift, curve), air) in installation.lifts.iter().zip(&curves).zip(&settled.air) {
            let at = curve.at(*air);
            streams.add(
                lift.from,
                Some(lift.to),
                at.flow.m3_s,
                at.per_source_m,
                at.per_receiver_m,
            );
        }
        for (index, tank) in (0u8..).zip(&installation.tanks) {
            for outlet in &tank.outlets {
                let (to, below) = match outlet.to {
                    Drain::Tank(to) => (Some(to), Some(below_m(installation, &level, index, to))),
                    Drain::Away => (None, None),
                };
                let at = outlet.at(of(&level, index), below);
                streams.add(index, to, at.flow_m3_s, at.per_level, at.per_downstream);
            }
        }
        let moved = advance(installation, &streams, &mut level, &mut out);
        for (lift, dry) in installation.lifts.iter().zip(&mut out.foot_dry) {
            *dry |= of(&level, lift.from) < lift.riser.injector_m + FOOT_M;
        }
        if !moved {
            break;
        }
    }
    out
}

fn of<const TANKS: usize>(values: &[f32; TANKS], tank: u8) -> f32 {
    values.get(usize::from(tank)).copied().unwrap_or(0.0)
}

/// The level of tank `to` above the floor of tank `from`, m.
fn below_m<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    level: &[f32; TANKS],
    from: u8,
    to: u8,
) -> f32 {
    installation.floor_m(to) + of(level, to) - installation.floor_m(from)
}

/// Flows and their slopes, gathered per tank.
struct Streams<const TANKS: usize> {
    /// Water gained, m3/s.
    net: [f32; TANKS],
    /// How the loss of a tank grows with its own level, m2/s.
    own: [f32; TANKS],
    /// How the gain of tank `[i]` grows with the level of tank `[j]`, m2/s.
    cross: [[f32; TANKS]; TANKS],
}

impl<const TANKS: usize> Default for Streams<TANKS> {
    fn default() -> Self {
        Self {
            net: [0.0; TANKS],
            own: [0.0; TANKS],
            cross: [[0.0; TANKS]; TANKS],
        }
    }
}

impl<const TANKS: usize> Streams<TANKS> {
    /// A stream with its slopes: by the level it comes from (not negative) and by the one it goes to (not positive).
    fn add(&mut self, from: u8, to: Option<u8>, flow: f32, per_from: f32, per_to: f32) {
        let (from, per_from, per_to) = (usize::from(from), positive(per_from), positive(-per_to));
        plus(self.net.get_mut(from), -flow);
        plus(self.own.get_mut(from), per_from);
        let Some(to) = to.map(usize::from) else { return };
        plus(self.net.get_mut(to), flow);
        plus(self.own.get_mut(to), per_to);
        plus(self.cross.get_mut(to).and_then(|row| row.get_mut(from)), per_from);
        plus(self.cross.get_mut(from).and_then(|row| row.get_mut(to)), per_to);
    }
}

fn plus(slot: Option<&mut f32>, value: f32) {
    if let Some(slot) = slot {
        *slot += value;
    }
}

/// One step of all levels; false when they stand still.
fn advance<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    streams: &Streams<TANKS>,
    level: &mut [f32; TANKS],
    out: &mut WideOpen<LIFTS, TANKS>,
) -> bool {
    // (A + dt own) rise = dt (net + cross rise), by Gauss-Seidel: the diagonal outweighs the rest, so it converges.
    let mut rise = [0.0f32; TANKS];
    for _ in 0..SWEEPS {
        for (index, tank) in (0u8..).zip(&installation.tanks) {
            let others = streams.cross.get(usize::from(index)).map_or(0.0, |row| {
                row.iter()
                    .zip(&rise)
                    .fold(0.0f32, |sum, (slope, rise)| sum + slope * rise)
            });
            let area = tank.area_m2(of(level, index));
            let next = STEP_S * (of(&streams.net, index) + others) / (area + STEP_S * of(&streams.own, index));
            if let Some(rise) = rise.get_mut(usize::from(index)) {
                *rise = next;
            }
        }
    }
    let mut moved = false;
    for (index, tank) in installation.tanks.iter().enumerate() {
        let (Some(level), Some(rise)) = (level.get_mut(index), rise.get(index)) else {
            continue;
        };
        let next = *level + rise;
        if next > tank.rim_m
            && let Some(over) = out.runs_over.get_mut(index)
        {
            *over = true;
        }
        let next = limit(next, 0.0, tank.rim_m);
        moved |= (next - *level).abs() > STILL_M;
        *level = next;
        if let Some(lowest) = out.lowest_m.get_mut(index) {
            *lowest = smaller(*lowest, next);
        }
    }
    moved
}

/// The level at which a tank that only outlets empty carries the targets of the lifts that fill it, the tanks below it at the
/// middle of their bands.
fn working_level<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    index: u8,
    middle: &[f32; TANKS],
) -> Option<f32> {
    let tank = installation.tanks.get(usize::from(index))?;
    let filling = installation.lifts.iter().filter(|lift| lift.to == index);
    let inflow = filling.fold(0.0f32, |sum, lift| sum + lift.target.m3_s);
    let drawn = installation.lifts.iter().any(|lift| lift.from == index);
    if drawn || tank.outlets.is_empty() || !(inflow > 0.0) {
        return None;
    }
    let (mut low, mut high) = (0.0f32, tank.rim_m);
    for _ in 0..20 {
        let at = 0.5 * (low + high);
        let outflow = tank.outlets.iter().fold(0.0f32, |sum, outlet| {
            let below = match outlet.to {
                Drain::Tank(to) => Some(below_m(installation, middle, index, to)),
                Drain::Away => None,
            };
            sum + outlet.at(at, below).flow_m3_s
        });
        if outflow < inflow {
            low = at;
        } else {
            high = at;
        }
    }
    Some(high)
}
