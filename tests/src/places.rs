//! A small invented installation for tests that need one.

use heapless::Vec;
use risertrim::air::{AirSupply, BlowerPoint, Characteristic, Diffuser, Line, Valve};
use risertrim::installation::{Installation, Lift, Settings, Site};
use risertrim::level::{Scale, Sensor};
use risertrim::lift::{Calibration, Riser};
use risertrim::outlet::{Drain, Law, Outlet};
use risertrim::tank::{AreaPoint, LevelLimits, Stock, Tank};
use risertrim::units::{FreeAir, WaterFlow};

/// One 46 mm lift from a sump (tank 0) into a tank (1) that a 60 degree V-notch drains back: 30 L/min wanted of 100 possible.
///
/// # Panics
/// Never.
#[must_use]
pub fn one_lift() -> Installation<1, 2> {
    let plain = |floor_m, rim_m, area_m2, usual_m: f32, outlets| Tank {
        floor_m,
        area: [AreaPoint { level_m: 0.0, area_m2 }].into_iter().collect(),
        outlets,
        sensor: Sensor {
            scale: Scale::METRES,
            zero_m: 0.0,
            noise_m: 0.001,
            resolution_m: 0.001,
        },
        rim_m,
        limits: LevelLimits {
            high_warn_m: usual_m + 0.1,
            high_act_m: usual_m + 0.15,
            low_warn_m: usual_m - 0.2,
            low_act_m: usual_m - 0.3,
        },
        fish: true,
        stock: Stock::UNTOLD,
    };
    let notch = Outlet {
        to: Drain::Tank(0),
        law: Law::VNotch {
            crest_m: 0.4,
            angle_deg: 60.0,
        },
        coefficient: 1.0,
    };
    let lift = Lift {
        from: 0,
        to: 1,
        riser: Riser {
            bore_m: 0.0464,
            injector_m: 0.1,
            outlet_m: 1.2,
            darcy_friction: 0.022,
            entrance_loss: 0.5,
            outlet_loss: 0.5,
        },
        calibration: Calibration::default(),
        valve: Valve {
            conductance_m3_s_pa: 3.0e-8,
            critical_ratio: 0.3,
            characteristic: Characteristic::EqualPercentage { rangeability: 30.0 },
            stroke_s: 20.0,
            backlash: 0.0,
        },
        line: Line {
            bore_m: 0.01,
            length_m: 4.0,
            minor_loss: 3.0,
        },
        diffuser: Diffuser {
            opening_pa: 300.0,
            loss_pa: 500.0,
            at_air_m3_s: 5.0e-4,
        },
        target: WaterFlow::from_l_min(30.0),
        air_floor: FreeAir::from_l_min(0.5),
        priority: 1,
        may_stop: false,
    };
    let curve = [(0.0, 22_000.0), (1.5e-3, 14_000.0), (2.5e-3, 0.0)];
    Installation {
        site: Site {
            altitude_m: 0.0,
            water_c: 20.0,
            salinity_g_kg: 0.0,
        },
        air: AirSupply {
            curve: curve
                .map(|(air_m3_s, pressure_pa)| BlowerPoint { air_m3_s, pressure_pa })
                .into_iter()
                .collect(),
            ..AirSupply::NONE
        },
        tanks: [
            plain(0.0, 1.3, 2.0, 1.0, Vec::new()),
            plain(0.7, 0.7, 1.0, 0.45, [notch].into_iter().collect()),
        ]
        .into_iter()
        .collect(),
        lifts: [lift].into_iter().collect(),
        settings: Settings {
            period_ms: 1000,
            ..Settings::default()
        },
    }
}
