//! What pulsed air does to a lift's curve.
//!
//! A solenoid gives a lift `high` air while it is open and `low` (its bleed) while it is shut. The curve has an onset and bends
//! down above it, so the mean flow is not the flow at the mean air: with a bleed at the onset it is less; with no bleed, near
//! the onset, it is more. When the riser has time to follow (below), the flow is one of two values, and its mean is
//!
//! ```text
//! mean flow = (1 - share) flow(low) + share flow(high)
//! ```
//!
//! **Cycle time.** A riser follows when its bubbles pass through it in a small part of the cycle. Bubbly water rises at 0.5 to
//! 1 m/s, so a riser of 1 m needs 1 to 2 s: 20 s suits it, and ten times the passage in general (worked out, not measured).
//! With cycles shorter than the passage the riser averages the air instead, and the flow nears that at the mean air;
//! between the two it lies between. Longer cycles show in the tank's level: keep the water of one cycle below
//! the sensor's noise over the tank's area.
//!
//! **Bleed.** Never shut the air altogether: the fish lose it for seconds at a time, water climbs the air line, and the column
//! must be set going again at every pulse. [`least_bleed`] gives the air that a fixed orifice or needle beside the solenoid
//! should pass.
//!
//! **How the controller uses it.** [`characteristic`] works out, as a function of the share of time, the steady air that would
//! give the same mean flow. Put it into the installation as the valve's characteristic (with the conductance that solenoid and
//! bleed have together when open). The controller then asks for that steady air as from any valve, and its opening is
//! the share of time that [`super::Solenoid`] takes; the delivery factor does not have to make up for the bend.

use crate::air::{CHARACTERISTIC_POINTS, Characteristic, ValvePoint};
use crate::lift::Curve;
use crate::math::{larger, limit, sqrt};
use crate::units::{FreeAir, WaterFlow};

/// Share of the onset that stands still for certain, as of a lift that is held.
const STILL: f32 = crate::trim::BELOW_ONSET;
/// Share of the time at which an opened lift counts as one that moves water at all.
const JUST_OPEN: f32 = 0.002;

/// Mean air of a lift that gets `high` for this share of the time and `low` for the rest.
#[must_use]
pub fn mean_air(low: FreeAir, high: FreeAir, share: f32) -> FreeAir {
    let share = limit(share, 0.0, 1.0);
    FreeAir::from_m3_s((1.0 - share) * low.m3_s + share * high.m3_s)
}

/// Mean flow of a lift that gets `high` air for this share of the time and `low` for the rest, in cycles that its riser can
/// follow.
#[must_use]
pub fn mean_flow(curve: &Curve, low: FreeAir, high: FreeAir, share: f32) -> WaterFlow {
    let share = limit(share, 0.0, 1.0);
    WaterFlow::from_m3_s((1.0 - share) * curve.flow(low).m3_s + share * curve.flow(high).m3_s)
}

/// Share of the time that gives this mean flow. `None` when no share does: the flow is not between those at `low` and at
/// `high` air.
#[must_use]
pub fn share_for(curve: &Curve, low: FreeAir, high: FreeAir, flow: WaterFlow) -> Option<f32> {
    let least = curve.flow(low).m3_s;
    let most = curve.flow(high).m3_s;
    let share = (flow.m3_s - least) / (most - least);
    (0.0..=1.0).contains(&share).then_some(share)
}

/// The air that a lift should get while its solenoid is shut: its air floor, but at least 0.45 of its onset so that the column
/// stays full of bubbles. The floor alone for a lift that needs no air to run, or that no air can lift.
///
/// A floor above the onset moves water while the valve is shut: such a lift cannot be stopped by its valve.
#[must_use]
pub fn least_bleed(curve: &Curve, air_floor: FreeAir) -> FreeAir {
    let onset = curve.onset().map_or(0.0, |onset| onset.m3_s);
    FreeAir::from_m3_s(larger(air_floor.m3_s, STILL * onset))
}

/// The characteristic of a solenoid with a bleed, as a share of the conductance that both have together: at each share of the time,
/// the steady air with the same mean flow, in proportion to `high`.
///
/// `low` and `high` are what the lift gets with the solenoid shut and open at the manifold pressure it usually has; `curve` is
/// that at the levels it usually works at. `None` when pulsing this lift makes no sense: `high` gives no more water than `low`, or
/// lies past the peak.
///
/// A table has few points, so some of the bend is left: on a lift of 60 mm at 1 m, 2 to 16 % of the flow at the worst target, where a
/// straight characteristic would be off by 10 to 74 %. The delivery factor learns the rest.
#[must_use]
pub fn characteristic(curve: &Curve, low: FreeAir, high: FreeAir) -> Option<Characteristic> {
    let peak = curve.peak();
    if !(low.m3_s >= 0.0 && high > low && high <= peak.air && curve.flow(high) > curve.flow(low)) {
        return None;
    }
    let just_open = curve.air_for(mean_flow(curve, low, high, JUST_OPEN))?;
    // Shares and the steady airs that stand for them, rising. `low` itself stands for the shut valve.
    let mut ends = heapless::Vec::<(f32, f32), CHARACTERISTIC_POINTS>::new();
    for end in [
        (0.0, low.m3_s),
        (JUST_OPEN, larger(just_open.m3_s, low.m3_s)),
        (1.0, high.m3_s),
    ] {
        ends.push(end).ok()?;
    }
    // The points left go where the straight line between two others is furthest off, as a share of the flow there.
    while !ends.is_full() {
        let split = ends.windows(2).enumerate().skip(1).filter_map(|(at, pair)| {
            let [(left, left_air), (right, right_air)] = pair else {
                return None;
            };
            let air = sqrt(left_air * right_air);
            let share = share_for(curve, low, high, curve.flow(FreeAir::from_m3_s(air)))?;
            let straight = left + (right - left) * (air - left_air) / (right_air - left_air);
            let off = (share - straight).abs() / larger(share, 0.05);
            (share > *left && share < *right).then_some((off, at, (share, air)))
        });
        let worst = split.fold(None, |worst: Option<(f32, usize, (f32, f32))>, this| match worst {
            Some(worst) if worst.0 >= this.0 => Some(worst),
            _ => Some(this),
        });
        // Points so close that nothing fits between them: fewer will do.
        let Some((_, at, mut point)) = worst else { break };
        for later in ends.iter_mut().skip(at.saturating_add(1)) {
            core::mem::swap(later, &mut point);
        }
        ends.push(point).ok()?;
    }
    let mut points = heapless::Vec::new();
    let mut above = -1.0f32;
    for (opening, air) in ends {
        // Rising by at least a hair, so that it can be read both ways.
        above = larger(limit(air / high.m3_s, 0.0, 1.0), above + 1.0e-6);
        points.push(ValvePoint { opening, share: above }).ok()?;
    }
    Some(Characteristic::Table { points })
}
