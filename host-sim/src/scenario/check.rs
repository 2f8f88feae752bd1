//! Brings what the controller itself finds wrong with an installation back to the lines of the file.

use super::HostInstallation;
use super::hint;
use super::log::{Draft, Log};
use super::report::Kind;
use super::timeline::Wish;
use super::units::{DM3_S_BAR, L_MIN, MM, PA, PERCENT};
use risertrim::air::{AirSupply, BlowerPoint, Characteristic};
use risertrim::fault::{Fault, Field, Place, Reason};
use risertrim::installation::{Lift, Site};
use risertrim::lift::Curve;
use risertrim::outlet::{Drain, Law};
use risertrim::tank::{AreaPoint, Tank};
use risertrim::units::{FreeAir, WaterFlow};
use risertrim::validate::validate;

/// Each of the controller's fields: its name there, the key in the file, and the field's unit for one of the key's.
const KEYS: &[(&str, &str, f64)] = &[
    ("altitude_m", "altitude_m", 1.0),
    ("water_c", "water_c", 1.0),
    ("salinity_g_kg", "salinity_g_kg", 1.0),
    ("curve", "blower_l_min_kpa", 1.0),
    ("curve.air_m3_s", "blower_l_min_kpa", L_MIN),
    ("curve.pressure_pa", "blower_l_min_kpa", PA),
    ("least_air_m3_s", "least_air_l_min", L_MIN),
    (
        "bleed.conductance_m3_s_pa",
        "bleed.sonic_conductance_dm3_s_bar",
        DM3_S_BAR,
    ),
    ("bleed.critical_ratio", "bleed.critical_ratio", 1.0),
    ("gauge_noise_pa", "gauge_noise_kpa", PA),
    ("period_ms", "control_period_s", 1000.0),
    ("ramp_per_s", "ramp_percent_per_s", PERCENT),
    ("peak_share", "peak_share_percent", PERCENT),
    ("trim_s", "trim_s", 1.0),
    ("valve_deadband", "valve_deadband_percent", PERCENT),
    ("move_interval_s", "move_interval_s", 1.0),
    ("least_opening", "least_opening_percent", PERCENT),
    ("most_opening", "most_opening_percent", PERCENT),
    ("preset_opening", "preset_opening_percent", PERCENT),
    ("delivery_spread", "delivery_spread_percent", PERCENT),
    ("delivery_walk", "delivery_walk_percent_per_root_s", PERCENT),
    ("delivery_shock", "delivery_shock_percent", PERCENT),
    ("unseen_flow_m3_s", "unseen_flow_l_min", L_MIN),
    ("level_delay_s", "level_delay_s", 1.0),
    ("level_deadband_m", "level_deadband_mm", MM),
    ("stop_every_s", "stop_every_min", 60.0),
    ("stop_for_s", "stop_for_min", 60.0),
    ("floor_m", "floor_height_mm", MM),
    ("area", "area_m2", 1.0),
    ("area.area_m2", "area_m2", 1.0),
    ("area.level_m", "area_m2_at_mm", MM),
    ("rim_m", "rim_mm", MM),
    ("sensor.raw_high", "sensor.level_mm_at_reading", 1.0),
    ("sensor.level_low_m", "sensor.level_mm_at_reading", MM),
    ("sensor.level_high_m", "sensor.level_mm_at_reading", MM),
    ("sensor.zero_m", "sensor.zero_mm", MM),
    ("sensor.noise_m", "sensor.noise_mm", MM),
    ("sensor.resolution_m", "sensor.resolution_mm", MM),
    ("limits.low_act_m", "low_act_mm", MM),
    ("limits.low_warn_m", "low_warn_mm", MM),
    ("limits.high_warn_m", "high_warn_mm", MM),
    ("limits.high_act_m", "high_act_mm", MM),
    ("outlets", "outlet", 1.0),
    ("crest_m", "crest_mm", MM),
    ("riser.bore_m", "riser_bore_mm", MM),
    ("riser.injector_m", "injector_mm", MM),
    ("riser.outlet_m", "outlet_mm", MM),
    ("riser.darcy_friction", "darcy_friction", 1.0),
    ("riser.entrance_loss", "entrance_loss", 1.0),
    ("riser.outlet_loss", "outlet_loss", 1.0),
    (
        "valve.conductance_m3_s_pa",
        "valve.sonic_conductance_dm3_s_bar",
        DM3_S_BAR,
    ),
    ("valve.backlash", "valve.backlash_percent", PERCENT),
    ("line.bore_m", "air_line.bore_mm", MM),
    ("line.length_m", "air_line.length_m", 1.0),
    ("line.minor_loss", "air_line.minor_loss", 1.0),
    ("diffuser.opening_pa", "diffuser.opening_kpa", PA),
    ("diffuser.loss_pa", "diffuser.loss_kpa", PA),
    ("diffuser.at_air_m3_s", "diffuser.at_l_min", L_MIN),
    ("target.m3_s", "target_l_min", L_MIN),
    ("air_floor.m3_s", "air_floor_l_min", L_MIN),
];

