//! Whether a lift can be tried where it stands.

use super::Refusal;
use crate::installation::Installed;
use crate::lift::Curve;
use crate::math::seldom::larger;
use crate::outlet::Drain;
use crate::trim::air_to_stand_still;

/// Whether a trial of this lift is possible here, and with which outlet of its receiving tank.
///
/// # Errors
/// The [`Refusal`] that says what to do instead.
pub fn possible<const LIFTS: usize, const TANKS: usize>(
    installation: &Installed<LIFTS, TANKS>,
    index: usize,
    curve: &Curve,
) -> Result<u8, Refusal> {
    let Some(lift) = installation.lifts.get(index) else {
        return Err(Refusal::OutletUnclear);
    };
    let others = installation
        .lifts
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != index);
    if others
        .clone()
        .any(|(_, other)| other.to == lift.to || other.from == lift.to)
    {
        return Err(Refusal::SharedTank);
    }
    let Some(tank) = installation.tanks.get(usize::from(lift.to)) else {
        return Err(Refusal::OutletUnclear);
    };
    let mut working = (0u8..)
        .zip(&tank.outlets)
        .filter(|(_, outlet)| installation.dry_below_m(outlet) < tank.limits.high_warn_m);
    let (Some((number, outlet)), None) = (working.next(), working.next()) else {
        return Err(Refusal::OutletUnclear);
    };
    let dry_below_m = installation.dry_below_m(outlet);
    // A pipe that ends under water stops when the levels are equal, not at its end.
    let stops_at = match outlet.to {
        Drain::Tank(to) => {
            let below = installation.tanks.get(usize::from(to));
            let level =
                below.map_or(0.0, |t| t.limits.low_warn_m) + installation.floor_m(to) - installation.floor_m(lift.to);
            larger(dry_below_m, level)
        }
        Drain::Away => dry_below_m,
    };
    if stops_at < tank.limits.low_act_m {
        return Err(Refusal::NoRoomToDrain);
    }
    if air_to_stand_still(curve, lift.air_floor).is_none() {
        return Err(Refusal::FloorMovesWater);
    }
    Ok(number)
}
