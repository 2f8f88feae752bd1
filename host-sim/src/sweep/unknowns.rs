//! What a seed draws: each unknown of the true place over what the controller is told.

use crate::plant::{Area, PlantSpec, SpecError};
use crate::scenario::{Scenario, Truth};

/// What kind of thing an unknown is, for people.
pub(super) const KINDS: [&str; 13] = [
    "wall friction of risers",
    "entrance and outlet losses",
    "slip of the air",
    "distribution of the air",
    "valves",
    "air lines",
    "air stones",
    "blower's flow",
    "blower's pressure",
    "outlets",
    "tank areas",
    "zeros of level sensors",
    "zero of the gauge",
];

/// Kind (place in [`KINDS`]), name and value of each unknown of a scenario that its truth lets vary.
pub(super) fn names(scenario: &Scenario) -> Vec<(usize, String)> {
    let t = &scenario.truth;
    let mut all = Vec::new();
    let lifts = scenario.lift_names.iter();
    let per_lift = [
        (t.loss_percent, 0, "friction"),
        (t.loss_percent, 1, "losses"),
        (t.slip_percent, 2, "slip"),
        (t.distribution_percent, 3, "distribution"),
        (t.valve_percent, 4, "valve"),
        (t.air_line_percent, 5, "air_line"),
        (t.air_line_percent, 6, "air_stone"),
    ];
    for (spread, kind, word) in per_lift {
        if spread > 0.0 {
            all.extend(lifts.clone().map(|name| (kind, format!("{word} of {name}"))));
        }
    }
    if t.blower_percent > 0.0 {
        all.push((7, "flow of blower".to_owned()));
        all.push((8, "pressure of blower".to_owned()));
    }
    let tanks = scenario.tank_names.iter().zip(&scenario.told.tanks);
    if t.outlet_percent > 0.0 {
        for (name, tank) in tanks.clone() {
            all.extend((1..=tank.outlets.len()).map(|number| (9, format!("outlet {number} of {name}"))));
        }
    }
    if t.area_percent > 0.0 {
        all.extend(tanks.clone().map(|(name, _)| (10, format!("area of {name}"))));
    }
    if t.level_zero_mm > 0.0 {
        all.extend(tanks.map(|(name, _)| (11, format!("zero of {name}"))));
    }
    if t.gauge_zero_kpa > 0.0 {
        all.push((12, "zero of gauge".to_owned()));
    }
    all
}

/// One number of a lift.
type OfLift = fn(&PlantSpec, usize) -> f64;

/// The values behind [`names`], in the same order: factors over what is told, zeros in mm and kPa.
pub(super) fn values(scenario: &Scenario, seed: u64) -> Result<Vec<f64>, SpecError> {
    let truly = scenario.plant(seed)?;
    let mut exact = scenario.clone();
    exact.truth = Truth::default();
    let told = exact.plant(seed)?;
    let t = &scenario.truth;
    let mut all = Vec::new();
    let lifts: [(f64, OfLift); 7] = [
        (t.loss_percent, |spec, i| spec.lifts[i].riser.friction_multiplier),
        (t.loss_percent, |spec, i| spec.lifts[i].riser.loss_multiplier),
        (t.slip_percent, |spec, i| spec.lifts[i].riser.slip_multiplier),
        (t.distribution_percent, |spec, i| spec.lifts[i].riser.distribution),
        (t.valve_percent, |spec, i| spec.lifts[i].valve.multiplier),
        (t.air_line_percent, |spec, i| spec.lifts[i].line.multiplier),
        (t.air_line_percent, |spec, i| spec.lifts[i].diffuser.loss_pa),
    ];
    for (spread, of) in lifts {
        if spread > 0.0 {
            all.extend((0..truly.lifts.len()).map(|i| over(of(&truly, i), of(&told, i))));
        }
    }
    if t.blower_percent > 0.0 {
        all.push(over(truly.blower.flow_multiplier, told.blower.flow_multiplier));
        all.push(over(truly.blower.pressure_multiplier, told.blower.pressure_multiplier));
    }
    if t.outlet_percent > 0.0 {
        for (truly, told) in truly.tanks.iter().zip(&told.tanks) {
            let outlets = truly.outlets.iter().zip(&told.outlets);
            all.extend(outlets.map(|(truly, told)| over(truly.coefficient, told.coefficient)));
        }
    }
    let area = |area: &Area| match area {
        Area::Constant(m2) => *m2,
        Area::Table(points) => points.first().map_or(0.0, |point| point.1),
    };
    if t.area_percent > 0.0 {
        let tanks = truly.tanks.iter().zip(&told.tanks);
        all.extend(tanks.map(|(truly, told)| over(area(&truly.area), area(&told.area))));
    }
    if t.level_zero_mm > 0.0 {
        let zero = |tank: &crate::plant::TankSpec| tank.sensor.map_or(0.0, |sensor| 1000.0 * sensor.zero_m);
        all.extend(truly.tanks.iter().map(zero));
    }
    if t.gauge_zero_kpa > 0.0 {
        all.push(truly.gauge.map_or(0.0, |gauge| 1e-3 * gauge.zero_pa));
    }
    Ok(all)
}

fn over(truly: f64, told: f64) -> f64 {
    if told == 0.0 { 1.0 } else { truly / told }
}
