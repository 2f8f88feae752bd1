//! What a place leaves untold or unsafe about its fish.

use crate::scenario::HostInstallation;

/// More fish than this in a cubic metre live on pure oxygen if at all, kg (common practice, no source).
const CROWDED_KG_M3: f32 = 150.0;

/// What is doubtful, a sentence each.
pub(super) fn doubts(told: &HostInstallation, tanks: &[String], lifts: &[String]) -> Vec<String> {
    let mut doubts = ranks(told, tanks, lifts);
    for (index, (tank, name)) in told.tanks.iter().zip(tanks).enumerate() {
        if !tank.fish {
            if tank.stock.fish_kg > 0.0 {
                doubts.push(format!(
                    "tank {name} has fish_kg {} and not fish = true: without it no air is kept for them and no alarm tells of them",
                    tank.stock.fish_kg
                ));
            }
            continue;
        }
        let level_m = 0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m);
        let water_m3 = tank.volume_m3(level_m);
        if water_m3 > 0.0 && tank.stock.fish_kg > CROWDED_KG_M3 * water_m3 {
            doubts.push(format!(
                "tank {name}: fish_kg {} in {water_m3:.2} m3 of water is {:.0} kg/m3, and above {CROWDED_KG_M3} no air keeps fish alive: look \
                 at fish_kg (kg, not g) and at the tank's area and levels",
                tank.stock.fish_kg,
                tank.stock.fish_kg / water_m3
            ));
        }
        let serves = |number: u8| usize::from(number) == index;
        let mut lifts = told.lifts.iter().filter(|lift| serves(lift.from) || serves(lift.to));
        if lifts.all(|lift| lift.air_floor.m3_s <= 0.0) {
            doubts.push(format!(
                "fish live in {name}, and no lift that fills it or draws from it keeps any air when it is held or stopped: give one an \
                 air_floor_l_min (risertrim aerate works it out from fish and feed), or be sure that air stones serve them"
            ));
        }
        if tank.stock.fish_kg <= 0.0 {
            doubts.push(format!(
                "fish live in {name}, of a mass that is not told: with fish_kg an alarm about air says about how many minutes their oxygen lasts"
            ));
        }
    }
    doubts
}

/// Lifts into fish tanks that get their air after one that serves no fish.
fn ranks(told: &HostInstallation, tanks: &[String], lifts: &[String]) -> Vec<String> {
    let named = || told.lifts.iter().zip(lifts);
    let Some((first, first_name)) = named()
        .filter(|(lift, _)| !told.serves_fish(lift))
        .min_by_key(|(lift, _)| lift.priority)
    else {
        return Vec::new();
    };
    let feeds_fish = |to: u8| told.tanks.get(usize::from(to)).is_some_and(|tank| tank.fish);
    named()
        .filter(|(lift, _)| feeds_fish(lift.to) && lift.priority > first.priority)
        .map(|(lift, name)| {
            format!(
                "lift {name} fills {}, where fish live, with priority {}, and lift {first_name} without fish has {}: where air is short the \
                 fish come last (1 is served first)",
                tanks.get(usize::from(lift.to)).map_or("?", String::as_str),
                lift.priority,
                first.priority
            )
        })
        .collect()
}
