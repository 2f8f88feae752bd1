//! An installation told as it truly is, as far as the controller's own terms can say it.

use crate::plant::{Area, Heads, Plant, PlantSpec, Riser, SpecError};
use crate::scenario::{HostInstallation, Scenario};
use risertrim::controller::Learned;
use risertrim::lift::Curve;
use risertrim::tank::AreaPoint;
use risertrim::units::Opening;

/// Halvings of the air that gives a flow.
const HALVINGS: usize = 60;

/// What the controller would be told if nothing about the place that `seed` draws were unknown but the noise.
///
/// Losses, slip, friction, valves, lines, blower, outlets and areas are the plant's own. What the controller's curve cannot say
/// (its distribution coefficient is fixed, its air does not expand on the way up) goes into the air multiplier, so that both
/// need the same air for the target.
#[allow(clippy::cast_possible_truncation)] // the controller is told f32
pub(super) fn told_truly(scenario: &Scenario, seed: u64) -> Result<HostInstallation, SpecError> {
    let spec = scenario.plant(seed)?;
    let plant = Plant::new(spec.clone())?;
    let mut told = scenario.told.clone();
    for point in &mut told.air.curve {
        point.air_m3_s *= spec.blower.flow_multiplier as f32;
        point.pressure_pa *= spec.blower.pressure_multiplier as f32;
    }
    for (tank, truly) in told.tanks.iter_mut().zip(&spec.tanks) {
        tank.area = match &truly.area {
            Area::Constant(m2) => [(0.0, *m2)].into_iter().map(area_point).collect(),
            Area::Table(points) => points.iter().copied().map(area_point).collect(),
        };
        for (outlet, truly) in tank.outlets.iter_mut().zip(&truly.outlets) {
            outlet.coefficient = truly.coefficient as f32;
        }
    }
    let conditions = told.site.conditions();
    for (index, (lift, truly)) in told.lifts.iter_mut().zip(&spec.lifts).enumerate() {
        lift.valve.conductance_m3_s_pa *= truly.valve.multiplier as f32;
        lift.line.length_m *= truly.line.multiplier as f32;
        lift.line.minor_loss *= truly.line.multiplier as f32;
        lift.diffuser.loss_pa = truly.diffuser.loss_pa as f32;
        lift.riser.darcy_friction *= truly.riser.friction_multiplier as f32;
        lift.riser.outlet_loss *= truly.riser.loss_multiplier as f32;
        lift.calibration.losses *= truly.riser.loss_multiplier as f32;
        lift.calibration.slip = truly.riser.slip_multiplier as f32;
        let level = |tank: usize| spec.tanks.get(tank).map_or(0.0, |tank| tank.start_m as f32);
        let curve = Curve::new(&lift.riser, &lift.calibration, &conditions, level(truly.from), None);
        let told_air = curve.air_for(lift.target);
        let true_air = air_at_start(&plant, &spec, index, f64::from(lift.target.m3_s));
        if let (Some(told_air), Some(true_air)) = (told_air, true_air) {
            lift.calibration.air *= (f64::from(told_air.m3_s) / true_air) as f32;
        }
    }
    Ok(told)
}

/// What such a controller has learned from the start: that every factor is 1.
#[allow(clippy::cast_possible_truncation)]
pub(super) fn learned(told: &HostInstallation, openings: &[f64]) -> Vec<Learned> {
    let lifts = told.lifts.iter().zip(openings);
    lifts
        .map(|(_, opening)| Learned::new(1.0, 0.02, Opening::new(*opening as f32)))
        .collect()
}

#[allow(clippy::cast_possible_truncation)]
fn area_point((level_m, area_m2): (f64, f64)) -> AreaPoint {
    AreaPoint {
        level_m: level_m as f32,
        area_m2: area_m2 as f32,
    }
}

/// Free air that lifts `flow` in the true riser of a lift at the starting levels, m3/s.
fn air_at_start(plant: &Plant, spec: &PlantSpec, lift: usize, flow_m3_s: f64) -> Option<f64> {
    let (riser, _) = plant.riser(lift)?;
    let truly = spec.lifts.get(lift)?;
    let source_m = spec.tanks.get(truly.from)?.start_m;
    let heads = Heads::free(source_m - truly.injector_m, truly.outlet_m - source_m);
    air_for(riser, heads, flow_m3_s)
}

/// Free air that lifts `flow` in a riser, m3/s; `None` where no air does.
pub(super) fn air_for(riser: &Riser, heads: Heads, flow_m3_s: f64) -> Option<f64> {
    let (mut low, mut high) = (0.0, riser.peak(heads).air_m3_s);
    let mut last = 0.0;
    let mut water = |air: f64| riser.water_m3_s(heads, air, &mut last);
    if water(high) <= flow_m3_s {
        return None;
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if water(middle) < flow_m3_s {
            low = middle;
        } else {
            high = middle;
        }
    }
    (high > 0.0).then_some(high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use risertrim::{FreeAir, WaterFlow};

    #[test]
    fn told_truly_the_curve_needs_the_plants_air_for_the_target() {
        for (name, text) in Scenario::shipped() {
            let Ok(scenario) = Scenario::parse(name, text) else {
                panic!("{name} does not read")
            };
            let (Ok(told), Ok(spec)) = (told_truly(&scenario, 3), scenario.plant(3)) else {
                panic!("{name} cannot be told truly")
            };
            let Ok(plant) = Plant::new(spec.clone()) else {
                panic!("{name} has no plant")
            };
            for (index, lift) in told.lifts.iter().enumerate() {
                #[allow(clippy::cast_possible_truncation)]
                let level = spec.tanks[usize::from(lift.from)].start_m as f32;
                let curve = Curve::new(&lift.riser, &lift.calibration, &told.site.conditions(), level, None);
                let Some(true_air) = air_at_start(&plant, &spec, index, f64::from(lift.target.m3_s)) else {
                    continue; // this plant cannot lift so much
                };
                #[allow(clippy::cast_possible_truncation)]
                let flow: WaterFlow = curve.flow(FreeAir::from_m3_s(true_air as f32));
                let off = flow.m3_s / lift.target.m3_s - 1.0;
                assert!(off.abs() < 1e-3, "{name}, lift {index}: {:+.3} %", 100.0 * off);
            }
        }
    }
}
