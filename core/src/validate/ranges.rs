//! Every value by itself.

use super::Note;
use crate::air::{AirSupply, Characteristic, Drive, Valve};
use crate::fault::{Faults, Place};
use crate::installation::{Installation, Lift, Settings};
use crate::outlet::{Law, Outlet};
use crate::tank::Tank;

/// Free air of 1 L/min in m3/s, the least that matters.
const ONE_L_MIN: f32 = 1.0 / 60_000.0;

pub(super) fn check<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    faults: &mut Faults,
) {
    let site = &installation.site;
    let mut note = Note {
        faults,
        place: Place::Site,
    };
    note.range("altitude_m", site.altitude_m, -400.0, 5000.0);
    note.range("water_c", site.water_c, 0.0, 40.0);
    note.range("salinity_g_kg", site.salinity_g_kg, 0.0, 42.0);
    note.fault(
        installation.tanks.is_empty(),
        "tanks",
        0.0,
        "there must be at least one tank",
    );
    note.fault(
        installation.lifts.is_empty(),
        "lifts",
        0.0,
        "there must be at least one lift",
    );
    supply(
        &installation.air,
        &mut Note {
            faults,
            place: Place::Air,
        },
    );
    settings(
        &installation.settings,
        &mut Note {
            faults,
            place: Place::Settings,
        },
    );
    for (index, of) in (0u8..).zip(&installation.tanks) {
        tank(
            of,
            &mut Note {
                faults,
                place: Place::Tank(index),
            },
        );
        for (number, of) in (0u8..).zip(&of.outlets) {
            outlet(
                of,
                installation.tanks.len(),
                index,
                &mut Note {
                    faults,
                    place: Place::Outlet(index, number),
                },
            );
        }
    }
    for (index, of) in (0u8..).zip(&installation.lifts) {
        lift(
            of,
            installation.tanks.len(),
            &mut Note {
                faults,
                place: Place::Lift(index),
            },
        );
    }
}

fn supply(supply: &AirSupply, note: &mut Note<'_>) {
    note.fault(
        supply.curve.len() < 2,
        "curve",
        0.0,
        "a blower curve needs at least two points, from shut valves to no pressure",
    );
    for point in &supply.curve {
        note.range("curve.air_m3_s", point.air_m3_s, 0.0, 10.0);
        note.range("curve.pressure_pa", point.pressure_pa, 0.0, 300_000.0);
    }
    for (left, right) in supply.curve.iter().zip(supply.curve.iter().skip(1)) {
        note.fault(
            !(right.air_m3_s > left.air_m3_s),
            "curve.air_m3_s",
            right.air_m3_s,
            "air must rise from point to point of the blower curve",
        );
        note.fault(
            !(right.pressure_pa < left.pressure_pa),
            "curve.pressure_pa",
            right.pressure_pa,
            "pressure must fall as air rises along the blower curve",
        );
    }
    note.range("least_air_m3_s", supply.least_air_m3_s, 0.0, 10.0);
    if let Some(bleed) = &supply.bleed {
        note.range("bleed.conductance_m3_s_pa", bleed.conductance_m3_s_pa, 0.0, 1.0e-5);
        note.range("bleed.critical_ratio", bleed.critical_ratio, 0.05, 0.6);
    }
    if let Some(noise) = supply.gauge_noise_pa {
        note.range("gauge_noise_pa", noise, 0.1, 5000.0);
    }
    match supply.drive {
        Drive::Fixed => {}
        Drive::Relays { units, start_gap_s } => {
            note.range("drive.units", f32::from(units), 1.0, 8.0);
            note.range("drive.start_gap_s", f32::from(start_gap_s), 1.0, 600.0);
        }
        Drive::Speed { least } => note.range("drive.least", least, 0.2, 1.0),
    }
    note.range("efficiency", supply.efficiency, 0.05, 1.0);
    if let Some(backup) = &supply.backup {
        note.range("backup.energy_wh", backup.energy_wh, 1.0, 1.0e6);
        note.range("backup.wanted_h", backup.wanted_h, 0.1, 240.0);
    }
}

fn settings(settings: &Settings, note: &mut Note<'_>) {
    #[allow(clippy::cast_precision_loss)] // compared with bounds far below 2^24
    let whole = |value: u32| value as f32;
    note.range("period_ms", whole(settings.period_ms), 100.0, 10_000.0);
    note.range("ramp_per_s", settings.ramp_per_s, 1.0e-5, 1.0);
    note.range("peak_share", settings.peak_share, 0.5, 0.97);
    note.range("trim_s", settings.trim_s, 0.0, 600.0);
    note.range("valve_deadband", settings.valve_deadband, 0.0, 0.05);
    note.range("move_interval_s", whole(settings.move_interval_s), 0.0, 600.0);
    note.range("least_opening", settings.least_opening, 0.0, 0.5);
    note.range("most_opening", settings.most_opening, 0.5, 1.0);
    note.range(
        "preset_opening",
        settings.preset_opening,
        settings.least_opening,
        settings.most_opening,
    );
    note.range("delivery_spread", settings.delivery_spread, 0.02, 1.0);
    note.range("delivery_walk", settings.delivery_walk, 0.0, 0.01);
    note.range("delivery_shock", settings.delivery_shock, 0.0, 1.0);
    note.range("unseen_flow_m3_s", settings.unseen_flow_m3_s, 1.0e-7, 0.01);
    note.range("level_delay_s", whole(settings.level_delay_s), 0.0, 600.0);
    note.range("level_deadband_m", settings.level_deadband_m, 0.0, 0.2);
    note.range("share_accuracy", settings.share_accuracy, 0.005, 0.5);
    if settings.stop_every_s > 0 {
        note.range("stop_every_s", whole(settings.stop_every_s), 900.0, 604_800.0);
        note.range("stop_for_s", whole(settings.stop_for_s), 60.0, 1200.0);
    }
}

