//! What the values mean together: heights, ways for the water, reach of lifts and blower.

use super::{Field, Note, Why};
use crate::air::{Branch, Manifold, Path};
use crate::fault::{Faults, Place};
use crate::installation::{Conditions, Installation, Lift};
use crate::lift::Curve;
use crate::math::GRAVITY_M_S2;
use crate::outlet::Drain;
use crate::units::{FreeAir, WaterFlow};

pub(super) fn check<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    faults: &mut Faults,
) {
    let conditions = installation.site.conditions();
    for (index, tank) in (0u8..).zip(&installation.tanks) {
        for (number, outlet) in (0u8..).zip(&tank.outlets) {
            let mut note = Note {
                faults,
                place: Place::Outlet(index, number),
            };
            let crest = outlet.law.dry_below_m();
            note.fault(crest > tank.rim_m, Field::CrestM, crest, Why::OutletAboveRim);
        }
        let fed = installation.lifts.iter().any(|lift| lift.to == index);
        let lowest = tank.outlets.iter().fold(f32::MAX, |low, outlet| {
            let crest = outlet.law.dry_below_m();
            if crest < low { crest } else { low }
        });
        let drawn = installation.lifts.iter().any(|lift| lift.from == index);
        let mut note = Note {
            faults,
            place: Place::Tank(index),
        };
        note.fault(
            fed && !drawn && tank.outlets.is_empty(),
            Field::Outlets,
            0.0,
            Why::NoWayOut,
        );
        note.fault(
            fed && !drawn && lowest >= tank.limits.high_act_m && !tank.outlets.is_empty(),
            Field::LimitsHighActM,
            tank.limits.high_act_m,
            Why::ActsBelowOutlet,
        );
    }
    let mut wanted = [FreeAir::ZERO; LIFTS];
    for ((index, lift), wanted) in (0u8..).zip(&installation.lifts).zip(&mut wanted) {
        let mut note = Note {
            faults,
            place: Place::Lift(index),
        };
        *wanted = check_lift(installation, lift, &conditions, &mut note);
    }
    if faults.can_start() {
        check_blower(
            installation,
            &conditions,
            &wanted,
            &mut Note {
                faults,
                place: Place::Air,
            },
        );
    }
}

/// What a lost signal does: valves that stand open without power must neither flood a tank nor drain one.
#[inline(never)]
pub(super) fn check_wide_open<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    faults: &mut Faults,
) {
    let open = super::wide_open::wide_open(installation);
    for (index, tank) in (0u8..).zip(&installation.tanks) {
        let at = usize::from(index);
        let mut note = Note {
            faults,
            place: Place::Tank(index),
        };
        note.warning(
            open.runs_over.get(at).copied().unwrap_or(false),
            Field::RimM,
            tank.rim_m,
            Why::RunsOverWideOpen,
        );
        let drawn = installation.lifts.iter().any(|lift| lift.from == index);
        let lowest = open.lowest_m.get(at).copied().unwrap_or(f32::MAX);
        note.warning(
            drawn && lowest < tank.limits.low_act_m,
            Field::LimitsLowActM,
            lowest,
            Why::SinksWideOpen,
        );
    }
    let seen = open.foot_dry.into_iter().zip(open.short_at_preset);
    for ((index, lift), (dry, short)) in (0u8..).zip(&installation.lifts).zip(seen) {
        let mut note = Note {
            faults,
            place: Place::Lift(index),
        };
        note.warning(dry, Field::RiserInjectorM, lift.riser.injector_m, Why::FootDryWideOpen);
        note.warning(short, Field::AirFloor, lift.air_floor.m3_s, Why::FloorAboveThePreset);
    }
}

