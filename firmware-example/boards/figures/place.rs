//! A place of any number of lifts, each with a receiving tank of its own that runs back into one sump.

use risertrim::air::{AirSupply, BlowerPoint, Characteristic, Diffuser, Line, Valve};
use risertrim::installation::{Installation, Lift, Settings, Site};
use risertrim::level::{Scale, Sensor};
use risertrim::lift::{Calibration, Riser};
use risertrim::outlet::{Drain, Law, Outlet};
use risertrim::tank::{AreaPoint, LevelLimits, Stock, Tank};
use risertrim::{FreeAir, WaterFlow};

/// Level of the sump, m.
pub const SUMP_M: f32 = 0.80;
/// Level of the other tanks, m.
pub const LEVEL_M: f32 = 0.35;

/// Fills an empty installation with `lifts` lifts and one tank more.
pub fn fill<const LIFTS: usize, const TANKS: usize>(place: &mut Installation<LIFTS, TANKS>, lifts: u8) {
    place.site = Site {
        altitude_m: 200.0,
        water_c: 22.0,
        salinity_g_kg: 0.0,
    };
    let share = f32::from(lifts);
    let points = [(0.0, 26_000.0), (0.001, 21_000.0), (0.0022, 8_000.0)];
    place.air = AirSupply {
        curve: points
            .into_iter()
            .map(|(air, pressure_pa)| BlowerPoint {
                air_m3_s: air * share,
                pressure_pa,
            })
            .collect(),
        least_air_m3_s: 0.0,
        bleed: None,
        gauge_noise_pa: Some(50.0),
        ..AirSupply::NONE
    };
    place.settings = Settings {
        preset_opening: 0.6,
        ..Settings::default()
    };
    place.tanks.clear();
    place.lifts.clear();
    let _ = place.tanks.push(tank(0.0, 1.5 * share, SUMP_M, &[]));
    for index in 0..lifts {
        let _ = place.tanks.push(tank(0.5, 0.6, LEVEL_M, outlets(index)));
        let _ = place.lifts.push(lift(index));
    }
}

/// The laws in turn, dear and cheap ones, and an emergency overflow on each tank.
fn outlets(index: u8) -> &'static [Law] {
    const OVERFLOW: Law = Law::Standpipe {
        crest_m: 0.42,
        bore_m: 0.11,
    };
    const NOTCH: Law = Law::VNotch {
        crest_m: 0.305,
        angle_deg: 60.0,
    };
    const WEIR: Law = Law::Rectangular {
        crest_m: 0.325,
        width_m: 0.05,
        channel_m: 0.5,
    };
    const PIPE: Law = Law::Standpipe {
        crest_m: 0.33,
        bore_m: 0.09,
    };
    match index % 3 {
        0 => &[NOTCH, OVERFLOW],
        1 => &[WEIR, OVERFLOW],
        _ => &[PIPE, OVERFLOW],
    }
}

fn tank(floor_m: f32, area_m2: f32, usual_m: f32, laws: &[Law]) -> Tank {
    Tank {
        floor_m,
        area: [AreaPoint { level_m: 0.0, area_m2 }].into_iter().collect(),
        outlets: laws
            .iter()
            .map(|law| Outlet {
                to: Drain::Tank(0),
                law: law.clone(),
                coefficient: 1.0,
            })
            .collect(),
        sensor: Sensor {
            scale: Scale::METRES,
            zero_m: 0.0,
            noise_m: 0.001,
            resolution_m: 0.001,
        },
        rim_m: usual_m + 0.15,
        limits: LevelLimits {
            high_warn_m: usual_m + 0.05,
            high_act_m: usual_m + 0.10,
            low_warn_m: usual_m - 0.15,
            low_act_m: usual_m - 0.20,
        },
        fish: floor_m > 0.0,
        stock: Stock::UNTOLD,
    }
}

fn lift(index: u8) -> Lift {
    let characteristic = if index % 2 == 0 {
        Characteristic::Linear
    } else {
        Characteristic::EqualPercentage { rangeability: 30.0 }
    };
    Lift {
        from: 0,
        to: index + 1,
        riser: Riser {
            bore_m: 0.045,
            injector_m: 0.05,
            outlet_m: 0.90,
            darcy_friction: 0.022,
            entrance_loss: 0.5,
            outlet_loss: 0.0,
        },
        calibration: Calibration::default(),
        valve: Valve {
            conductance_m3_s_pa: 2.0e-8,
            critical_ratio: 0.3,
            characteristic,
            stroke_s: 10.0,
            backlash: 0.01,
        },
        line: Line {
            bore_m: 0.012,
            length_m: 3.0,
            minor_loss: 3.0,
        },
        diffuser: Diffuser {
            opening_pa: 200.0,
            loss_pa: 300.0,
            at_air_m3_s: 3.0e-4,
        },
        target: WaterFlow::from_l_min(20.0),
        air_floor: FreeAir::from_l_min(2.0),
        priority: index % 3 + 1,
        may_stop: false,
    }
}
