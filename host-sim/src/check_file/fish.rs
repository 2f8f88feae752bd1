//! What a place leaves untold or unsafe about its fish.

use crate::scenario::HostInstallation;

/// What is doubtful, a sentence each.
pub(super) fn doubts(told: &HostInstallation, tanks: &[String]) -> Vec<String> {
    let mut doubts = Vec::new();
    for (index, (tank, name)) in told.tanks.iter().zip(tanks).enumerate() {
        if !tank.fish {
            continue;
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
