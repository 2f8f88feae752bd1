//! What a bin of a log says of the lifts: their air, their state, the levels behind raw readings.

use super::doing::Service;
use super::series::Bin;
use crate::log::HostInstallation;
use crate::scenario::LIFTS;

/// The air and the state of the lifts over some seconds.
#[derive(Clone, Copy, Debug)]
pub struct Drive {
    /// Air of each lift, m3/s.
    pub air_m3_s: [f64; LIFTS],
    /// Whether each lift serves.
    pub serves: [Service; LIFTS],
}

/// Level by a sensor's own number, m.
#[must_use]
pub fn level_m(sensor: &risertrim::level::Sensor, raw: f64) -> f64 {
    let of = &sensor.scale;
    let share = (raw - f64::from(of.raw_low)) / f64::from(of.raw_high - of.raw_low);
    f64::from(of.level_low_m) + share * f64::from(of.level_high_m - of.level_low_m) + f64::from(sensor.zero_m)
}

/// The air and state of every lift in each bin, by the curves of valves and lines in `place`: as logged where the log was made with
/// this very installation, else worked out anew from openings and manifold pressure.
#[must_use]
pub fn drives(place: &HostInstallation, bins: &[Bin]) -> Vec<Drive> {
    let version = risertrim::record::curves_version(place);
    let names: Vec<String> = place.lifts.iter().map(|_| String::new()).collect();
    let lifts = crate::calibrate::NamedLift::all(place, &names);
    bins.iter()
        .map(|bin| {
            let mut air_m3_s = bin.air_m3_s;
            if bin.curves != version {
                for (index, (air, lift)) in air_m3_s.iter_mut().zip(&lifts).enumerate() {
                    let source = usize::from(lift.lift.from);
                    if bin.counts[source] > 0 {
                        let level_m = level_m(&place.tanks[source].sensor, bin.raw[source]);
                        *air = lift.air_through_valve_m3_s(f64::from(bin.position[index]), bin.manifold_pa, level_m);
                    }
                }
            }
            Drive {
                air_m3_s,
                serves: bin.serves,
            }
        })
        .collect()
}
