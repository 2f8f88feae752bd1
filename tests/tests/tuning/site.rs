//! A simulated place whose log is fitted, with the truth beside it.

use risertrim::lift::Curve;
use risertrim::outlet::Drain;
use risertrim::record::Plan;
use risertrim::{Command, FreeAir};
use risertrim_sim::log::LoggedController;
use risertrim_sim::plant::{Change, Outlet, PlantSpec};
use risertrim_sim::scenario::{Happening, HostInstallation, Scenario, Timed};
use risertrim_sim::simulate::{Moment, Recorder, Run, Simulation, Watch};
use std::io;

pub fn scenario(name: &str) -> Scenario {
    Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"))
}

/// What is true of a place over a log.
pub struct Truth {
    /// True flow of each outlet over its told law, at the true levels, by tank and outlet; `None` where it stayed dry.
    pub outlets: Vec<((usize, usize), Option<f64>)>,
    /// What each lift delivered in the last minute over its told curve at the air it was believed to get.
    pub deliveries: Vec<f64>,
    /// True water surface of each tank over the told, at its starting level.
    pub areas: Vec<f64>,
    /// Noise of each level sensor, m RMS.
    pub noises_m: Vec<f64>,
}

/// One outlet: tank and number, where it leads, itself, and the sums of its true and its told flow.
struct Way {
    name: (usize, usize),
    to: Option<usize>,
    outlet: Outlet,
    flow: f64,
    law: f64,
}

struct Looking<'a> {
    scenario: &'a Scenario,
    outlets: Vec<Way>,
    until_s: f64,
    lifts: Vec<(f64, f64)>,
}

impl<'a> Looking<'a> {
    fn new(scenario: &'a Scenario, spec: &PlantSpec, hours: f64) -> Self {
        let mut outlets = Vec::new();
        for (tank, of) in spec.tanks.iter().enumerate() {
            for (number, outlet) in of.outlets.iter().enumerate() {
                outlets.push(Way {
                    name: (tank, number),
                    to: outlet.to,
                    outlet: Outlet::new(outlet, &spec.place),
                    flow: 0.0,
                    law: 0.0,
                });
            }
        }
        Self {
            scenario,
            outlets,
            until_s: 3600.0 * hours,
            lifts: vec![(0.0, 0.0); spec.lifts.len()],
        }
    }
}

impl Recorder for Looking<'_> {
    fn record(&mut self, moment: &Moment<'_>) -> io::Result<()> {
        let told = &self.scenario.told;
        let level = |tank: usize| moment.truth.tanks[tank].level_m;
        for way in &mut self.outlets {
            let (tank, number) = way.name;
            let outlet = &told.tanks[tank].outlets[number];
            assert_eq!(way.to.is_none(), outlet.to == Drain::Away);
            let rise = |to: usize| f64::from(told.tanks[to].floor_m - told.tanks[tank].floor_m);
            let down = way.to.map(|to| level(to) + rise(to));
            let told_flow = outlet.flow_m3_s(level(tank) as f32, down.map(|down| down as f32));
            if told_flow > 0.0 {
                way.flow += way.outlet.flow_m3_s(level(tank), down.unwrap_or(f64::NEG_INFINITY));
                way.law += f64::from(told_flow);
            }
        }
        if moment.time_s > self.until_s - 60.0 {
            let conditions = told.site.conditions();
            for (index, (flow, curve)) in self.lifts.iter_mut().enumerate() {
                let lift = &told.lifts[index];
                let (from, to) = (usize::from(lift.from), usize::from(lift.to));
                let receiver = told.receiver_above_source_floor_m(lift, level(to) as f32);
                let of = Curve::new(
                    &lift.riser,
                    &lift.calibration,
                    &conditions,
                    level(from) as f32,
                    Some(receiver),
                );
                let air: FreeAir = moment.step.lifts[index].air;
                *flow += moment.truth.lifts[index].water_m3_s;
                *curve += f64::from(of.flow(air).m3_s);
            }
        }
        Ok(())
    }
}