/// Checks one lift; the air it wants for its target at the middle of its source's band.
fn check_lift<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    lift: &Lift,
    conditions: &Conditions,
    note: &mut Note<'_>,
) -> FreeAir {
    let riser = &lift.riser;
    note.fault(
        riser.outlet_m <= riser.injector_m,
        Field::RiserOutletM,
        riser.outlet_m,
        Why::RiserUpsideDown,
    );
    let (Some(source), Some(receiver)) = (
        installation.tanks.get(usize::from(lift.from)),
        installation.tanks.get(usize::from(lift.to)),
    ) else {
        return FreeAir::ZERO;
    };
    note.fault(
        riser.injector_m >= source.limits.high_act_m,
        Field::RiserInjectorM,
        riser.injector_m,
        Why::InletNeverWet,
    );
    let outlet_in_receiver = riser.outlet_m + source.floor_m - receiver.floor_m;
    note.fault(
        outlet_in_receiver < 0.0,
        Field::RiserOutletM,
        riser.outlet_m,
        Why::RiserOutletBelowFloor,
    );
    note.fault(
        !has_way_back(installation, lift.to, lift.from),
        Field::To,
        f32::from(lift.to),
        Why::NoWayBack,
    );
    note.warning(
        outlet_in_receiver > receiver.rim_m + 1.0,
        Field::RiserOutletM,
        riser.outlet_m,
        Why::RiserOutletFarAbove,
    );
    let at = |level: f32| Curve::new(riser, &lift.calibration, conditions, level, None);
    let best = at(source.limits.high_act_m);
    let peak = best.peak();
    note.fault(
        best.onset().is_none() || peak.flow.m3_s <= 0.0,
        Field::RiserOutletM,
        riser.outlet_m,
        Why::CannotLift,
    );
    let most = installation.settings.peak_share * peak.flow.m3_s;
    note.fault(
        lift.target.m3_s > most,
        Field::Target,
        lift.target.m3_s,
        Why::TargetBeyondLift,
    );
    let usual_level = 0.5 * (source.limits.low_warn_m + source.limits.high_warn_m);
    let usual = at(usual_level);
    let at_peak = usual.peak();
    note.warning(
        lift.target.m3_s > installation.settings.peak_share * at_peak.flow.m3_s && lift.target.m3_s <= most,
        Field::Target,
        lift.target.m3_s,
        Why::TargetBeyondReach,
    );
    let onset = usual.onset().unwrap_or(FreeAir::ZERO);
    note.warning(
        lift.air_floor > onset && usual.lift_m() > 0.0,
        Field::AirFloor,
        lift.air_floor.m3_s,
        Why::FloorMovesWater,
    );
    note.warning(
        usual.lift_m() < 0.0,
        Field::RiserOutletM,
        riser.outlet_m,
        Why::RunsWithoutAir,
    );
    note.fault(
        lift.air_floor > at_peak.air && at_peak.air > FreeAir::ZERO,
        Field::AirFloor,
        lift.air_floor.m3_s,
        Why::FloorPastPeak,
    );
    let deepest = conditions.density_kg_m3 * GRAVITY_M_S2 * (source.limits.high_act_m - riser.injector_m)
        + lift.diffuser.opening_pa;
    note.fault(
        installation.air.shut_off_pa() <= deepest,
        Field::RiserInjectorM,
        riser.injector_m,
        Why::TooDeep,
    );
    let possible = WaterFlow::from_m3_s(crate::math::smaller(
        lift.target.m3_s,
        installation.settings.peak_share * at_peak.flow.m3_s,
    ));
    let air = usual.air_for(possible).unwrap_or(FreeAir::ZERO);
    if air > lift.air_floor { air } else { lift.air_floor }
}

/// True when water put into `start` can come to `goal` through outlets and lifts.
fn has_way_back<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    start: u8,
    goal: u8,
) -> bool {
    let mut reached = [false; TANKS];
    let mark = |tank: u8, reached: &mut [bool; TANKS]| {
        if let Some(slot) = reached.get_mut(usize::from(tank)) {
            *slot = true;
        }
    };
    mark(start, &mut reached);
    for _ in 0..TANKS {
        let before = reached;
        let is = |tank: u8| before.get(usize::from(tank)).copied().unwrap_or(false);
        for (index, tank) in (0u8..).zip(&installation.tanks) {
            for outlet in tank.outlets.iter().filter(|_| is(index)) {
                if let Drain::Tank(to) = outlet.to {
                    mark(to, &mut reached);
                }
            }
        }
        for lift in installation.lifts.iter().filter(|lift| is(lift.from)) {
            mark(lift.to, &mut reached);
        }
    }
    reached.get(usize::from(goal)).copied().unwrap_or(false)
}

fn check_blower<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    conditions: &Conditions,
    wanted: &[FreeAir; LIFTS],
    note: &mut Note<'_>,
) {
    let supply = &installation.air;
    let (first, last) = match (supply.curve.first(), supply.curve.last()) {
        (Some(first), Some(last)) => (first.air_m3_s, last.air_m3_s),
        _ => return,
    };
    note.warning(
        supply.bleed.is_none() && first > 0.5 * last,
        Field::CurveAirM3S,
        first,
        Why::StiffBlower,
    );
    let mut branches = heapless::Vec::<_, LIFTS>::new();
    for lift in &installation.lifts {
        let Some(source) = installation.tanks.get(usize::from(lift.from)) else {
            return;
        };
        let level = 0.5 * (source.limits.low_warn_m + source.limits.high_warn_m);
        let depth = crate::math::larger(level - lift.riser.injector_m, 0.0);
        let still = conditions.density_kg_m3 * GRAVITY_M_S2 * depth;
        let path = Path::new(&lift.line, &lift.diffuser, still, conditions.atmosphere_pa);
        let _ = branches.push(Branch::new(&lift.valve, path));
    }
    let manifold = Manifold::new(supply, conditions.atmosphere_pa, None);
    let total = wanted.iter().fold(0.0f32, |sum, air| sum + air.m3_s);
    note.warning(
        !manifold.can_serve(&branches, wanted, installation.settings.most_opening),
        Field::CurveAirM3S,
        total,
        Why::AirTooShort,
    );
    note.warning(
        total < supply.least_air_m3_s,
        Field::LeastAirM3S,
        supply.least_air_m3_s,
        Why::BlowerStarved,
    );
}
