//! Events of a tank.

use super::super::happening::{Happening, Names};
use super::super::report::Kind;
use super::super::section::Section;
use super::super::units::{L, L_DAY, L_MIN, MM, PERCENT};
use crate::plant::{Change, SensorFault};

/// Keys that say what happens.
pub(super) const ACTIONS: [&str; 11] = [
    "evaporate_l_day",
    "inflow_l_min",
    "top_up_l",
    "scoop_l",
    "leak_l_min",
    "outlet_clogged_percent",
    "sensor",
    "sensor_jump_mm",
    "sensor_reads_mm",
    "sensor_noise_times",
    "sensor_swapped_with",
];

/// The happening that the keys of a tank tell.
pub(super) fn read(section: &mut Section<'_>, names: &Names<'_>, over_s: f64) -> Option<Happening> {
    const SENSOR: [&str; 3] = ["missing", "stuck", "mended"];
    let evaporation = section.maybe_number("evaporate_l_day", 0.0..=1.0e6);
    let inflow = section.maybe_number("inflow_l_min", 0.0..=100_000.0);
    let top_up = section.maybe_number("top_up_l", 0.0..=1.0e6);
    let scoop = section.maybe_number("scoop_l", 0.0..=1.0e6);
    let leak = section.maybe_number("leak_l_min", 0.0..=100_000.0);
    let clogged = section.maybe_number("outlet_clogged_percent", 0.0..=100.0);
    let number = section.whole_or("outlet", 1..=3, 1);
    let sensor = section.word("sensor", &SENSOR);
    let jump = section.maybe_number("sensor_jump_mm", -20_000.0..=20_000.0);
    let reads = section.maybe_number("sensor_reads_mm", -1.0e6..=1.0e6);
    let noise = section.maybe_number("sensor_noise_times", 0.0..=1000.0);
    let swapped = if section.has("sensor_swapped_with") {
        section.name_of("sensor_swapped_with", names.tanks, "tank")
    } else {
        None
    };
    if !ACTIONS.iter().any(|action| section.has(action)) {
        if section.has("outlet") {
            section.fault(Kind::Event, "outlet", "outlet goes with outlet_clogged_percent", None);
        }
        return None;
    }
    let tank = section.name_of("tank", names.tanks, "tank")?;
    let change = if let Some(rate) = evaporation {
        Change::Evaporate {
            tank,
            m3_s: rate * L_DAY,
        }
    } else if let Some(rate) = inflow {
        Change::Inflow {
            tank,
            m3_s: rate * L_MIN,
        }
    } else if let Some(litres) = top_up {
        Change::TopUp { tank, m3: litres * L }
    } else if let Some(litres) = scoop {
        Change::Scoop { tank, m3: litres * L }
    } else if let Some(rate) = leak {
        Change::Leak {
            tank,
            m3_s: rate * L_MIN,
        }
    } else if let Some(percent) = clogged {
        let outlets = names.outlets.get(tank).copied().unwrap_or(0);
        let outlet = usize::try_from(number).unwrap_or(1) - 1;
        if outlet >= outlets {
            let at = if section.has("outlet") {
                "outlet"
            } else {
                "outlet_clogged_percent"
            };
            section.fault(
                Kind::UnknownName,
                at,
                format!("tank \"{}\" has {outlets} outlets", names.tanks[tank]),
                None,
            );
        }
        Change::ClogOutlet {
            tank,
            outlet,
            left: 1.0 - percent * PERCENT,
        }
    } else if section.has("sensor_swapped_with") {
        let other = swapped?;
        if other == tank {
            let message = format!("tank \"{}\" cannot be swapped with itself", names.tanks[tank]);
            section.fault(Kind::Event, "sensor_swapped_with", message, None);
            return None;
        }
        Change::SwapSensors {
            tank,
            other,
            swapped: true,
        }
    } else if let Some(times) = noise {
        let fault = SensorFault::Noise(times);
        Change::Sensor { tank, fault }
    } else {
        let fault = match (sensor, jump, reads) {
            (_, Some(mm), _) => SensorFault::Jump(mm * MM),
            (_, _, Some(mm)) => SensorFault::Reads(mm * MM),
            (Some(0), ..) => SensorFault::Missing,
            (Some(1), ..) => SensorFault::Stuck,
            (Some(_), ..) => SensorFault::Mended,
            (None, ..) => return None,
        };
        Change::Sensor { tank, fault }
    };
    Some(Happening::Plant { change, over_s })
}