/// The log of `hours` of a scenario, and the truth of it.
pub fn logged(scenario: &Scenario, seed: u64, hours: f64, plan: Plan) -> (Vec<u8>, Truth) {
    let spec = scenario.plant(seed).expect("a shipped scenario can be");
    let mut looking = Looking::new(scenario, &spec, hours);
    let controller = Simulation::controller(scenario).expect("a shipped scenario starts");
    let control = LoggedController::new(controller, plan, Vec::new());
    let run = Run::driven_by(scenario, Some(hours), Some(seed), control).expect("it starts");
    let mut watch = Watch {
        recorder: Some(&mut looking),
        ..Watch::default()
    };
    let (_, control) = run.finish_with_control(&mut watch).expect("it runs");
    let log = control.finish().expect("memory takes everything").0;
    let area = |tank: usize| {
        let start = spec.tanks[tank].start_m;
        let step = 0.001;
        let basin = risertrim_sim::plant::Basin::new(spec.tanks[tank].area.clone());
        let true_m2 = (basin.volume_m3(start + step) - basin.volume_m3(start - step)) / (2.0 * step);
        true_m2 / f64::from(scenario.told.tanks[tank].area_m2(start as f32))
    };
    let truth = Truth {
        outlets: looking
            .outlets
            .iter()
            .map(|way| (way.name, (way.law > 0.0).then(|| way.flow / way.law)))
            .collect(),
        deliveries: looking.lifts.iter().map(|(flow, curve)| flow / curve).collect(),
        areas: (0..spec.tanks.len()).map(area).collect(),
        noises_m: spec
            .tanks
            .iter()
            .map(|tank| tank.sensor.map_or(0.0, |sensor| sensor.noise_m))
            .collect(),
    };
    (log, truth)
}

/// Takes every lift out of service once, its hand valve shut, for so long: the small test that `tune` asks for. The first at two
/// hours, the next an hour later.
pub fn with_stops(scenario: Scenario, minutes: f64) -> Scenario {
    out_of_service(scenario, 1, minutes, true)
}

/// Lifts out of service one after the other, an hour apart, round after round, their hand valves shut or open.
pub fn out_of_service(mut scenario: Scenario, times: usize, minutes: f64, by_hand: bool) -> Scenario {
    for (turn, lift) in (0..times).flat_map(|_| 0..scenario.told.lifts.len()).enumerate() {
        let at_s = 3600.0 * (2.0 + turn as f64);
        let index = lift as u8;
        for (at_s, command, shut) in [
            (at_s, Command::OutOfService { lift: index }, true),
            (at_s + 60.0 * minutes, Command::Automatic { lift: index }, false),
        ] {
            scenario.timeline.push(Timed {
                at_s,
                repeats_daily: false,
                what: Happening::Both {
                    command,
                    change: Change::ShutLift {
                        lift,
                        shut: shut && by_hand,
                    },
                },
                line: 0,
            });
        }
    }
    scenario.timeline.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    scenario
}

/// RMS of delivered less target of each lift, % of its target, with the controller told `told` on the place that `seed` draws.
pub fn rms_percent(scenario: &Scenario, seed: u64, hours: f64, told: &HostInstallation) -> Vec<f64> {
    let mut spec = scenario.plant(seed).expect("it can be");
    // What a sensor gives does not depend on what its zero is told to be.
    for ((tank, now), before) in spec.tanks.iter_mut().zip(&told.tanks).zip(&scenario.told.tanks) {
        if let Some(sensor) = &mut tank.sensor {
            sensor.zero_m += f64::from(now.sensor.zero_m - before.sensor.zero_m);
        }
    }
    let mut scenario = scenario.on(spec);
    scenario.told = told.clone();
    let run = Run::new(&scenario, Some(hours), Some(seed)).expect("it starts");
    let outcome = run.finish(&mut Watch::default()).expect("it runs");
    let of = |lift: &risertrim_sim::simulate::LiftOutcome| lift.delivered_rms_error_percent.expect("it was counted");
    outcome.lifts.iter().map(of).collect()
}

/// Root of the mean of squares.
pub fn total(percent: &[f64]) -> f64 {
    (percent.iter().map(|one| one * one).sum::<f64>() / percent.len() as f64).sqrt()
}
