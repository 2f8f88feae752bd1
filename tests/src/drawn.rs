//! Installations drawn from rows of numbers, for tests of what must hold for any.

use heapless::Vec;
use risertrim::air::{AirSupply, Bleed, BlowerPoint, Characteristic, Diffuser, Line, Valve, ValvePoint};
use risertrim::installation::{Installation, Lift, Settings, Site};
use risertrim::level::{Scale, Sensor};
use risertrim::lift::{Calibration, Curve, Riser};
use risertrim::outlet::{Drain, Law, Outlet, TablePoint};
use risertrim::tank::{AreaPoint, LevelLimits, Stock, Tank};
use risertrim::units::{FreeAir, WaterFlow};

/// A row of numbers that an installation is drawn from, read one after the other; used up, it gives zeros.
#[derive(Clone, Debug)]
pub struct Dials<'a> {
    left: core::slice::Iter<'a, u16>,
}

impl<'a> Dials<'a> {
    /// From these numbers.
    #[must_use]
    pub fn new(numbers: &'a [u16]) -> Self {
        Self { left: numbers.iter() }
    }

    /// The next number as one of `count` choices.
    ///
    /// # Panics
    /// Never for a `count` above zero.
    pub fn pick(&mut self, count: u16) -> u16 {
        self.left.next().copied().unwrap_or(0) % count
    }

    /// The next number as a value from `low` to `high`, both ends included.
    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        let share = f32::from(self.left.next().copied().unwrap_or(0)) / f32::from(u16::MAX);
        if share >= 1.0 { high } else { low + share * (high - low) }
    }

    /// As [`Dials::between`], evenly on a logarithmic scale.
    pub fn decades(&mut self, low: f32, high: f32) -> f32 {
        let value = (low.ln() + self.between(0.0, 1.0) * (high / low).ln()).exp();
        value.clamp(low, high)
    }

    /// True in one of `of` cases.
    pub fn one_in(&mut self, of: u16) -> bool {
        self.pick(of) == of - 1
    }
}

/// Level at which the sump of a drawn installation usually stands, m.
const SUMP_LEVEL_M: f32 = 0.9;
/// Height of the working outlets above their tank's floor, m.
const CREST_M: f32 = 0.45;

/// A valid installation of 1 to 4 lifts and 2 to 5 tanks: tank 0 a sump, the others above it, draining down.
///
/// All valve characteristics, outlet laws, sensor scales and settings occur, within the ranges that validation allows.
///
/// # Panics
/// When the capacities are below 4 lifts and 5 tanks.
#[must_use]
pub fn drawn<const LIFTS: usize, const TANKS: usize>(dials: &mut Dials<'_>) -> Installation<LIFTS, TANKS> {
    let upper = 1 + dials.pick(4);
    // Either each upper tank drains into the sump, or each into the one below it.
    let chain = upper > 1 && dials.one_in(2);
    let least_lifts = if chain { 1 } else { upper };
    let count = least_lifts + dials.pick(5 - least_lifts);
    let settings = settings(dials);
    let mut tanks = Vec::new();
    let sump = tank(dials, 0.0, 1.1, SUMP_LEVEL_M, Vec::new());
    assert!(tanks.push(sump).is_ok(), "room for 5 tanks");
    for index in 1..=upper {
        let below = if chain { index - 1 } else { 0 };
        let floor_m = 0.46 + 0.05 * f32::from(index);
        let outlets = outlets(dials, below);
        let tank = tank(dials, floor_m, 0.75, CREST_M + 0.04, outlets);
        assert!(tanks.push(tank).is_ok(), "room for 5 tanks");
    }
    let site = Site {
        altitude_m: dials.between(-100.0, 2500.0),
        water_c: dials.between(0.0, 40.0),
        salinity_g_kg: if dials.one_in(3) { 35.0 } else { 0.0 },
    };
    let mut lifts = Vec::new();
    for index in 0..count {
        let to = if chain && index == 0 { upper } else { 1 + index % upper };
        let lift = lift(dials, to, 0.46 + 0.05 * f32::from(to), &site, &settings);
        assert!(lifts.push(lift).is_ok(), "room for 4 lifts");
    }
    Installation {
        site,
        air: supply(dials, count),
        tanks,
        lifts,
        settings,
    }
}