/// Names of the parts, for messages.
pub(super) struct Names<'a> {
    pub tanks: &'a [String],
    pub lifts: &'a [String],
}

impl Names<'_> {
    fn part(&self, place: Place) -> String {
        let of = |names: &[String], index: u8| names.get(usize::from(index)).cloned().unwrap_or_default();
        match place {
            Place::Site => "[place]".to_owned(),
            Place::Air => "[air]".to_owned(),
            Place::Settings => "[control]".to_owned(),
            Place::Tank(tank) => format!("tank \"{}\"", of(self.tanks, tank)),
            Place::Outlet(tank, number) => {
                format!("tank \"{}\", outlet {}", of(self.tanks, tank), u16::from(number) + 1)
            }
            Place::Lift(lift) => format!("lift \"{}\"", of(self.lifts, lift)),
        }
    }
}

/// Runs the controller's own check and notes what it finds.
///
/// That check looks at what values mean together only if each is sound by itself. So that one wrong value does not hide
/// a wrong height elsewhere, parts with a fault are replaced by sound ones first, and what is said of those is dropped.
/// `whole_map` is false when a way of the water could not be read: then nothing can be said about ways back.
pub(super) fn note(told: &HostInstallation, log: &Log<'_>, names: &Names<'_>, whole_map: bool) {
    // A fault of one value found in one round makes its part sick for the next.
    for _ in 0..3 {
        let mut sound = told.clone();
        heal(&mut sound, log);
        let faults = validate(&sound);
        let starts = faults.can_start();
        for fault in faults.named() {
            if concerns_only_the_sound(fault, &sound, log, whole_map) {
                put(fault, told, log, names);
            }
        }
        if starts
            || faults
                .named()
                .iter()
                .any(|fault| !fault.only_warns && matches!(fault.reason, Reason::Because(_)))
        {
            break;
        }
    }
}

/// Holds every target of the day to what the controller asks of the target of an installation.
pub(super) fn note_wishes(told: &HostInstallation, log: &Log<'_>, names: &Names<'_>, wishes: &[Wish]) {
    for wish in wishes {
        let mut sound = told.clone();
        heal(&mut sound, log);
        let place = Place::Lift(wish.lift);
        let Some(lift) = sound.lifts.get_mut(usize::from(wish.lift)) else {
            continue;
        };
        lift.target = wish.flow;
        let faults = validate(&sound);
        let of_wish = |fault: &&Fault| {
            fault.place == place
                && fault.field == Field::Target
                && fault.value == wish.flow.m3_s
                && concerns_only_the_sound(fault, &sound, log, true)
        };
        let Some(fault) = faults.named().iter().find(of_wish) else {
            continue;
        };
        let l_min = hint::plain(f64::from(fault.value) / L_MIN);
        // What is no flow at all was noted where it was read.
        let Reason::Because(why) = fault.reason else { continue };
        let draft = Draft {
            kind: Kind::Geometry,
            bytes: wish.bytes.clone(),
            part: wish.part.clone(),
            key: "l_min".to_owned(),
            allowed: String::new(),
            message: format!("{}, {}: l_min {l_min}: {why}", wish.part, names.part(place)),
            hint: reach(fault, told),
        };
        if fault.only_warns {
            log.warning(None, draft);
        } else {
            log.fault(None, draft);
        }
    }
}

