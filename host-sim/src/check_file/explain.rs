//! A place in words.

use crate::scenario::{HostInstallation, Scenario};
use crate::size::several;
use risertrim::installation::Lift;
use risertrim::outlet::Law;
use risertrim::tank::Tank;

/// Litres a minute in one m3/s.
const L_MIN: f64 = 60_000.0;
/// Airs within this ratio are one air.
const ONE_AIR: f32 = 1.25;

/// The place: its parts, a sentence each.
pub(super) fn place(name: &str, told: &HostInstallation, tanks: &[String], lifts: &[String]) -> Vec<String> {
    let mut words = vec![format!(
        "{name}: {} and {} on one blower; water of {:.0} C, {:.0} m above the sea.",
        counted(told.tanks.len(), "tank"),
        counted(told.lifts.len(), "lift"),
        told.site.water_c,
        told.site.altitude_m
    )];
    words.extend(tanks.iter().zip(&told.tanks).map(|(name, tank)| tank_words(name, tank)));
    words.extend(super::water::notes(told, tanks));
    let of_tank = |index: u8| tanks.get(usize::from(index)).map_or("?", String::as_str);
    let lifts = lifts.iter().zip(&told.lifts);
    words.extend(lifts.map(|(name, lift)| lift_words(name, lift, of_tank(lift.from), of_tank(lift.to))));
    words
}

/// What is doubtful about the air floors of a place without a day.
pub(super) fn floors(scenario: &Scenario) -> Vec<String> {
    several(scenario).map(|duty| duty.floor_doubts).unwrap_or_default()
}

/// The place and its day, and what is doubtful when it runs.
pub(super) fn scenario(scenario: &Scenario) -> (Vec<String>, Vec<String>) {
    let mut words = place(
        &scenario.name,
        &scenario.told,
        &scenario.tank_names,
        &scenario.lift_names,
    );
    let mut doubts = Vec::new();
    match several(scenario) {
        Ok(duty) => {
            for lift in &duty.lifts {
                words.push(format!(
                    "For its target lift {} needs {:.0} L/min of free air with its valve {:.0} % open; the target is {:.0} % of the \
                     most it can move.",
                    lift.name,
                    L_MIN * lift.air_m3_s,
                    100.0 * lift.opening,
                    100.0 * lift.share_of_peak
                ));
                doubts.extend(
                    lift.remarks
                        .iter()
                        .map(|remark| format!("lift {}: {remark}", lift.name)),
                );
            }
            words.push(format!(
                "The blower then gives {:.0} L/min of free air at {:.1} kPa and takes {:.0} W.",
                L_MIN * (duty.air_m3_s + duty.bleed_m3_s),
                1e-3 * duty.blower_pa,
                duty.power_w
            ));
            doubts.extend(duty.floor_doubts.iter().cloned());
            if !duty.served {
                doubts.push("blower or valves cannot give all lifts the air for their targets at once".to_owned());
            }
            let troubles = duty.wide_open.troubles.iter();
            doubts.extend(troubles.map(|trouble| format!("with every valve open: {trouble}")));
            if duty.wide_open.troubles.is_empty() {
                words.push(
                    "With every valve open, every overflow carries its inflow and no tank is drawn down to a lift's foot."
                        .to_owned(),
                );
            }
        }
        Err(error) => doubts.push(format!("the modelled place cannot be: {error}")),
    }
    let happens = scenario.happenings(3_600.0 * scenario.hours).len();
    words.push(format!(
        "A run takes {} h of its time; {} over it.",
        scenario.hours,
        match happens {
            0 => "nothing is changed".to_owned(),
            1 => "one thing happens".to_owned(),
            count => format!("{count} things happen"),
        }
    ));
    (words, doubts)
}

fn tank_words(name: &str, tank: &Tank) -> String {
    let limits = &tank.limits;
    let level = 0.5 * (limits.low_warn_m + limits.high_warn_m);
    let outlets: Vec<&str> = tank.outlets.iter().map(|outlet| law_word(&outlet.law)).collect();
    let outlets = match outlets[..] {
        [] => "no outlet: only lifts draw from it".to_owned(),
        [one] => format!("leaves by {one}"),
        [ref front @ .., last] => format!("leaves by {} and {last}", front.join(", ")),
    };
    format!(
        "Tank {name}: {:.1} m2{}; good between {:.0} and {:.0} mm, acts below {:.0} and above {:.0} mm, runs over at {:.0} mm; \
         water {outlets}.",
        tank.area_m2(level),
        if tank.fish { ", with fish" } else { "" },
        mm(limits.low_warn_m),
        mm(limits.high_warn_m),
        mm(limits.low_act_m),
        mm(limits.high_act_m),
        mm(tank.rim_m)
    )
    .replace("water no outlet", "no outlet")
}

const fn law_word(law: &Law) -> &'static str {
    match law {
        Law::VNotch { .. } => "a V-notch",
        Law::Rectangular { .. } => "a rectangular weir",
        Law::Orifice { .. } => "a hole",
        Law::Standpipe { .. } => "a standpipe",
        Law::Pipe { .. } => "a pipe",
        Law::Table { .. } => "an outlet with a table",
    }
}

fn lift_words(name: &str, lift: &Lift, from: &str, to: &str) -> String {
    let measured = match &lift.calibration.fit {
        None => "its curve was never measured",
        // As one point leaves it.
        Some(fit) if fit.air_low_m3_s >= fit.air_high_m3_s => {
            "its curve was measured at one point only, which tells its height there and nothing of its slope"
        }
        Some(fit) if fit.air_high_m3_s < ONE_AIR * fit.air_low_m3_s => {
            "its curve was measured at about one air only, which tells its height there and little of its slope"
        }
        Some(_) => "its curve was measured",
    };
    format!(
        "Lift {name} is to move {:.1} L/min from {from} to {to} through a riser of {:.1} mm bore, air let in at {:.0} mm and \
         water out at {:.0} mm above the floor of {from}; it keeps {:.1} L/min of air whatever happens; {measured}.",
        lift.target.l_min(),
        mm(lift.riser.bore_m),
        mm(lift.riser.injector_m),
        mm(lift.riser.outlet_m),
        lift.air_floor.l_min()
    )
}

fn mm(metres: f32) -> f32 {
    1_000.0 * metres
}

fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}
