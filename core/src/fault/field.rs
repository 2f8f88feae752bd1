//! The fields of an installation as faults name them, with the range of those that have one of their own.

/// Declares the fields: name in this crate, with its unit, and the range in which a value is taken.
macro_rules! fields {
    ($($field:ident $name:literal $(($low:expr, $high:expr))?,)*) => {
        /// A field of an installation.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[allow(missing_docs)] // each is the field of its name
        #[non_exhaustive]
        pub enum Field {
            $($field,)*
        }

        impl Field {
            /// Its name in this crate, with its unit: the path from its place down.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$field => $name,)* }
            }

            /// Lowest and highest value taken; infinite where there is no such limit, or another value sets it.
            #[must_use]
            pub fn range(self) -> (f32, f32) {
                const RANGES: &[(f32, f32)] = &[$(fields!(@range $(($low, $high))?),)*];
                RANGES.get(self as usize).copied().unwrap_or(ANY)
            }
        }
    };
    (@range) => { ANY };
    (@range ($low:expr, $high:expr)) => { ($low, $high) };
}

/// Every number.
const ANY: (f32, f32) = (f32::NEG_INFINITY, f32::INFINITY);

/// Free air of 1 L/min in m3/s, the least that matters.
const ONE_L_MIN: f32 = 1.0 / 60_000.0;

