//! Figures of the blower that are sound by themselves and cannot be meant for this place.

use crate::scenario::HostInstallation;
use crate::size::usual_curve;
use risertrim::trim::floor_with_margin;

/// Shut-off pressure over the water above the deepest air inlet from which on it is asked whether kPa were meant. Blowers for lifts hold
/// 1.5 to 3.5 times that (common practice, no source), and in mbar the figure is ten times as large.
const FAR_TOO_STRONG: f64 = 5.0;
/// Share of the blower's free flow below which the lifts together use next to nothing of it.
const NEXT_TO_NOTHING: f64 = 0.02;
/// Litres a minute in one m3/s.
const L_MIN: f64 = 60_000.0;

/// What is doubtful, a sentence each.
pub(super) fn doubts(told: &HostInstallation) -> Vec<String> {
    let mut doubts = Vec::new();
    let (mut deepest_pa, mut air_m3_s) = (0.0_f64, 0.0);
    for lift in &told.lifts {
        let curve = usual_curve(told, lift);
        deepest_pa = deepest_pa.max(f64::from(curve.injector_pa()));
        let air = curve.air_for(lift.target).unwrap_or(curve.peak().air);
        air_m3_s += f64::from(air.m3_s.max(floor_with_margin(lift.air_floor).m3_s));
    }
    let shut_off_pa = f64::from(told.air.shut_off_pa());
    if deepest_pa > 0.0 && shut_off_pa > FAR_TOO_STRONG * deepest_pa {
        doubts.push(format!(
            "[air] blower_l_min_kpa: the blower holds {:.0} kPa, and the deepest air inlet lies under {:.1} kPa of water: {:.0} times as \
             much. If the curve is in mbar, divide its pressures by 10",
            1e-3 * shut_off_pa,
            1e-3 * deepest_pa,
            shut_off_pa / deepest_pa
        ));
    }
    let free_m3_s = told
        .air
        .curve
        .iter()
        .map(|point| f64::from(point.air_m3_s))
        .fold(0.0, f64::max);
    if air_m3_s > 0.0 && air_m3_s < NEXT_TO_NOTHING * free_m3_s {
        doubts.push(format!(
            "[air] blower_l_min_kpa: the blower gives {:.0} L/min freely, and all lifts together need {:.1} L/min, {:.1} % of it. If the \
             curve is in L/h, divide its air by 60",
            L_MIN * free_m3_s,
            L_MIN * air_m3_s,
            100.0 * air_m3_s / free_m3_s
        ));
    }
    doubts
}