fn concerns_only_the_sound(fault: &Fault, told: &HostInstallation, log: &Log<'_>, whole_map: bool) -> bool {
    match fault.place {
        Place::Lift(_) if fault.field == Field::To && matches!(fault.reason, Reason::Because(_)) => whole_map,
        Place::Lift(index) => {
            let tanks = told.lifts.get(usize::from(index)).map(|lift| [lift.from, lift.to]);
            let sick_tank = tanks.is_some_and(|tanks| tanks.iter().any(|tank| log.is_sick(Place::Tank(*tank))));
            let sick_air = fault.field == Field::RiserInjectorM && log.is_sick(Place::Air);
            !(log.is_sick(fault.place) || sick_tank || sick_air)
        }
        Place::Air => {
            let sick_lift = (0u8..)
                .zip(&told.lifts)
                .any(|(index, _)| log.is_sick(Place::Lift(index)));
            let sick_tank = (0u8..)
                .zip(&told.tanks)
                .any(|(index, _)| log.is_sick(Place::Tank(index)));
            let alone = matches!(fault.reason, Reason::Range { .. });
            !log.is_sick(Place::Air) && (alone || !(sick_lift || sick_tank))
        }
        Place::Outlet(tank, _) => !log.is_sick(fault.place) && !log.is_sick(Place::Tank(tank)),
        place => !log.is_sick(place),
    }
}

fn put(fault: &Fault, told: &HostInstallation, log: &Log<'_>, names: &Names<'_>) {
    let (key, unit) = KEYS
        .iter()
        .find(|row| row.0 == fault.field.name())
        .map_or((fault.field.name(), 1.0), |row| (row.1, row.2));
    // What belongs to the map of tanks and lifts has its place at a key of its own or at the part's heading.
    let key = if key == "area_m2" && log.recall(fault.place, key).is_none() {
        "area_m2_at_mm"
    } else {
        key
    };
    let bytes = match fault.place {
        Place::Outlet(..) => ["v_notch", "rectangular", "standpipe", "orifice", "pipe"]
            .iter()
            .find_map(|law| log.recall(fault.place, &format!("{law}.{key}"))),
        _ => None,
    };
    let bytes = bytes
        .or_else(|| log.recall(fault.place, key))
        .or_else(|| log.recall(fault.place, ""))
        .unwrap_or(0..0);
    let part = names.part(fault.place);
    let value = f64::from(fault.value) / unit;
    let (message, allowed, hint) = match fault.reason {
        Reason::Range { low, high } => {
            let range = f64::from(low) / unit..=f64::from(high) / unit;
            let allowed = format!(
                "allowed: {} to {}",
                hint::plain(*range.start()),
                hint::plain(*range.end())
            );
            let message = format!("{part}: {key} is {}, {allowed}", hint::plain(value));
            (message, allowed, hint::unit(key, value, &range))
        }
        Reason::Because(why) => {
            let told_value = if unit == 1.0 {
                String::new()
            } else {
                format!(" {}", hint::plain(value))
            };
            (
                format!("{part}: {key}{told_value}: {why}"),
                String::new(),
                reach(fault, told),
            )
        }
    };
    let kind = if matches!(fault.reason, Reason::Range { .. }) {
        Kind::OutOfRange
    } else {
        Kind::Geometry
    };
    if log.any(|other| other.bytes == bytes && other.key == key && (other.message == message || !other.only_warns)) {
        return;
    }
    let draft = Draft {
        kind,
        bytes,
        part,
        key: key.to_owned(),
        allowed,
        message,
        hint,
    };
    if fault.only_warns {
        log.warning(Some(fault.place), draft)
    } else {
        log.fault(Some(fault.place), draft)
    }
}

/// For a target out of reach: what the lift can do, and the unit that may have been meant.
fn reach(fault: &Fault, told: &HostInstallation) -> Option<String> {
    let Place::Lift(index) = fault.place else { return None };
    if fault.field != Field::Target {
        return None;
    }
    let lift = told.lifts.get(usize::from(index))?;
    let source = told.tanks.get(usize::from(lift.from))?;
    let level = 0.5 * (source.limits.low_warn_m + source.limits.high_warn_m);
    let most = reachable_l_min(told, lift, level);
    let can = format!(
        "at the middle of its source's band it can be asked for {} L/min",
        hint::plain(most)
    );
    let unit = hint::unit("target_l_min", f64::from(fault.value) / L_MIN, &(0.1 * most..=most));
    Some(unit.map_or(can.clone(), |unit| format!("{can}; {unit}")))
}

