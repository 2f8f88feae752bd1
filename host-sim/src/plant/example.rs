//! The installation of the default scenario, written out for the plant's own tests.

use super::*;

const L_MIN: f64 = 1.0 / 60_000.0;

fn tank(name: &str, area_m2: f64, floor_m: f64, rim_m: f64, start_m: f64) -> TankSpec {
    TankSpec {
        name: name.to_owned(),
        area: Area::Constant(area_m2),
        floor_m,
        rim_m,
        start_m,
        dry_m: None,
        outlets: Vec::new(),
        inflow_m3_s: 0.0,
        evaporation_m3_s: 0.0,
        sensor: Some(SensorSpec {
            noise_m: 0.001,
            resolution_m: 0.001,
            ..SensorSpec::default()
        }),
    }
}

fn to_sump(law: OutletLaw) -> OutletSpec {
    OutletSpec {
        to: Some(0),
        law,
        coefficient: 1.0,
    }
}

#[allow(clippy::too_many_arguments)]
fn lift(
    name: &str,
    to: usize,
    bore_m: f64,
    outlet_m: f64,
    place: Place,
    sonic_dm3_s_bar: f64,
    line: (f64, f64),
    at_l_min: f64,
) -> LiftSpec {
    LiftSpec {
        name: name.to_owned(),
        from: 0,
        to,
        injector_m: 0.05,
        outlet_m,
        riser: Riser::clean(bore_m, place),
        valve: ValveSpec {
            sonic_m3_s_pa: sonic_dm3_s_bar * 1e-8,
            critical_ratio: 0.3,
            characteristic: Characteristic::EqualPercentage {
                rangeability: 30.0,
                dead_travel: 0.02,
            },
            multiplier: 1.0,
        },
        actuator: ActuatorSpec {
            stroke_s: 30.0,
            backlash: 0.005,
            stiction: 0.0,
            leak: 0.0,
        },
        start_opening: 0.5,
        line: LineSpec {
            bore_m: line.0,
            length_m: line.1,
            minor_loss: 3.0,
            multiplier: 1.0,
        },
        diffuser: DiffuserSpec {
            opening_pa: 300.0,
            loss_pa: 500.0,
            at_m3_s: at_l_min * L_MIN,
        },
    }
}

/// One blower, three lifts, four tanks.
pub(super) fn three_lifts() -> PlantSpec {
    let place = Place::new(120.0, 22.0, 0.0);
    let mut fry = tank("fry tank", 0.5, 0.5, 0.78, 0.66);
    fry.outlets = vec![
        to_sump(OutletLaw::Standpipe {
            crest_m: 0.632,
            bore_m: 0.0464,
        }),
        to_sump(OutletLaw::Standpipe {
            crest_m: 0.725,
            bore_m: 0.1036,
        }),
    ];
    let mut filter = tank("filter", 1.0, 0.5, 0.8, 0.673);
    filter.outlets = vec![
        to_sump(OutletLaw::VNotch {
            crest_m: 0.6,
            angle_deg: 90.0,
        }),
        to_sump(OutletLaw::Standpipe {
            crest_m: 0.735,
            bore_m: 0.1036,
        }),
    ];
    let mut beds = tank("plant beds", 2.0, 0.5, 0.82, 0.692);
    beds.outlets = vec![
        to_sump(OutletLaw::Pipe {
            entry_m: 0.45,
            end_m: 0.45,
            bore_m: 0.0712,
            length_m: 2.0,
            minor_loss: 0.9,
        }),
        to_sump(OutletLaw::Standpipe {
            crest_m: 0.75,
            bore_m: 0.1036,
        }),
    ];
    PlantSpec {
        place,
        blower: BlowerSpec {
            points: vec![(0.0, 26_000.0), (350.0 * L_MIN, 13_000.0), (700.0 * L_MIN, 0.0)],
            curve_at_pa: place.p_atm_pa,
            efficiency: 0.35,
            flow_multiplier: 1.0,
            pressure_multiplier: 1.0,
        },
        bleed: None,
        gauge: Some(GaugeSpec {
            noise_pa: 50.0,
            resolution_pa: 10.0,
            zero_pa: 0.0,
            gain: 1.0,
        }),
        tanks: vec![tank("sump", 3.0, 0.0, 1.3, 1.05), fry, filter, beds],
        lifts: vec![
            lift("fry", 1, 0.0464, 1.17, place, 1.6, (0.013, 4.0), 30.0),
            lift("filter", 2, 0.0712, 1.18, place, 5.5, (0.019, 5.0), 80.0),
            lift("beds", 3, 0.1036, 1.2, place, 14.0, (0.032, 6.0), 200.0),
        ],
        seed: 1,
        max_step_s: 1.0,
    }
}