fn settings(dials: &mut Dials<'_>) -> Settings {
    let least_opening = if dials.one_in(2) { 0.0 } else { dials.between(0.0, 0.2) };
    let most_opening = if dials.one_in(2) { 1.0 } else { dials.between(0.6, 1.0) };
    let whole = |value: f32| {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let whole = value as u32;
        whole
    };
    Settings {
        period_ms: whole(dials.decades(100.0, 10_000.0)),
        ramp_per_s: dials.decades(1.0e-5, 1.0),
        peak_share: dials.between(0.5, 0.97),
        trim_s: if dials.one_in(4) {
            0.0
        } else {
            dials.decades(1.0, 600.0)
        },
        valve_deadband: dials.between(0.0, 0.05),
        move_interval_s: whole(dials.between(0.0, 600.0)),
        least_opening,
        most_opening,
        preset_opening: dials.between(least_opening, most_opening),
        delivery_spread: dials.decades(0.02, 1.0),
        delivery_walk: if dials.one_in(6) {
            0.0
        } else {
            dials.decades(1.0e-6, 1.0e-2)
        },
        delivery_shock: dials.between(0.0, 1.0),
        unseen_flow_m3_s: dials.decades(1.0e-7, 1.0e-2),
        level_delay_s: whole(dials.between(0.0, 120.0)),
        level_deadband_m: dials.between(0.0, 0.1),
        stop_every_s: if dials.one_in(3) {
            0
        } else {
            whole(dials.between(900.0, 20_000.0))
        },
        stop_for_s: whole(dials.between(60.0, 1200.0)),
        share_accuracy: dials.decades(0.005, 0.5),
    }
}

fn tank(dials: &mut Dials<'_>, floor_m: f32, rim_m: f32, usual_m: f32, outlets: Vec<Outlet, 3>) -> Tank {
    let mut area = Vec::new();
    let surface = dials.decades(0.05, 10.0);
    let _ = area.push(AreaPoint {
        level_m: 0.0,
        area_m2: surface,
    });
    if dials.one_in(3) {
        let _ = area.push(AreaPoint {
            level_m: rim_m,
            area_m2: surface * dials.between(0.5, 2.0),
        });
    }
    let scale = match dials.pick(3) {
        0 => Scale::METRES,
        1 => Scale {
            raw_low: 4.0,
            raw_high: 20.0,
            level_low_m: 0.0,
            level_high_m: 1.2,
        },
        // An echo from above: more distance, less water.
        _ => Scale {
            raw_low: 0.2,
            raw_high: 1.4,
            level_low_m: 1.2,
            level_high_m: 0.0,
        },
    };
    Tank {
        floor_m,
        area,
        outlets,
        sensor: Sensor {
            scale,
            zero_m: dials.between(-0.01, 0.01),
            noise_m: dials.decades(1.0e-4, 0.02),
            resolution_m: dials.between(0.0, 0.005),
        },
        rim_m,
        limits: LevelLimits {
            high_warn_m: usual_m + 0.10,
            high_act_m: usual_m + 0.15,
            low_warn_m: usual_m - 0.2,
            low_act_m: usual_m - 0.3,
        },
        fish: dials.one_in(2),
        stock: Stock::UNTOLD,
    }
}

fn outlets(dials: &mut Dials<'_>, below: u16) -> Vec<Outlet, 3> {
    let law = match dials.pick(6) {
        0 => Law::VNotch {
            crest_m: CREST_M,
            angle_deg: dials.between(20.0, 100.0),
        },
        1 => Law::Rectangular {
            crest_m: CREST_M,
            width_m: dials.between(0.05, 0.3),
            channel_m: 0.3,
        },
        2 => Law::Orifice {
            centre_m: CREST_M,
            bore_m: dials.between(0.02, 0.08),
            discharge: dials.between(0.5, 0.9),
        },
        3 => Law::Standpipe {
            crest_m: CREST_M,
            bore_m: dials.between(0.03, 0.11),
        },
        4 => Law::Pipe {
            end_m: dials.between(0.1, CREST_M),
            bore_m: dials.between(0.02, 0.1),
            length_m: dials.between(0.2, 10.0),
            minor_loss: dials.between(0.0, 5.0),
        },
        _ => {
            let points = [(CREST_M, 0.0), (0.48, 3.0e-4), (0.52, 1.5e-3), (0.65, 6.0e-3)];
            Law::Table {
                points: points
                    .map(|(level_m, flow_m3_s)| TablePoint { level_m, flow_m3_s })
                    .into_iter()
                    .collect(),
            }
        }
    };
    let mut outlets = Vec::new();
    #[allow(clippy::cast_possible_truncation)]
    let to = Drain::Tank(below as u8);
    let _ = outlets.push(Outlet {
        to,
        law,
        coefficient: dials.between(0.8, 1.2),
    });
    if dials.one_in(2) {
        let law = Law::Standpipe {
            crest_m: 0.66,
            bore_m: 0.075,
        };
        let to = if dials.one_in(2) { Drain::Away } else { to };
        let _ = outlets.push(Outlet {
            to,
            law,
            coefficient: 1.0,
        });
    }
    outlets
}

