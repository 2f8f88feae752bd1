//! All lifts of an installation on its one blower: the blower's duty point, the openings for the targets, and what happens
//! with every valve open.

use super::L_MIN;
use super::rules::{MOST_SHARE_OF_PEAK, ONSET_MARGIN};
use super::wide_open::{WideOpen, wide_open};
use crate::plant::{Blower, SpecError};
use crate::precision::narrow;
use crate::scenario::{HostInstallation, LIFTS, Scenario, Truth};
use risertrim::air::{Branch, Manifold, Path};
use risertrim::installation::Lift;
use risertrim::lift::Curve;
use risertrim::trim::{air_to_stand_still, floor_with_margin};
use risertrim::units::FreeAir;

/// One lift at its target, its source and receiver at the middle of their bands.
#[derive(Clone, Debug, PartialEq)]
pub struct LiftDuty {
    /// Its name.
    pub name: String,
    /// Target, m3/s.
    pub target_m3_s: f64,
    /// Depth of the air inlet, m.
    pub depth_m: f64,
    /// Static lift, m.
    pub lift_m: f64,
    /// Free air it is given, m3/s: for the target, or its air floor as it is held if that is more; at the peak when the target is out of reach.
    pub air_m3_s: f64,
    /// Target over the most it can move.
    pub share_of_peak: f64,
    /// Pressure behind its valve, Pa above the atmosphere.
    pub valve_pa: f64,
    /// Opening for that air, 0 to 1.
    pub opening: f64,
    /// What is wrong with it, if anything.
    pub remarks: Vec<String>,
}

/// All lifts on one blower.
#[derive(Clone, Debug, PartialEq)]
pub struct Several {
    /// Name of the place.
    pub name: String,
    /// Each lift.
    pub lifts: Vec<LiftDuty>,
    /// Free air of the lifts at their targets, m3/s.
    pub air_m3_s: f64,
    /// Free air through the bleed, m3/s.
    pub bleed_m3_s: f64,
    /// Manifold pressure, Pa above the atmosphere.
    pub blower_pa: f64,
    /// Power drawn by the blower, W, by the efficiency in its description.
    pub power_w: f64,
    /// Lowest manifold pressure that would do, Pa: all valves at their widest for the lift that needs most.
    pub needed_pa: f64,
    /// False when blower or valves cannot give all lifts their air.
    pub served: bool,
    /// What is wrong with the air floors, as the controller holds them.
    pub floor_doubts: Vec<String>,
    /// The same by the marched model, and with every valve open.
    pub wide_open: WideOpen,
}

/// Works out the blower's duty point and the openings, and runs the check with every valve open.
///
/// # Errors
/// An installation that the plant refuses.
pub fn several(scenario: &Scenario) -> Result<Several, SpecError> {
    let told = &scenario.told;
    let conditions = told.site.conditions();
    let mut branches = heapless::Vec::<Branch<'_>, LIFTS>::new();
    let mut wanted = [FreeAir::ZERO; LIFTS];
    let mut held = [FreeAir::ZERO; LIFTS];
    let (mut duties, mut floor_doubts) = (Vec::new(), Vec::new());
    let rows = told.lifts.iter().zip(&scenario.lift_names);
    for ((lift, name), (wanted, held)) in rows.zip(wanted.iter_mut().zip(&mut held)) {
        let curve = usual_curve(told, lift);
        let path = Path::new(
            &lift.line,
            &lift.diffuser,
            curve.injector_pa(),
            conditions.atmosphere_pa,
        );
        let (duty, air) = duty(lift, name, &curve, &path, conditions.atmosphere_pa);
        *wanted = air;
        *held = floor_with_margin(lift.air_floor);
        floor_doubts.extend(floor_doubts_of(told, lift, name, &curve));
        duties.push(duty);
        // As many branches as lifts.
        let _ = branches.push(Branch::new(&lift.valve, path));
    }
    let manifold = Manifold::new(&told.air, conditions.atmosphere_pa, None);
    let limits = (told.settings.least_opening, told.settings.most_opening);
    let openings = manifold.feed_forward(&branches, &wanted, limits);
    let served = manifold.can_serve(&branches, &wanted, told.settings.most_opening);
    if !manifold.can_serve(&branches, &held, told.settings.most_opening) {
        let all: f64 = held.iter().map(|air| f64::from(air.m3_s)).sum();
        let floors: f64 = told.lifts.iter().map(|lift| f64::from(lift.air_floor.m3_s)).sum();
        floor_doubts.push(format!(
            "the air floors together are {:.0} L/min and are held as 1.4 times that, {:.0} L/min, because what a valve passes is known no \
             better: more than blower and valves can give. Fish that live on them would not get them: lower them, or take a larger blower",
            floors * L_MIN,
            all * L_MIN
        ));
    }
    let settled = manifold.settle(&branches, &openings, 0.5 * told.air.shut_off_pa());
    for (duty, opening) in duties.iter_mut().zip(&openings) {
        duty.opening = f64::from(opening.share());
    }
    let air: f64 = duties.iter().map(|duty| duty.air_m3_s).sum();

    let mut honest = scenario.clone();
    honest.truth = Truth::default();
    let spec = honest.plant(scenario.seed)?;
    let openings: Vec<f64> = duties.iter().map(|duty| duty.opening).collect();
    let low_act: Vec<f64> = told.tanks.iter().map(|tank| f64::from(tank.limits.low_act_m)).collect();
    let wide_open = wide_open(&spec, &openings, f64::from(told.settings.most_opening), &low_act)?;
    let (blower_pa, bleed) = (f64::from(settled.pressure_pa), f64::from(settled.bleed.m3_s));
    Ok(Several {
        name: scenario.name.clone(),
        air_m3_s: air,
        bleed_m3_s: bleed,
        blower_pa,
        power_w: Blower::new(&spec.blower, &spec.place).power_w(air + bleed, blower_pa, &spec.place),
        needed_pa: needed_pa(&manifold, &branches, &wanted, told.settings.most_opening, blower_pa),
        served,
        floor_doubts,
        lifts: duties,
        wide_open,
    })
}

