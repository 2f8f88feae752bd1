//! What the values mean together: heights, ways for the water, reach of lifts and blower.

use super::Note;
use crate::air::{Manifold, Path};
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
            note.fault(
                crest > tank.rim_m,
                "crest_m",
                crest,
                "the outlet lies above the tank's rim: it would run over first",
            );
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
            "outlets",
            0.0,
            "a lift feeds this tank but nothing leads out of it: it would run over",
        );
        note.fault(
            fed && !drawn && lowest >= tank.limits.high_act_m && !tank.outlets.is_empty(),
            "limits.high_act_m",
            tank.limits.high_act_m,
            "the level that acts lies at or below the lowest outlet: its lifts would always be held",
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
        check_wide_open(installation, faults);
    }
}

/// What a lost signal does: valves that stand open without power must neither flood a tank nor drain one.
fn check_wide_open<const LIFTS: usize, const TANKS: usize>(
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
            "rim_m",
            tank.rim_m,
            "with every valve wide open, as after a lost signal, this tank runs over its rim: fit a wider or lower overflow, or stops on the valves",
        );
        let drawn = installation.lifts.iter().any(|lift| lift.from == index);
        let lowest = open.lowest_m.get(at).copied().unwrap_or(f32::MAX);
        note.warning(
            drawn && lowest < tank.limits.low_act_m,
            "limits.low_act_m",
            lowest,
            "with every valve wide open, as after a lost signal, this tank sinks below its acting level: a bigger tank, or stops on the valves",
        );
    }
    let seen = open.foot_dry.into_iter().zip(open.short_at_preset);
    for ((index, lift), (dry, short)) in (0u8..).zip(&installation.lifts).zip(seen) {
        let mut note = Note {
            faults,
            place: Place::Lift(index),
        };
        note.warning(
            dry,
            "riser.injector_m",
            lift.riser.injector_m,
            "with every valve wide open, as after a lost signal, its source sinks to this lift's foot",
        );
        note.warning(
            short,
            "air_floor",
            lift.air_floor.m3_s,
            "with every valve at the preset opening, as at a start, after resets or without its host, this lift gets less air than its floor: a wider preset",
        );
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
        "riser.outlet_m",
        riser.outlet_m,
        "the riser's outlet must stand above its air inlet",
    );
    let (Some(source), Some(receiver)) = (
        installation.tanks.get(usize::from(lift.from)),
        installation.tanks.get(usize::from(lift.to)),
    ) else {
        return FreeAir::ZERO;
    };
    note.fault(
        riser.injector_m >= source.limits.high_act_m,
        "riser.injector_m",
        riser.injector_m,
        "the air inlet stands above the source's highest level: it would never be under water",
    );
    let outlet_in_receiver = riser.outlet_m + source.floor_m - receiver.floor_m;
    note.fault(
        outlet_in_receiver < 0.0,
        "riser.outlet_m",
        riser.outlet_m,
        "the riser's outlet lies below the floor of the tank it feeds",
    );
    note.fault(
        !has_way_back(installation, lift.to, lift.from),
        "to",
        f32::from(lift.to),
        "water pumped into this tank has no way back to the source: the source would run dry",
    );
    note.warning(
        outlet_in_receiver > receiver.rim_m + 1.0,
        "riser.outlet_m",
        riser.outlet_m,
        "the riser's outlet stands more than a metre above the rim of the tank it feeds",
    );
    let at = |level: f32| Curve::new(riser, &lift.calibration, conditions, level, None);
    let best = at(source.limits.high_act_m);
    let peak = best.peak();
    note.fault(
        best.onset().is_none() || peak.flow.m3_s <= 0.0,
        "riser.outlet_m",
        riser.outlet_m,
        "no air can raise water this high from this depth: lower the outlet or put the air inlet deeper",
    );
    let most = installation.settings.peak_share * peak.flow.m3_s;
    note.fault(
        lift.target.m3_s > most,
        "target",
        lift.target.m3_s,
        "the target is more than this lift can move even with its source at the highest level: use a wider or deeper riser",
    );
    let usual_level = 0.5 * (source.limits.low_warn_m + source.limits.high_warn_m);
    let usual = at(usual_level);
    let at_peak = usual.peak();
    note.warning(
        lift.target.m3_s > installation.settings.peak_share * at_peak.flow.m3_s && lift.target.m3_s <= most,
        "target",
        lift.target.m3_s,
        "the target is out of reach when the source stands at the middle of its band",
    );
    let onset = usual.onset().unwrap_or(FreeAir::ZERO);
    note.warning(
        lift.air_floor > onset && usual.lift_m() > 0.0,
        "air_floor",
        lift.air_floor.m3_s,
        "the air floor is above the onset: at the floor this lift still moves water, so a full tank is held only by going below it",
    );
    note.warning(
        usual.lift_m() < 0.0,
        "riser.outlet_m",
        riser.outlet_m,
        "the source stands above the outlet: water runs without air, and closing the valve does not stop it",
    );
    note.fault(
        lift.air_floor > at_peak.air && at_peak.air > FreeAir::ZERO,
        "air_floor",
        lift.air_floor.m3_s,
        "the air floor is past the peak: this much air moves less water than some of it would",
    );
    let deepest = conditions.density_kg_m3 * GRAVITY_M_S2 * (source.limits.high_act_m - riser.injector_m)
        + lift.diffuser.opening_pa;
    note.fault(
        installation.air.shut_off_pa() <= deepest,
        "riser.injector_m",
        riser.injector_m,
        "the blower cannot press air this deep: water would climb the air line",
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
        "curve.air_m3_s",
        first,
        "this blower's air hardly depends on its pressure: without a bleed, closing one valve pushes its air through the others and independent targets cannot be met",
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
        let _ = branches.push((&lift.valve, path));
    }
    let manifold = Manifold::new(supply, conditions.atmosphere_pa, None);
    let total = wanted.iter().fold(0.0f32, |sum, air| sum + air.m3_s);
    note.warning(
        !manifold.can_serve(&branches, wanted, installation.settings.most_opening),
        "curve.air_m3_s",
        total,
        "blower or valves cannot give all lifts the air for their targets at once: lifts of low priority will get less",
    );
    note.warning(
        total < supply.least_air_m3_s,
        "least_air_m3_s",
        supply.least_air_m3_s,
        "all targets together take less air than the blower must pass: fit a bleed valve",
    );
}
