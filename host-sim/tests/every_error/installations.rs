//! Installations as a program builds them, without a file: what the controller refuses or warns of at its start.

use super::Said;
use risertrim::air::{Characteristic, ValvePoint};
use risertrim::lift::Riser;
use risertrim::outlet::{Drain, Law, Outlet, TablePoint};
use risertrim::units::{FreeAir, WaterFlow};
use risertrim::validate::validate;
use risertrim::{Command, Controller};
use risertrim_sim::calibrate::{NamedLift, Prior, fit};
use risertrim_sim::log::LogReader;
use risertrim_sim::plant::{Change, Plant};
use risertrim_sim::scenario::{HostInstallation, Scenario, digits, with_lift_key};
use risertrim_sim::simulate::Simulation;

/// What is changed about the place with two lifts into one tank (the sump is tank 0), and what is said.
type Case = (fn(&mut HostInstallation), &'static str);

fn riser(place: &mut HostInstallation) -> &mut Riser {
    &mut place.lifts[0].riser
}

fn table(points: [(f32, f32); 2], count: usize) -> Law {
    let points = points.into_iter().take(count);
    Law::Table {
        points: points
            .map(|(level_m, flow_m3_s)| TablePoint { level_m, flow_m3_s })
            .collect(),
    }
}

fn measured_valve(points: &[(f32, f32)]) -> Characteristic {
    let points = points.iter();
    Characteristic::Table {
        points: points
            .map(|(opening, share)| ValvePoint {
                opening: *opening,
                share: *share,
            })
            .collect(),
    }
}

/// A tank that can let go of much less than its lifts bring.
fn narrow_outlet(place: &mut HostInstallation) {
    place.tanks[1].outlets.truncate(1);
    place.tanks[1].outlets[0].law = Law::Standpipe {
        crest_m: 0.6,
        bore_m: 0.03,
    };
}

/// Every outlet measured, each at six levels of its own.
fn measured_everywhere(place: &mut HostInstallation) {
    for (index, tank) in place.tanks.iter_mut().enumerate() {
        tank.outlets.clear();
        for number in 0..3 {
            let foot_m = 0.4 + 0.03 * index as f32 + 0.01 * number as f32;
            let points = (0..6).map(|point| TablePoint {
                level_m: foot_m + 0.02 * point as f32,
                flow_m3_s: 1.0e-3 * point as f32,
            });
            let _ = tank.outlets.push(Outlet {
                to: Drain::Away,
                law: Law::Table {
                    points: points.collect(),
                },
                coefficient: 1.0,
            });
        }
    }
}

const CASES: &[Case] = &[
    (|p| p.tanks.clear(), "there must be at least one tank"),
    (|p| p.lifts.clear(), "there must be at least one lift"),
    (|p| p.air.curve.truncate(1), "a blower curve needs at least two points"),
    (|p| p.air.curve[1].air_m3_s = 0.0, "air must rise from point to point"),
    (
        |p| p.air.curve[1].pressure_pa = 29_000.0,
        "pressure must fall as air rises",
    ),
    (
        |p| p.tanks[1].area.clear(),
        "the water surface of the tank must be told",
    ),
    (
        |p| {
            let first = p.tanks[1].area[0];
            let _ = p.tanks[1].area.push(first);
        },
        "levels must rise along the area table",
    ),
    (
        |p| p.tanks[1].sensor.scale.raw_high = p.tanks[1].sensor.scale.raw_low,
        "the two points of a sensor's scale must differ",
    ),
    (
        |p| p.tanks[1].sensor.scale.level_high_m = p.tanks[1].sensor.scale.level_low_m,
        "the two levels of a sensor's scale must differ",
    ),
    (
        |p| p.tanks[1].outlets[0].to = Drain::Tank(9),
        "there is no tank with this number",
    ),
    (|p| p.lifts[0].from = 9, "there is no tank with this number"),
    (
        |p| p.lifts[0].to = p.lifts[0].from,
        "a lift must lead from one tank to another",
    ),
    (
        |p| p.tanks[1].outlets[0].to = Drain::Tank(1),
        "an outlet cannot lead back into its own tank",
    ),
    (
        |p| p.tanks[1].outlets[0].law = table([(0.1, 0.0), (0.2, 0.1)], 1),
        "a measured outlet needs at least two points",
    ),
    (
        |p| p.tanks[1].outlets[0].law = table([(0.2, 0.1), (0.1, 0.0)], 2),
        "levels must rise and flows may not fall",
    ),
    (
        |p| p.lifts[0].valve.characteristic = measured_valve(&[(0.0, 0.0)]),
        "a measured valve needs at least two points",
    ),
    (measured_everywhere, "there is no room left for these measured points"),
    (
        |p| p.lifts[0].valve.characteristic = measured_valve(&[(0.0, 0.5), (1.0, 0.2)]),
        "opening and share must both rise along the table",
    ),
    (
        |p| {
            p.tanks[1].outlets[1].law = Law::Standpipe {
                crest_m: 0.9,
                bore_m: 0.1,
            }
        },
        "the outlet lies above the tank's rim",
    ),
    (
        |p| p.tanks[1].outlets.clear(),
        "nothing leads out of it: it would run over",
    ),
    (
        |p| {
            p.tanks[1]
                .outlets
                .retain(|outlet| matches!(outlet.law, Law::Standpipe { .. }));
            p.tanks[1].limits.high_act_m = 0.75;
        },
        "its lifts would always be held",
    ),
    (
        |p| riser(p).outlet_m = 0.05,
        "the riser's outlet must stand above its air inlet",
    ),
    (|p| riser(p).injector_m = 0.9, "it would never be under water"),
    (
        |p| {
            riser(p).outlet_m = 0.9;
            p.tanks[1].floor_m = 1.5;
        },
        "the riser's outlet lies below the floor of the tank it feeds",
    ),
    (
        |p| p.tanks[1].outlets.iter_mut().for_each(|outlet| outlet.to = Drain::Away),
        "has no way back to the source: the source would run dry",
    ),
    (
        |p| p.tanks[1].floor_m = -2.0,
        "stands more than a metre above the rim of the tank it feeds",
    ),
    (
        |p| riser(p).outlet_m = 9.0,
        "no air can raise water this high from this depth",
    ),
    (
        |p| p.lifts[0].target = WaterFlow::from_l_min(900.0),
        "the target is more than this lift can move",
    ),
    (
        |p| p.settings.preset_opening = p.settings.least_opening,
        "this lift gets less air than its floor",
    ),
    (
        |p| p.lifts[0].air_floor = FreeAir::from_l_min(60.0),
        "the air floor is above the onset",
    ),
    (
        |p| p.lifts[0].air_floor = FreeAir::from_l_min(4000.0),
        "the air floor is past the peak",
    ),
    (
        |p| riser(p).outlet_m = 0.6,
        "water runs without air, and closing the valve does not stop it",
    ),
    (
        |p| p.air.curve.iter_mut().for_each(|point| point.pressure_pa *= 0.1),
        "the blower cannot press air this deep",
    ),
    (
        |p| {
            p.air.curve.truncate(2);
            p.air.curve[0].air_m3_s = 0.9 * p.air.curve[1].air_m3_s;
        },
        "hardly depends on its pressure",
    ),
    (
        |p| p.air.least_air_m3_s = 1.0,
        "all targets together take less air than the blower must pass",
    ),
    (
        |p| p.air.curve.iter_mut().for_each(|point| point.air_m3_s *= 0.05),
        "lifts of low priority will get less",
    ),
    (
        |p| {
            p.settings.preset_opening = 0.05;
            p.settings.least_opening = 0.01;
            p.lifts[0].air_floor = FreeAir::from_l_min(60.0);
        },
        "this lift gets less air than its floor: a wider preset",
    ),
    (narrow_outlet, "this tank runs over its rim"),
    (
        |p| {
            let _ = p.tanks[0].outlets.push(Outlet {
                to: Drain::Away,
                law: Law::Orifice {
                    centre_m: 0.06,
                    bore_m: 0.1,
                    discharge: 0.6,
                },
                coefficient: 1.0,
            });
        },
        "its source sinks to this lift's foot",
    ),
    (|p| p.lifts[0].riser.bore_m = 9.0, "riser.bore_m"),
];

fn scenario() -> Scenario {
    Scenario::by_name_or_path("shared_tank").unwrap_or_else(|report| panic!("{report}"))
}

/// Starts what cannot start, and tells a running controller what it cannot take.
pub fn provoke(all: &mut Said) {
    for (index, (change, says)) in CASES.iter().enumerate() {
        let mut told = scenario().told;
        change(&mut told);
        let faults = validate(&told);
        let said: String = faults.named().iter().map(|fault| format!("{fault}\n")).collect();
        all.take(&format!("installation {index}"), &said, &[says]);
    }
    reach(all);
    start(all);
    commands(all);
    fits(all);
    files(all);
}

fn fits(all: &mut Said) {
    let place = scenario();
    let lifts = NamedLift::all(&place.told, &place.lift_names);
    match fit(&lifts[0].measured(), &[], &Prior::default()) {
        Ok(_) => all.wrong.push("a fit to no point was made".to_owned()),
        Err(error) => all.take("a fit", &error.to_string(), &["measure the water at one air at least"]),
    }
}

fn files(all: &mut Said) {
    let (_, text) = Scenario::shipped()[0];
    for (text, lift, says) in [
        ("[place", "large", "the installation file is not TOML"),
        (text, "pond", "the installation file has no lift \"pond\""),
    ] {
        match with_lift_key(text, lift, "target_l_min", digits(5.0, 3)) {
            Ok(_) => all.wrong.push(format!("a file that \"{says}\" was written")),
            Err(error) => all.take("a file", &error.to_string(), &[says]),
        }
    }
    // A header of format 300, framed as it should be.
    let mut payload = vec![0, 0];
    payload.extend(risertrim::record::MAGIC);
    payload.extend([0xAC, 0x02, 9, 9, 9]);
    let mut room = [0; 64];
    let length = risertrim::frame::encode_bytes(&payload, &mut room).unwrap_or_default();
    if let Err(error) = LogReader::open(&room[..length]) {
        all.take(
            "a newer log",
            &error.to_string(),
            &["is of log format 300 (header at byte 0)"],
        );
    }
}

/// A target between what a full and a half-full source allow.
fn reach(all: &mut Said) {
    let mut said = String::new();
    for l_min in (180..900).step_by(5) {
        let mut told = scenario().told;
        told.tanks[0].limits.low_warn_m = 0.48;
        #[allow(clippy::cast_precision_loss)]
        let target = l_min as f32;
        told.lifts[0].target = WaterFlow::from_l_min(target);
        said.extend(validate(&told).named().iter().map(|fault| format!("{fault}\n")));
    }
    all.take(
        "a rising target",
        &said,
        &["out of reach when the source stands at the middle of its band"],
    );
}

fn start(all: &mut Said) {
    let mut no_lift = scenario();
    no_lift.told.lifts.clear();
    if let Err(error) = Simulation::new(&no_lift, 1) {
        all.take(
            "no lift",
            &error.to_string(),
            &["the controller cannot start with this installation:"],
        );
    }
    let mut simulation = Simulation::new(&scenario(), 1).unwrap_or_else(|error| panic!("{error}"));
    if let Err(error) = simulation.begin(Change::ShutLift { lift: 9, shut: true }, 0.0) {
        let says = ["the modelled installation cannot be:", "there is no lift number 9"];
        all.take("a lift that is not there", &error.to_string(), &says);
    }
    let spec = scenario().plant(1).unwrap_or_else(|error| panic!("{error}"));
    let mut cases = Vec::new();
    let mut narrow = spec.clone();
    narrow.lifts[0].riser.bore_m = 0.001;
    cases.push((narrow, "it must be from"));
    let mut nowhere = spec.clone();
    nowhere.lifts[0].to = 9;
    cases.push((nowhere, "there is no tank number 9 (counting from 0)"));
    let mut round = spec;
    round.lifts[0].to = round.lifts[0].from;
    cases.push((round, "leads back into the tank it leaves"));
    for (spec, says) in cases {
        match Plant::new(spec) {
            Ok(_) => all.wrong.push(format!("a plant that \"{says}\" was built")),
            Err(error) => all.take("a plant", &error.to_string(), &[says]),
        }
    }
}

fn commands(all: &mut Said) {
    let told = scenario().told;
    let mut controller = Controller::new(&told, &[]).unwrap_or_else(|faults| panic!("{:?}", faults.named()));
    let target = |l_min| Command::Target {
        lift: 0,
        flow: WaterFlow::from_l_min(l_min),
    };
    for (command, says) in [
        (Command::OutOfService { lift: 9 }, "there is no lift with this number"),
        (target(-5.0), "a target is a number of L/min from 0 to 20 000"),
        (target(9000.0), "this lift cannot move half of that target at any air"),
        (
            Command::Silence { minutes: 250 },
            "alarms can be silenced for at most 240 minutes at a time",
        ),
    ] {
        match controller.command(command) {
            Ok(()) => all.wrong.push(format!("{command:?} was taken")),
            Err(refused) => all.take(&format!("{command:?}"), &refused.to_string(), &[says]),
        }
    }
    let mut simulation = Simulation::new(&scenario(), 1).unwrap_or_else(|error| panic!("{error}"));
    if let Err(error) = simulation.command(Command::OutOfService { lift: 9 }) {
        all.take(
            "a command in a run",
            &error.to_string(),
            &["the controller failed: there is no lift"],
        );
    }
}