/// The most a lift may be asked for with its source at this level, L/min.
pub(super) fn reachable_l_min(told: &HostInstallation, lift: &Lift, source_m: f32) -> f64 {
    let curve = Curve::new(&lift.riser, &lift.calibration, &told.site.conditions(), source_m, None);
    f64::from(told.settings.peak_share * curve.peak().flow.m3_s) / L_MIN
}

/// Puts a sound part in the place of every sick one, with the same ways for the water.
fn heal(told: &mut HostInstallation, log: &Log<'_>) {
    if log.is_sick(Place::Site) {
        told.site = Site {
            altitude_m: 0.0,
            water_c: 20.0,
            salinity_g_kg: 0.0,
        };
    }
    if log.is_sick(Place::Air) {
        told.air = AirSupply {
            curve: [(0.0, 200_000.0), (1.0, 0.0)]
                .iter()
                .map(|(air_m3_s, pressure_pa)| BlowerPoint {
                    air_m3_s: *air_m3_s,
                    pressure_pa: *pressure_pa,
                })
                .collect(),
            ..AirSupply::NONE
        };
    }
    if log.is_sick(Place::Settings) {
        told.settings = risertrim::installation::Settings::default();
    }
    for (index, tank) in (0u8..).zip(&mut told.tanks) {
        if log.is_sick(Place::Tank(index)) {
            heal_tank(tank);
        }
    }
    for (index, lift) in (0u8..).zip(&mut told.lifts) {
        if log.is_sick(Place::Lift(index)) {
            heal_lift(lift);
        }
    }
}

fn heal_tank(tank: &mut Tank) {
    tank.floor_m = 0.0;
    tank.area = std::iter::once(AreaPoint {
        level_m: 0.0,
        area_m2: 1.0,
    })
    .collect();
    tank.rim_m = 2.0;
    tank.sensor.scale = risertrim::level::Scale::METRES;
    (tank.sensor.zero_m, tank.sensor.noise_m, tank.sensor.resolution_m) = (0.0, 0.001, 0.001);
    tank.limits.low_act_m = 0.5;
    tank.limits.low_warn_m = 0.6;
    tank.limits.high_warn_m = 1.5;
    tank.limits.high_act_m = 1.6;
    for outlet in &mut tank.outlets {
        outlet.coefficient = 1.0;
        outlet.law = Law::Standpipe {
            crest_m: 1.0,
            bore_m: 0.1,
        };
    }
    if tank.outlets.is_empty() {
        // So that nothing is said about a tank without a way out.
        let law = Law::Standpipe {
            crest_m: 1.0,
            bore_m: 0.1,
        };
        let _ = tank.outlets.push(risertrim::outlet::Outlet {
            to: Drain::Away,
            law,
            coefficient: 1.0,
        });
    }
}

fn heal_lift(lift: &mut Lift) {
    lift.riser.bore_m = 0.1;
    lift.riser.injector_m = 0.0;
    lift.riser.outlet_m = 1.0;
    lift.riser.darcy_friction = 0.022;
    (lift.riser.entrance_loss, lift.riser.outlet_loss) = (0.5, 0.0);
    lift.calibration = risertrim::lift::Calibration::default();
    lift.valve.conductance_m3_s_pa = 1.0e-7;
    lift.valve.critical_ratio = 0.3;
    lift.valve.characteristic = Characteristic::Linear;
    (lift.valve.stroke_s, lift.valve.backlash) = (0.0, 0.0);
    (lift.line.bore_m, lift.line.length_m, lift.line.minor_loss) = (0.02, 1.0, 0.0);
    (
        lift.diffuser.opening_pa,
        lift.diffuser.loss_pa,
        lift.diffuser.at_air_m3_s,
    ) = (0.0, 0.0, 0.001);
    lift.target = WaterFlow::from_l_min(1.0);
    lift.air_floor = FreeAir::ZERO;
    lift.priority = 1;
}