fn lift(dials: &mut Dials<'_>, to: u16, floor_m: f32, site: &Site, settings: &Settings) -> Lift {
    let bore_m = dials.decades(0.025, 0.16);
    let riser = Riser {
        bore_m,
        injector_m: dials.between(0.05, 0.2),
        // From below the receiver's water (drowned) to well above it; now and then below the source's.
        outlet_m: floor_m + dials.between(0.38, 0.6),
        darcy_friction: dials.between(0.015, 0.04),
        entrance_loss: dials.between(0.3, 5.0),
        outlet_loss: dials.between(0.0, 2.0),
    };
    let calibration = Calibration {
        losses: dials.between(0.6, 2.0),
        slip: dials.between(0.7, 1.5),
        air: dials.between(0.7, 1.3),
        ..Calibration::default()
    };
    let peak = Curve::new(&riser, &calibration, &site.conditions(), SUMP_LEVEL_M, None).peak();
    let characteristic = match dials.pick(3) {
        0 => Characteristic::Linear,
        1 => Characteristic::EqualPercentage {
            rangeability: dials.between(5.0, 100.0),
        },
        _ => {
            let points = [(0.0, 0.0), (0.3, 0.04), (0.7, 0.4), (1.0, 1.0)];
            Characteristic::Table {
                points: points
                    .map(|(opening, share)| ValvePoint { opening, share })
                    .into_iter()
                    .collect(),
            }
        }
    };
    let half_peak = 0.5 * peak.air.m3_s;
    Lift {
        from: 0,
        #[allow(clippy::cast_possible_truncation)]
        to: to as u8,
        riser,
        calibration,
        valve: Valve {
            // Passes half the air of the peak at a drop of a few kPa, give or take.
            conductance_m3_s_pa: half_peak / 110_000.0 / 0.4 * dials.decades(0.5, 4.0),
            critical_ratio: dials.between(0.1, 0.5),
            characteristic,
            stroke_s: if dials.one_in(4) {
                0.0
            } else {
                dials.decades(1.0, 300.0)
            },
            backlash: if dials.one_in(3) { 0.0 } else { dials.between(0.0, 0.1) },
        },
        line: Line {
            bore_m: dials.between(0.5, 1.0) * bore_m * 0.5,
            length_m: dials.between(0.5, 30.0),
            minor_loss: 5.0,
        },
        diffuser: Diffuser {
            opening_pa: dials.between(0.0, 2000.0),
            loss_pa: 500.0,
            at_air_m3_s: half_peak,
        },
        target: WaterFlow::from_m3_s(dials.between(0.0, 0.9) * settings.peak_share * peak.flow.m3_s),
        air_floor: FreeAir::from_m3_s(dials.between(0.0, 0.1) * peak.air.m3_s),
        #[allow(clippy::cast_possible_truncation)]
        priority: 1 + dials.pick(9) as u8,
        may_stop: dials.one_in(2),
    }
}

fn supply(dials: &mut Dials<'_>, lifts: u16) -> AirSupply {
    // From far too little for the widest risers to plenty for all.
    let most = dials.decades(3.0e-4, 3.0e-2) * f32::from(lifts);
    let shut_off = dials.between(15_000.0, 45_000.0);
    let mut curve = Vec::new();
    let _ = curve.push(BlowerPoint {
        air_m3_s: 0.0,
        pressure_pa: shut_off,
    });
    if dials.one_in(2) {
        let _ = curve.push(BlowerPoint {
            air_m3_s: 0.6 * most,
            pressure_pa: dials.between(0.3, 0.9) * shut_off,
        });
    }
    let _ = curve.push(BlowerPoint {
        air_m3_s: most,
        pressure_pa: 0.0,
    });
    AirSupply {
        curve,
        least_air_m3_s: 0.0,
        bleed: if dials.one_in(2) {
            Some(Bleed {
                conductance_m3_s_pa: dials.decades(1.0e-9, 1.0e-7),
                critical_ratio: 0.3,
            })
        } else {
            None
        },
        gauge_noise_pa: if dials.one_in(2) { Some(100.0) } else { None },
        ..AirSupply::NONE
    }
}