fn tank(tank: &Tank, note: &mut Note<'_>) {
    note.range("floor_m", tank.floor_m, -50.0, 50.0);
    note.fault(
        tank.area.is_empty(),
        "area",
        0.0,
        "the water surface of the tank must be told",
    );
    for point in &tank.area {
        note.range("area.area_m2", point.area_m2, 0.01, 10_000.0);
        note.range("area.level_m", point.level_m, 0.0, 20.0);
    }
    for (low, high) in tank.area.iter().zip(tank.area.iter().skip(1)) {
        note.fault(
            !(high.level_m > low.level_m),
            "area.level_m",
            high.level_m,
            "levels must rise along the area table",
        );
    }
    note.range("rim_m", tank.rim_m, 0.05, 20.0);
    let scale = &tank.sensor.scale;
    note.fault(
        !(scale.raw_high - scale.raw_low).is_finite() || (scale.raw_high - scale.raw_low).abs() < 1.0e-6,
        "sensor.raw_high",
        scale.raw_high,
        "the two points of a sensor's scale must differ",
    );
    note.range("sensor.level_low_m", scale.level_low_m, -20.0, 20.0);
    note.range("sensor.level_high_m", scale.level_high_m, -20.0, 20.0);
    note.fault(
        (scale.level_high_m - scale.level_low_m).abs() < 1.0e-4,
        "sensor.level_high_m",
        scale.level_high_m,
        "the two levels of a sensor's scale must differ",
    );
    note.range("sensor.zero_m", tank.sensor.zero_m, -1.0, 1.0);
    note.range("sensor.noise_m", tank.sensor.noise_m, 1.0e-4, 0.1);
    note.range("sensor.resolution_m", tank.sensor.resolution_m, 0.0, 0.05);
    note.range("stock.fish_kg", tank.stock.fish_kg, 0.0, 1.0e6);
    note.range("stock.oxygen_use_mg_kg_h", tank.stock.oxygen_use_mg_kg_h, 50.0, 2000.0);
    note.range("stock.least_oxygen_mg_l", tank.stock.least_oxygen_mg_l, 1.0, 8.0);
    let limits = &tank.limits;
    let rising = [
        ("limits.low_act_m", 0.0, limits.low_act_m),
        ("limits.low_warn_m", limits.low_act_m, limits.low_warn_m),
        ("limits.high_warn_m", limits.low_warn_m, limits.high_warn_m),
        ("limits.high_act_m", limits.high_warn_m, limits.high_act_m),
    ];
    for (field, low, value) in rising {
        note.range(field, value, low, tank.rim_m);
    }
}

fn outlet(outlet: &Outlet, tanks: usize, own: u8, note: &mut Note<'_>) {
    use crate::outlet::Drain;
    if let Drain::Tank(to) = outlet.to {
        note.fault(
            usize::from(to) >= tanks,
            "to",
            f32::from(to),
            "there is no tank with this number",
        );
        note.fault(
            to == own,
            "to",
            f32::from(to),
            "an outlet cannot lead back into its own tank",
        );
    }
    note.range("coefficient", outlet.coefficient, 0.1, 5.0);
    match &outlet.law {
        Law::VNotch { crest_m, angle_deg } => {
            note.range("crest_m", *crest_m, 0.0, 20.0);
            note.range("angle_deg", *angle_deg, 20.0, 100.0);
        }
        Law::Rectangular {
            crest_m,
            width_m,
            channel_m,
        } => {
            note.range("crest_m", *crest_m, 0.0, 20.0);
            note.range("width_m", *width_m, 0.005, 20.0);
            note.range("channel_m", *channel_m, *width_m, 100.0);
        }
        Law::Orifice {
            centre_m,
            bore_m,
            discharge,
        } => {
            note.range("centre_m", *centre_m, 0.0, 20.0);
            note.range("bore_m", *bore_m, 0.003, 1.0);
            note.range("discharge", *discharge, 0.3, 1.0);
        }
        Law::Standpipe { crest_m, bore_m } => {
            note.range("crest_m", *crest_m, 0.0, 20.0);
            note.range("bore_m", *bore_m, 0.008, 1.0);
        }
        Law::Pipe {
            end_m,
            bore_m,
            length_m,
            minor_loss,
        } => {
            note.range("end_m", *end_m, -20.0, 20.0);
            note.range("bore_m", *bore_m, 0.008, 1.0);
            note.range("length_m", *length_m, 0.02, 500.0);
            note.range("minor_loss", *minor_loss, 0.0, 100.0);
        }
        Law::Table { points } => {
            note.fault(
                points.len() < 2,
                "points",
                0.0,
                "a measured outlet needs at least two points",
            );
            for point in points {
                note.range("points.level_m", point.level_m, 0.0, 20.0);
                note.range("points.flow_m3_s", point.flow_m3_s, 0.0, 1.0);
            }
            for (low, high) in points.iter().zip(points.iter().skip(1)) {
                note.fault(
                    !(high.level_m > low.level_m) || high.flow_m3_s < low.flow_m3_s,
                    "points.level_m",
                    high.level_m,
                    "levels must rise and flows may not fall along the table",
                );
            }
        }
    }
}

