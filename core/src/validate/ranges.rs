//! Every value by itself.

use super::{Field, Note, Why};
use crate::air::{AirSupply, Characteristic, Drive, Valve};
use crate::fault::{Faults, Place};
use crate::installation::{Installation, Lift, Pools, Settings};
use crate::outlet::{Law, Outlet};
use crate::tank::Tank;

pub(super) fn check<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    faults: &mut Faults,
) {
    let site = &installation.site;
    let mut note = Note {
        faults,
        place: Place::Site,
    };
    note.value(Field::AltitudeM, site.altitude_m);
    note.value(Field::WaterC, site.water_c);
    note.value(Field::SalinityGKg, site.salinity_g_kg);
    note.fault(installation.tanks.is_empty(), Field::Tanks, 0.0, Why::TooFewTanks);
    note.fault(installation.lifts.is_empty(), Field::Lifts, 0.0, Why::TooFewLifts);
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

/// A controller has room for so many measured points.
#[inline(never)] // they are off the stack before anything else is looked at
pub(super) fn room<const LIFTS: usize, const TANKS: usize>(
    installation: &Installation<LIFTS, TANKS>,
    faults: &mut Faults,
) {
    let mut points = Pools::NONE;
    if let Some(place) = points.fill(installation) {
        Note { faults, place }.fault(true, Field::Points, 0.0, Why::NoRoomForPoints);
    }
}

fn supply(supply: &AirSupply, note: &mut Note<'_>) {
    note.fault(supply.curve.len() < 2, Field::Curve, 0.0, Why::BlowerPoints);
    for point in &supply.curve {
        note.value(Field::CurveAirM3S, point.air_m3_s);
        note.value(Field::CurvePressurePa, point.pressure_pa);
    }
    for (left, right) in supply.curve.iter().zip(supply.curve.iter().skip(1)) {
        note.fault(
            !(right.air_m3_s > left.air_m3_s),
            Field::CurveAirM3S,
            right.air_m3_s,
            Why::BlowerAirFalls,
        );
        note.fault(
            !(right.pressure_pa < left.pressure_pa),
            Field::CurvePressurePa,
            right.pressure_pa,
            Why::BlowerPressureRises,
        );
    }
    note.value(Field::LeastAirM3S, supply.least_air_m3_s);
    if let Some(bleed) = &supply.bleed {
        note.value(Field::BleedConductanceM3SPa, bleed.conductance_m3_s_pa);
        note.value(Field::BleedCriticalRatio, bleed.critical_ratio);
    }
    if let Some(noise) = supply.gauge_noise_pa {
        note.value(Field::GaugeNoisePa, noise);
    }
    match supply.drive {
        Drive::Fixed => {}
        Drive::Relays { units, start_gap_s } => {
            note.value(Field::DriveUnits, f32::from(units));
            note.value(Field::DriveStartGapS, f32::from(start_gap_s));
        }
        Drive::Speed { least } => note.value(Field::DriveLeast, least),
    }
    note.value(Field::Efficiency, supply.efficiency);
    if let Some(backup) = &supply.backup {
        note.value(Field::BackupEnergyWh, backup.energy_wh);
        note.value(Field::BackupWantedH, backup.wanted_h);
    }
}

fn settings(settings: &Settings, note: &mut Note<'_>) {
    #[allow(clippy::cast_precision_loss)] // compared with bounds far below 2^24
    let whole = |value: u32| value as f32;
    note.value(Field::PeriodMs, whole(settings.period_ms));
    note.value(Field::RampPerS, settings.ramp_per_s);
    note.value(Field::PeakShare, settings.peak_share);
    note.value(Field::TrimS, settings.trim_s);
    note.value(Field::ValveDeadband, settings.valve_deadband);
    note.value(Field::MoveIntervalS, whole(settings.move_interval_s));
    note.value(Field::LeastOpening, settings.least_opening);
    note.value(Field::MostOpening, settings.most_opening);
    note.range(
        Field::PresetOpening,
        settings.preset_opening,
        settings.least_opening,
        settings.most_opening,
    );
    note.value(Field::DeliverySpread, settings.delivery_spread);
    note.value(Field::DeliveryWalk, settings.delivery_walk);
    note.value(Field::DeliveryShock, settings.delivery_shock);
    note.value(Field::UnseenFlowM3S, settings.unseen_flow_m3_s);
    note.value(Field::LevelDelayS, whole(settings.level_delay_s));
    note.value(Field::LevelDeadbandM, settings.level_deadband_m);
    note.value(Field::ShareAccuracy, settings.share_accuracy);
    if settings.stop_every_s > 0 {
        note.value(Field::StopEveryS, whole(settings.stop_every_s));
        note.value(Field::StopForS, whole(settings.stop_for_s));
    }
}

fn tank(tank: &Tank, note: &mut Note<'_>) {
    note.value(Field::FloorM, tank.floor_m);
    note.fault(tank.area.is_empty(), Field::Area, 0.0, Why::AreaUntold);
    for point in &tank.area {
        note.value(Field::AreaAreaM2, point.area_m2);
        note.value(Field::AreaLevelM, point.level_m);
    }
    for (low, high) in tank.area.iter().zip(tank.area.iter().skip(1)) {
        note.fault(
            !(high.level_m > low.level_m),
            Field::AreaLevelM,
            high.level_m,
            Why::AreaLevelsFall,
        );
    }
    note.value(Field::RimM, tank.rim_m);
    let scale = &tank.sensor.scale;
    note.fault(
        !(scale.raw_high - scale.raw_low).is_finite() || (scale.raw_high - scale.raw_low).abs() < 1.0e-6,
        Field::SensorRawHigh,
        scale.raw_high,
        Why::ScalePointsEqual,
    );
    note.value(Field::SensorLevelLowM, scale.level_low_m);
    note.value(Field::SensorLevelHighM, scale.level_high_m);
    note.fault(
        (scale.level_high_m - scale.level_low_m).abs() < 1.0e-4,
        Field::SensorLevelHighM,
        scale.level_high_m,
        Why::ScaleLevelsEqual,
    );
    note.value(Field::SensorZeroM, tank.sensor.zero_m);
    note.value(Field::SensorNoiseM, tank.sensor.noise_m);
    note.value(Field::SensorResolutionM, tank.sensor.resolution_m);
    note.value(Field::StockFishKg, tank.stock.fish_kg);
    note.value(Field::StockOxygenUseMgKgH, tank.stock.oxygen_use_mg_kg_h);
    note.value(Field::StockLeastOxygenMgL, tank.stock.least_oxygen_mg_l);
    let limits = &tank.limits;
    let rising = [
        (Field::LimitsLowActM, 0.0, limits.low_act_m),
        (Field::LimitsLowWarnM, limits.low_act_m, limits.low_warn_m),
        (Field::LimitsHighWarnM, limits.low_warn_m, limits.high_warn_m),
        (Field::LimitsHighActM, limits.high_warn_m, limits.high_act_m),
    ];
    for (field, low, value) in rising {
        note.range(field, value, low, tank.rim_m);
    }
}

fn outlet(outlet: &Outlet, tanks: usize, own: u8, note: &mut Note<'_>) {
    use crate::outlet::Drain;
    if let Drain::Tank(to) = outlet.to {
        note.fault(usize::from(to) >= tanks, Field::To, f32::from(to), Why::NoSuchTank);
        note.fault(to == own, Field::To, f32::from(to), Why::OutletIntoItself);
    }
    note.value(Field::Coefficient, outlet.coefficient);
    match &outlet.law {
        Law::VNotch { crest_m, angle_deg } => {
            note.value(Field::CrestM, *crest_m);
            note.value(Field::AngleDeg, *angle_deg);
        }
        Law::Rectangular {
            crest_m,
            width_m,
            channel_m,
        } => {
            note.value(Field::CrestM, *crest_m);
            note.value(Field::WidthM, *width_m);
            note.range(Field::ChannelM, *channel_m, *width_m, 100.0);
        }
        Law::Orifice {
            centre_m,
            bore_m,
            discharge,
        } => {
            note.value(Field::CentreM, *centre_m);
            note.range(Field::BoreM, *bore_m, 0.003, 1.0);
            note.value(Field::Discharge, *discharge);
        }
        Law::Standpipe { crest_m, bore_m } => {
            note.value(Field::CrestM, *crest_m);
            note.range(Field::BoreM, *bore_m, 0.008, 1.0);
        }
        Law::Pipe {
            end_m,
            bore_m,
            length_m,
            minor_loss,
        } => {
            note.value(Field::EndM, *end_m);
            note.range(Field::BoreM, *bore_m, 0.008, 1.0);
            note.value(Field::LengthM, *length_m);
            note.value(Field::MinorLoss, *minor_loss);
        }
        Law::Table { points } => {
            note.fault(points.len() < 2, Field::Points, 0.0, Why::OutletPoints);
            for point in points {
                note.value(Field::PointsLevelM, point.level_m);
                note.value(Field::PointsFlowM3S, point.flow_m3_s);
            }
            for (low, high) in points.iter().zip(points.iter().skip(1)) {
                note.fault(
                    !(high.level_m > low.level_m) || high.flow_m3_s < low.flow_m3_s,
                    Field::PointsLevelM,
                    high.level_m,
                    Why::OutletTableFalls,
                );
            }
        }
    }
}

fn lift(lift: &Lift, tanks: usize, note: &mut Note<'_>) {
    note.fault(
        usize::from(lift.from) >= tanks,
        Field::From,
        f32::from(lift.from),
        Why::NoSuchTank,
    );
    note.fault(
        usize::from(lift.to) >= tanks,
        Field::To,
        f32::from(lift.to),
        Why::NoSuchTank,
    );
    note.fault(lift.from == lift.to, Field::To, f32::from(lift.to), Why::LiftIntoItself);
    let riser = &lift.riser;
    note.value(Field::RiserBoreM, riser.bore_m);
    note.value(Field::RiserInjectorM, riser.injector_m);
    note.value(Field::RiserOutletM, riser.outlet_m);
    note.value(Field::RiserDarcyFriction, riser.darcy_friction);
    note.value(Field::RiserEntranceLoss, riser.entrance_loss);
    note.value(Field::RiserOutletLoss, riser.outlet_loss);
    note.value(Field::CalibrationLosses, lift.calibration.losses);
    note.value(Field::CalibrationSlip, lift.calibration.slip);
    note.value(Field::CalibrationAir, lift.calibration.air);
    if let Some(fit) = &lift.calibration.fit {
        for (index, value) in fit.covariance.iter().enumerate() {
            // Variances of logarithms may not be negative; covariances may.
            let least = if matches!(index, 0 | 3 | 5) { 0.0 } else { -4.0 };
            note.range(Field::CalibrationFitCovariance, *value, least, 4.0);
        }
        note.value(Field::CalibrationFitAirLowM3S, fit.air_low_m3_s);
        note.range(
            Field::CalibrationFitAirHighM3S,
            fit.air_high_m3_s,
            fit.air_low_m3_s,
            1.0,
        );
    }
    valve(&lift.valve, note);
    note.value(Field::LineBoreM, lift.line.bore_m);
    note.value(Field::LineLengthM, lift.line.length_m);
    note.value(Field::LineMinorLoss, lift.line.minor_loss);
    note.value(Field::DiffuserOpeningPa, lift.diffuser.opening_pa);
    note.value(Field::DiffuserLossPa, lift.diffuser.loss_pa);
    note.value(Field::DiffuserAtAirM3S, lift.diffuser.at_air_m3_s);
    note.value(Field::Target, lift.target.m3_s);
    note.value(Field::AirFloor, lift.air_floor.m3_s);
    note.value(Field::Priority, f32::from(lift.priority));
}

fn valve(valve: &Valve, note: &mut Note<'_>) {
    note.value(Field::ValveConductanceM3SPa, valve.conductance_m3_s_pa);
    note.value(Field::ValveCriticalRatio, valve.critical_ratio);
    note.value(Field::ValveStrokeS, valve.stroke_s);
    note.value(Field::ValveBacklash, valve.backlash);
    match &valve.characteristic {
        Characteristic::Linear => {}
        Characteristic::EqualPercentage { rangeability } => {
            note.value(Field::ValveRangeability, *rangeability);
        }
        Characteristic::Table { points } => {
            note.fault(points.len() < 2, Field::ValvePoints, 0.0, Why::ValvePoints);
            for point in points {
                note.value(Field::ValvePointsOpening, point.opening);
                note.value(Field::ValvePointsShare, point.share);
            }
            for (low, high) in points.iter().zip(points.iter().skip(1)) {
                note.fault(
                    !(high.opening > low.opening) || !(high.share > low.share),
                    Field::ValvePointsOpening,
                    high.opening,
                    Why::ValveTableFalls,
                );
            }
        }
    }
}