/// The lift's curve with its source and receiver at the middle of their bands.
pub(crate) fn usual_curve(told: &HostInstallation, lift: &Lift) -> Curve {
    let middle = |tank: u8| {
        told.tanks
            .get(usize::from(tank))
            .map_or(0.0, |tank| 0.5 * (tank.limits.low_warn_m + tank.limits.high_warn_m))
    };
    let receiver = told.receiver_above_source_floor_m(lift, middle(lift.to));
    Curve::new(
        &lift.riser,
        &lift.calibration,
        &told.site.conditions(),
        middle(lift.from),
        Some(receiver),
    )
}

/// What is wrong with the air floor of one lift. The controller holds 1.4 times the floor, because what a valve passes is known no
/// better; and it stops a lift that shares its tank only where the floor lets it stand still.
fn floor_doubts_of(told: &HostInstallation, lift: &Lift, name: &str, curve: &Curve) -> Vec<String> {
    let l_min = |air: FreeAir| f64::from(air.m3_s) * L_MIN;
    let held = floor_with_margin(lift.air_floor);
    let mut doubts = Vec::new();
    if let Some(air) = curve
        .air_for(lift.target)
        .filter(|air| held > *air && lift.target.m3_s > 0.0)
    {
        doubts.push(format!(
            "lift {name}: its air floor of {:.1} L/min is held as 1.4 times that, {:.1} L/min, which is more than the {:.1} L/min its target \
             needs: it will give too much water. A floor below {:.1} L/min, or a higher target, would do",
            l_min(lift.air_floor),
            l_min(held),
            l_min(air),
            l_min(lift.air_floor) * l_min(air) / l_min(held)
        ));
    }
    let shares = told.lifts.iter().filter(|other| other.to == lift.to).count() > 1;
    if shares
        && lift.may_stop
        && told.settings.stop_every_s > 0
        && air_to_stand_still(curve, lift.air_floor).is_none()
        && let Some(still) = air_to_stand_still(curve, FreeAir::ZERO)
    {
        doubts.push(format!(
            "lift {name} shares its tank and may be stopped to tell the lifts apart, but its air floor of {:.1} L/min keeps water moving or \
             nearly so: it is never stopped, and what each lift gives is a guess. With a floor up to {:.1} L/min it could be stopped; where \
             fish need more, write may_stop = false",
            l_min(lift.air_floor),
            l_min(still)
        ));
    }
    doubts
}

fn duty(lift: &Lift, name: &str, curve: &Curve, path: &Path, atmosphere_pa: f32) -> (LiftDuty, FreeAir) {
    let peak = curve.peak();
    let reach = curve.air_for(lift.target);
    let mut remarks = Vec::new();
    let share = f64::from(lift.target.m3_s / peak.flow.m3_s.max(1e-12));
    if reach.is_none() {
        remarks.push(format!(
            "its target is out of reach: {:.0} L/min at most",
            f64::from(peak.flow.m3_s) * L_MIN
        ));
    } else if share > MOST_SHARE_OF_PEAK {
        remarks.push(format!("at {:.0} % of its peak: no reserve", 100.0 * share));
    }
    let mut air = reach.unwrap_or(peak.air);
    let onset = curve.onset().unwrap_or(FreeAir::ZERO);
    if reach.is_some() && lift.target.m3_s > 0.0 && f64::from(air.m3_s) < ONSET_MARGIN * f64::from(onset.m3_s) {
        remarks.push("its air lies at the onset: a small loss of air stops it".to_owned());
    }
    let held = floor_with_margin(lift.air_floor);
    if held > air {
        air = held;
    }
    let duty = LiftDuty {
        name: name.to_owned(),
        target_m3_s: f64::from(lift.target.m3_s),
        depth_m: f64::from(curve.submergence_m()),
        lift_m: f64::from(curve.lift_m()),
        air_m3_s: f64::from(air.m3_s),
        share_of_peak: share,
        valve_pa: f64::from(path.behind_valve_pa(air.m3_s) - atmosphere_pa),
        opening: 0.0,
        remarks,
    };
    (duty, air)
}

/// The lowest pressure at which every lift gets its air through a valve no wider than `most`: halved down to 1 Pa.
fn needed_pa(
    manifold: &Manifold<'_>,
    branches: &heapless::Vec<Branch<'_>, LIFTS>,
    wanted: &[FreeAir; LIFTS],
    most: f32,
    now_pa: f64,
) -> f64 {
    let most = risertrim::Opening::new(most);
    let enough = |pressure: f64| {
        branches
            .iter()
            .zip(wanted)
            .all(|(branch, air)| air.m3_s <= 0.0 || manifold.branch_m3_s(branch, most, narrow(pressure)) >= air.m3_s)
    };
    let (mut low, mut high) = (0.0, now_pa.max(1000.0) * 4.0);
    if !enough(high) {
        return high;
    }
    while high - low > 1.0 {
        let middle = 0.5 * (low + high);
        if enough(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

#[cfg(test)]
mod tests;