fn lift(lift: &Lift, tanks: usize, note: &mut Note<'_>) {
    note.fault(
        usize::from(lift.from) >= tanks,
        "from",
        f32::from(lift.from),
        "there is no tank with this number",
    );
    note.fault(
        usize::from(lift.to) >= tanks,
        "to",
        f32::from(lift.to),
        "there is no tank with this number",
    );
    note.fault(
        lift.from == lift.to,
        "to",
        f32::from(lift.to),
        "a lift must lead from one tank to another",
    );
    let riser = &lift.riser;
    note.range("riser.bore_m", riser.bore_m, 0.015, 0.4);
    note.range("riser.injector_m", riser.injector_m, 0.0, 10.0);
    note.range("riser.outlet_m", riser.outlet_m, 0.0, 12.0);
    note.range("riser.darcy_friction", riser.darcy_friction, 0.005, 0.2);
    note.range("riser.entrance_loss", riser.entrance_loss, 0.0, 100.0);
    note.range("riser.outlet_loss", riser.outlet_loss, 0.0, 100.0);
    note.range("calibration.losses", lift.calibration.losses, 0.02, 100.0);
    note.range("calibration.slip", lift.calibration.slip, 0.3, 3.0);
    note.range("calibration.air", lift.calibration.air, 0.3, 3.0);
    if let Some(fit) = &lift.calibration.fit {
        for (index, value) in fit.covariance.iter().enumerate() {
            // Variances of logarithms may not be negative; covariances may.
            let least = if matches!(index, 0 | 3 | 5) { 0.0 } else { -4.0 };
            note.range("calibration.fit.covariance", *value, least, 4.0);
        }
        note.range("calibration.fit.air_low_m3_s", fit.air_low_m3_s, 0.0, 1.0);
        note.range(
            "calibration.fit.air_high_m3_s",
            fit.air_high_m3_s,
            fit.air_low_m3_s,
            1.0,
        );
    }
    valve(&lift.valve, note);
    note.range("line.bore_m", lift.line.bore_m, 0.002, 0.3);
    note.range("line.length_m", lift.line.length_m, 0.0, 200.0);
    note.range("line.minor_loss", lift.line.minor_loss, 0.0, 200.0);
    note.range("diffuser.opening_pa", lift.diffuser.opening_pa, 0.0, 50_000.0);
    note.range("diffuser.loss_pa", lift.diffuser.loss_pa, 0.0, 50_000.0);
    note.range("diffuser.at_air_m3_s", lift.diffuser.at_air_m3_s, 0.01 * ONE_L_MIN, 1.0);
    note.range("target", lift.target.m3_s, 0.0, 20_000.0 * ONE_L_MIN);
    note.range("air_floor", lift.air_floor.m3_s, 0.0, 5000.0 * ONE_L_MIN);
    note.range("priority", f32::from(lift.priority), 1.0, 9.0);
}

fn valve(valve: &Valve, note: &mut Note<'_>) {
    note.range("valve.conductance_m3_s_pa", valve.conductance_m3_s_pa, 1.0e-11, 1.0e-5);
    note.range("valve.critical_ratio", valve.critical_ratio, 0.05, 0.6);
    note.range("valve.stroke_s", valve.stroke_s, 0.0, 600.0);
    note.range("valve.backlash", valve.backlash, 0.0, 0.1);
    match &valve.characteristic {
        Characteristic::Linear => {}
        Characteristic::EqualPercentage { rangeability } => {
            note.range("valve.rangeability", *rangeability, 5.0, 200.0);
        }
        Characteristic::Table { points } => {
            note.fault(
                points.len() < 2,
                "valve.points",
                0.0,
                "a measured valve needs at least two points",
            );
            for point in points {
                note.range("valve.points.opening", point.opening, 0.0, 1.0);
                note.range("valve.points.share", point.share, 0.0, 1.0);
            }
            for (low, high) in points.iter().zip(points.iter().skip(1)) {
                note.fault(
                    !(high.opening > low.opening) || !(high.share > low.share),
                    "valve.points.opening",
                    high.opening,
                    "opening and share must both rise along the table",
                );
            }
        }
    }
}