fields! {
    AltitudeM "altitude_m" (-400.0, 5000.0),
    WaterC "water_c" (0.0, 40.0),
    SalinityGKg "salinity_g_kg" (0.0, 42.0),
    CurveAirM3S "curve.air_m3_s" (0.0, 10.0),
    CurvePressurePa "curve.pressure_pa" (0.0, 300_000.0),
    LeastAirM3S "least_air_m3_s" (0.0, 10.0),
    BleedConductanceM3SPa "bleed.conductance_m3_s_pa" (0.0, 1.0e-5),
    BleedCriticalRatio "bleed.critical_ratio" (0.05, 0.6),
    GaugeNoisePa "gauge_noise_pa" (0.1, 5000.0),
    DriveUnits "drive.units" (1.0, 8.0),
    DriveStartGapS "drive.start_gap_s" (1.0, 600.0),
    DriveLeast "drive.least" (0.2, 1.0),
    Efficiency "efficiency" (0.05, 1.0),
    BackupEnergyWh "backup.energy_wh" (1.0, 1.0e6),
    BackupWantedH "backup.wanted_h" (0.1, 240.0),
    PeriodMs "period_ms" (100.0, 10_000.0),
    RampPerS "ramp_per_s" (1.0e-5, 1.0),
    PeakShare "peak_share" (0.5, 0.97),
    TrimS "trim_s" (0.0, 600.0),
    ValveDeadband "valve_deadband" (0.0, 0.05),
    MoveIntervalS "move_interval_s" (0.0, 600.0),
    LeastOpening "least_opening" (0.0, 0.5),
    MostOpening "most_opening" (0.5, 1.0),
    PresetOpening "preset_opening",
    DeliverySpread "delivery_spread" (0.02, 1.0),
    DeliveryWalk "delivery_walk" (0.0, 0.01),
    DeliveryShock "delivery_shock" (0.0, 1.0),
    UnseenFlowM3S "unseen_flow_m3_s" (1.0e-7, 0.01),
    LevelDelayS "level_delay_s" (0.0, 600.0),
    LevelDeadbandM "level_deadband_m" (0.0, 0.2),
    ShareAccuracy "share_accuracy" (0.005, 0.5),
    StopEveryS "stop_every_s" (900.0, 604_800.0),
    StopForS "stop_for_s" (60.0, 1200.0),
    FloorM "floor_m" (-50.0, 50.0),
    AreaAreaM2 "area.area_m2" (0.01, 10_000.0),
    AreaLevelM "area.level_m" (0.0, 20.0),
    RimM "rim_m" (0.05, 20.0),
    SensorLevelLowM "sensor.level_low_m" (-20.0, 20.0),
    SensorLevelHighM "sensor.level_high_m" (-20.0, 20.0),
    SensorZeroM "sensor.zero_m" (-1.0, 1.0),
    SensorNoiseM "sensor.noise_m" (1.0e-4, 0.1),
    SensorResolutionM "sensor.resolution_m" (0.0, 0.05),
    StockFishKg "stock.fish_kg" (0.0, 1.0e6),
    StockOxygenUseMgKgH "stock.oxygen_use_mg_kg_h" (50.0, 2000.0),
    StockLeastOxygenMgL "stock.least_oxygen_mg_l" (1.0, 8.0),
    Coefficient "coefficient" (0.1, 5.0),
    CrestM "crest_m" (0.0, 20.0),
    AngleDeg "angle_deg" (20.0, 100.0),
    WidthM "width_m" (0.005, 20.0),
    ChannelM "channel_m",
    CentreM "centre_m" (0.0, 20.0),
    BoreM "bore_m",
    Discharge "discharge" (0.3, 1.0),
    EndM "end_m" (-20.0, 20.0),
    LengthM "length_m" (0.02, 500.0),
    MinorLoss "minor_loss" (0.0, 100.0),
    PointsLevelM "points.level_m" (0.0, 20.0),
    PointsFlowM3S "points.flow_m3_s" (0.0, 1.0),
    RiserBoreM "riser.bore_m" (0.015, 0.4),
    RiserInjectorM "riser.injector_m" (0.0, 10.0),
    RiserOutletM "riser.outlet_m" (0.0, 12.0),
    RiserDarcyFriction "riser.darcy_friction" (0.005, 0.2),
    RiserEntranceLoss "riser.entrance_loss" (0.0, 100.0),
    RiserOutletLoss "riser.outlet_loss" (0.0, 100.0),
    CalibrationLosses "calibration.losses" (0.02, 100.0),
    CalibrationSlip "calibration.slip" (0.3, 3.0),
    CalibrationAir "calibration.air" (0.3, 3.0),
    CalibrationFitCovariance "calibration.fit.covariance",
    CalibrationFitAirLowM3S "calibration.fit.air_low_m3_s" (0.0, 1.0),
    CalibrationFitAirHighM3S "calibration.fit.air_high_m3_s",
    LineBoreM "line.bore_m" (0.002, 0.3),
    LineLengthM "line.length_m" (0.0, 200.0),
    LineMinorLoss "line.minor_loss" (0.0, 200.0),
    DiffuserOpeningPa "diffuser.opening_pa" (0.0, 50_000.0),
    DiffuserLossPa "diffuser.loss_pa" (0.0, 50_000.0),
    DiffuserAtAirM3S "diffuser.at_air_m3_s" (0.01 * ONE_L_MIN, 1.0),
    Target "target.m3_s" (0.0, 20_000.0 * ONE_L_MIN),
    AirFloor "air_floor.m3_s" (0.0, 5000.0 * ONE_L_MIN),
    Priority "priority" (1.0, 9.0),
    ValveConductanceM3SPa "valve.conductance_m3_s_pa" (1.0e-11, 1.0e-5),
    ValveCriticalRatio "valve.critical_ratio" (0.05, 0.6),
    ValveStrokeS "valve.stroke_s" (0.0, 600.0),
    ValveBacklash "valve.backlash" (0.0, 0.1),
    ValveRangeability "valve.rangeability" (5.0, 200.0),
    ValvePointsOpening "valve.points.opening" (0.0, 1.0),
    ValvePointsShare "valve.points.share" (0.0, 1.0),
    Tanks "tanks",
    Lifts "lifts",
    Curve "curve",
    Area "area",
    SensorRawHigh "sensor.raw_high",
    To "to",
    Points "points",
    From "from",
    ValvePoints "valve.points",
    LimitsLowActM "limits.low_act_m",
    LimitsLowWarnM "limits.low_warn_m",
    LimitsHighWarnM "limits.high_warn_m",
    LimitsHighActM "limits.high_act_m",
    Outlets "outlets",
}

impl core::fmt::Display for Field {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.name())
    }
}
