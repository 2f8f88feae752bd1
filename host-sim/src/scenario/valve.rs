//! Reads what a valve's sheet says of the valve wide open: C and b, Kv, bore, or measured flows.

use super::report::Kind;
use super::section::Section;
use super::units::{DM3_S_BAR, L_MIN, PA};
use crate::valve_data::{Measured, ValveData};

/// The keys that tell how much a valve passes: one of them is needed.
const KEYS: [&str; 4] = [
    "sonic_conductance_dm3_s_bar",
    "kv",
    "bore_mm",
    "measured_drop_kpa_l_min",
];
/// Pressure before a valve at which Kv is turned into C, Pa above the atmosphere, and the drop: usual for a lift.
const USUAL_PA: (f64, f64) = (15_000.0, 2000.0);
/// Measured points that a valve can have.
const POINTS: usize = 12;

/// Sonic conductance, m3/(s Pa), and critical ratio; NaN where at fault.
pub(super) fn conductance(section: &mut Section<'_>, atmosphere_pa: f64) -> (f64, f64) {
    let told: Vec<&str> = KEYS.into_iter().filter(|key| section.has(key)).collect();
    if let [_, second, ..] = told[..] {
        let message = format!("what the valve passes is told twice: by {}", told.join(" and by "));
        section.fault(Kind::Count, second, message, Some("keep one of them".to_owned()));
        section.maybe_number("sonic_conductance_dm3_s_bar", 0.001..=1000.0);
    }
    let kv = section.maybe_number("kv", 0.0002..=200.0);
    let bore = section.maybe_number("bore_mm", 0.2..=150.0);
    let points = section.pairs("measured_drop_kpa_l_min", 1..=POINTS, 0.001..=1000.0, 0.001..=100_000.0);
    let at_kpa = section.number_or("measured_at_kpa", 0.1..=1000.0, USUAL_PA.0 / PA);
    let ratio = section.maybe_number("critical_ratio", 0.05..=0.6);
    let data = match (kv, bore, points) {
        (Some(kv), _, _) => ValveData::Kv(kv),
        (_, Some(bore), _) => ValveData::BoreMm(bore),
        (_, _, Some(points)) => measured(&points, atmosphere_pa, at_kpa * PA),
        // A list at fault is noted already.
        _ if section.has("measured_drop_kpa_l_min") => return (f64::NAN, 0.3),
        _ => {
            let conductance = section.number("sonic_conductance_dm3_s_bar", 0.001..=1000.0) * DM3_S_BAR;
            return (conductance, ratio.unwrap_or(0.3));
        }
    };
    // Its range is noted already.
    if matches!(data, ValveData::Kv(x) | ValveData::BoreMm(x) if x.is_nan()) {
        return (f64::NAN, 0.3);
    }
    match data.conductance(atmosphere_pa + USUAL_PA.0, USUAL_PA.1) {
        Ok(found) => {
            if found.misfit > 0.1 {
                let message = format!("the points lie up to {:.0} % off any valve's law", 100.0 * found.misfit);
                section.warning(Kind::Event, "measured_drop_kpa_l_min", message, None);
            }
            (found.c_dm3_s_bar * DM3_S_BAR, ratio.unwrap_or(found.critical_ratio))
        }
        Err(error) => {
            section.fault(
                Kind::OutOfRange,
                told.first().copied().unwrap_or("valve"),
                error.to_string(),
                None,
            );
            (f64::NAN, 0.3)
        }
    }
}

/// Pairs of (drop, free air) with the valve wide open, all at one pressure before it.
fn measured(points: &[(f64, f64)], atmosphere_pa: f64, at_pa: f64) -> ValveData {
    let before_pa = atmosphere_pa + at_pa;
    let point = |&(drop_kpa, l_min): &(f64, f64)| Measured {
        before_pa,
        behind_pa: before_pa - drop_kpa * PA,
        air_m3_s: l_min * L_MIN,
    };
    ValveData::Measured(points.iter().map(point).collect())
}
