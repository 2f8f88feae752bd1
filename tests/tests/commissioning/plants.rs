//! One plant drawn from a seed: all its lifts commissioned, and what was found compared with the truth.

use risertrim::commission::{Outcome, Phase, Refusal};
use risertrim::outlet::Drain;
use risertrim::{Command, Opening};
use risertrim_sim::plant;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;

/// Warm-up before the trials, s.
const BEGIN_S: f64 = 600.0;
/// Bound on all trials of a place, s.
const BOUND_S: f64 = 12.0 * 3600.0;
/// Time at each opening afterwards, s, of which the last minute counts.
const HOLD_S: f64 = 900.0;
const COUNTED_S: f64 = 60.0;

/// What is wrong with one result.
#[derive(Clone, Debug)]
pub struct Tried {
    pub lift: String,
    pub outcome: Outcome,
    /// Flow read through the outlet found, less the true one, %; none when it was refused.
    pub outlet_error: Option<f64>,
    /// Each opening held afterwards: share of the lift's true peak, and error of the curve, %.
    pub curve_errors: Vec<(f64, f64)>,
}

impl Tried {
    /// The largest error between 20 and 80 % of the peak, %.
    pub fn worst_curve_error(&self) -> Option<f64> {
        let within = self
            .curve_errors
            .iter()
            .filter(|(share, _)| (0.2..=0.8).contains(share));
        within
            .map(|(_, error)| *error)
            .max_by(|a, b| a.abs().total_cmp(&b.abs()))
    }
}

/// What a plant showed while it was commissioned.
#[derive(Clone, Debug)]
pub struct Shown {
    pub seed: u64,
    pub tried: Vec<Tried>,
    /// All trials together, s.
    pub took_s: f64,
    /// Time a lift got less air than its floor, s.
    pub short_of_air_s: f64,
    pub spilled_m3: f64,
    pub dry_s: f64,
}

pub fn scenario(name: &str) -> Scenario {
    Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"))
}

/// The commissioning trial without its timeline: the tests give the commands.
pub fn default_place() -> Scenario {
    let mut scenario = scenario("commission");
    scenario.timeline.clear();
    scenario
}

/// The same place with a narrow notch, a rectangular weir and a hole as outlets: heads that can be read.
pub fn other_outlets() -> Scenario {
    let (_, text) = Scenario::trials()
        .iter()
        .find(|(name, _)| name.ends_with("commission"))
        .unwrap();
    let mut text = (*text).to_owned();
    for (from, to) in [
        (
            "standpipe = { crest_mm = 632, bore_mm = 46.4 }",
            "v_notch = { crest_mm = 590, angle_deg = 40 }",
        ),
        (
            "v_notch = { crest_mm = 600, angle_deg = 90 }",
            "rectangular = { crest_mm = 600, width_mm = 60, channel_mm = 400 }",
        ),
        (
            "pipe = { end_mm = 450, bore_mm = 71.2, length_mm = 2000, minor_loss = 0.9 }",
            "orifice = { centre_mm = 600, bore_mm = 90 }",
        ),
    ] {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        text = text.replace(from, to);
    }
    let mut scenario = Scenario::parse("other_outlets.toml", &text).unwrap_or_else(|report| panic!("{report}"));
    scenario.timeline.clear();
    scenario
}

/// Steps until `done`, at most until `until_s`.
pub fn go_on(simulation: &mut Simulation, until_s: f64, mut done: impl FnMut(&Simulation) -> bool) -> bool {
    while simulation.time_s() < until_s {
        simulation.step().unwrap();
        if done(simulation) {
            return true;
        }
    }
    false
}

/// Runs until the trial that is under way, or begins, is in `phase`.
pub fn until_phase(simulation: &mut Simulation, phase: Phase) {
    let until_s = simulation.time_s() + 3.0 * 3600.0;
    let reached = go_on(simulation, until_s, |now| {
        now.control().trial().is_some_and(|trial| trial.phase() == phase)
    });
    assert!(reached, "{phase:?} was not reached");
}

/// Runs until a trial ends; its outcome.
pub fn outcome(simulation: &mut Simulation, within_s: f64) -> Outcome {
    let until_s = simulation.time_s() + within_s;
    let ended = go_on(simulation, until_s, |now| now.moment().commissioned.is_some());
    assert!(ended, "no outcome within {within_s} s");
    *simulation.moment().commissioned.unwrap()
}

/// Commissions every lift of the plant that `seed` draws. `before` may do something to the plant first.
pub fn commissioned(scenario: &Scenario, seed: u64, before: impl FnOnce(&mut Simulation)) -> (Simulation, Shown) {
    let mut simulation = Simulation::new(scenario, seed).unwrap();
    before(&mut simulation);
    let lifts = scenario.told.lifts.len();
    let mut shown = Shown {
        seed,
        tried: Vec::new(),
        took_s: 0.0,
        short_of_air_s: 0.0,
        spilled_m3: 0.0,
        dry_s: 0.0,
    };
    let mut begun = false;
    while shown.tried.len() < lifts && simulation.time_s() < BEGIN_S + BOUND_S {
        if !begun && simulation.time_s() >= BEGIN_S {
            begun = true;
            for lift in 0..lifts {
                let lift = u8::try_from(lift).unwrap();
                simulation.command(Command::Commission { lift }).unwrap();
            }
        }
        let moment = simulation.step().unwrap();
        let floors = scenario.told.lifts.iter().map(|lift| f64::from(lift.air_floor.m3_s));
        if moment
            .truth
            .lifts
            .iter()
            .zip(floors)
            .any(|(lift, floor)| lift.air_m3_s < floor)
        {
            shown.short_of_air_s += moment.period_s;
        }
        if let Some(found) = moment.commissioned {
            let outcome = *found;
            let index = usize::from(outcome.lift);
            shown.tried.push(Tried {
                lift: scenario.lift_names[index].clone(),
                outcome,
                outlet_error: outcome.outlet_law.is_ok().then(|| outlet_error(&simulation, &outcome)),
                curve_errors: Vec::new(),
            });
        }
    }
    assert_eq!(shown.tried.len(), lifts, "seed {seed}: not over after 12 hours");
    shown.took_s = simulation.time_s() - BEGIN_S;
    let truth = simulation.plant().state();
    shown.spilled_m3 = truth.tanks.iter().map(|tank| tank.spilled_m3).sum();
    shown.dry_s = truth.tanks.iter().map(|tank| tank.dry_s).sum();
    (simulation, shown)
}

/// Error of the flow that the controller reads through the outlet it found, %: at the true level where the outlet passes the
/// lift's target, or at the upper warning level when that is lower, as its sensor would show it.
pub fn outlet_error(simulation: &Simulation, outcome: &Outcome) -> f64 {
    let installed = simulation.control().installation().to_installation();
    let spec = simulation.plant().spec();
    let lift = &installed.lifts[usize::from(outcome.lift)];
    let (index, number) = (usize::from(lift.to), usize::from(outcome.outlet));
    let (tank, real) = (&installed.tanks[index], &spec.tanks[index]);
    let true_outlet = plant::Outlet::new(&real.outlets[number], &spec.place);
    let zero_m = |tank: usize| spec.tanks[tank].sensor.as_ref().map_or(0.0, |sensor| sensor.zero_m);
    let (below_m, below_zero_m) = match tank.outlets[number].to {
        Drain::Tank(below) => {
            let below = usize::from(below);
            let level_m = simulation.plant().state().tanks[below].level_m + spec.tanks[below].floor_m - real.floor_m;
            (level_m, zero_m(below) + f64::from(installed.tanks[below].sensor.zero_m))
        }
        Drain::Away => (f64::NEG_INFINITY, 0.0),
    };
    let target = f64::from(lift.target.m3_s);
    let (mut low, mut high) = (0.0, f64::from(tank.limits.high_warn_m));
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if true_outlet.flow_m3_s(middle, below_m) < target {
            low = middle;
        } else {
            high = middle;
        }
    }
    let truth = true_outlet.flow_m3_s(high, below_m);
    let read_m = high + zero_m(index) + f64::from(tank.sensor.zero_m);
    #[allow(clippy::cast_possible_truncation)]
    let read = tank.outlets[number].flow_m3_s(read_m as f32, Some((below_m + below_zero_m) as f32));
    100.0 * (f64::from(read) / truth - 1.0)
}

/// Holds each lift at several openings, one lift after the other, and compares its curve with the truth.
pub fn hold_at_openings(simulation: &mut Simulation, shown: &mut Shown) {
    for tried in &mut shown.tried {
        let lift = tried.outcome.lift;
        let index = usize::from(lift);
        let to = usize::from(simulation.scenario().told.lifts[index].to);
        let full_m = f64::from(simulation.scenario().told.tanks[to].limits.high_warn_m);
        for step in 0..15u8 {
            let opening = Opening::new(0.1 + 0.05 * f32::from(step));
            simulation.command(Command::Manual { lift, opening }).unwrap();
            if step == 0 {
                // From wherever it was trimmed to: its target may have stood above the warning level.
                let emptied_s = simulation.time_s() + HOLD_S;
                go_on(simulation, emptied_s, |_| false);
            }
            let from_s = simulation.time_s();
            let too_full = |now: &Simulation| now.plant().state().tanks[to].level_m > full_m;
            if go_on(simulation, from_s + HOLD_S - COUNTED_S, too_full) {
                break;
            }
            let (mut curve, mut truth) = (0.0, 0.0);
            while simulation.time_s() < from_s + HOLD_S {
                let moment = simulation.step().unwrap();
                let believed = &moment.step.lifts[index];
                curve += f64::from(believed.flow.m3_s) / f64::from(believed.delivery);
                truth += moment.truth.lifts[index].water_m3_s;
            }
            let seconds = COUNTED_S / simulation.period_s();
            let (riser, heads) = simulation.plant().riser(index).unwrap();
            let share = truth / seconds / riser.peak(heads).water_m3_s;
            tried.curve_errors.push((share, 100.0 * (curve / truth - 1.0)));
        }
        simulation.command(Command::Automatic { lift }).unwrap();
        let settled_s = simulation.time_s() + HOLD_S;
        go_on(simulation, settled_s, |_| false);
    }
}

/// All plants of these seeds, on two threads.
pub fn all(scenario: &Scenario, seeds: std::ops::RangeInclusive<u64>) -> Vec<Shown> {
    let one = |seed| {
        let (mut simulation, mut shown) = commissioned(scenario, seed, |_| ());
        hold_at_openings(&mut simulation, &mut shown);
        shown
    };
    let of_half = |odd: u64| -> Vec<Shown> { seeds.clone().filter(|seed| seed % 2 == odd).map(one).collect() };
    std::thread::scope(|threads| {
        let other = threads.spawn(|| of_half(1));
        let mut shown = of_half(0);
        shown.extend(other.join().unwrap());
        shown.sort_by_key(|shown| shown.seed);
        shown
    })
}

/// How many were accepted, and how many of those were right.
#[derive(Clone, Copy, Debug, Default)]
pub struct Count {
    pub accepted: u32,
    pub right: u32,
    pub refused: u32,
    pub unsure: u32,
}

impl Count {
    pub fn note(&mut self, refused: Option<Refusal>, right: bool) {
        match refused {
            None => {
                self.accepted += 1;
                self.right += u32::from(right);
            }
            Some(why) => {
                self.refused += 1;
                self.unsure += u32::from(why == Refusal::TooUnsure);
            }
        }
    }

    pub fn add(&mut self, other: Self) {
        self.accepted += other.accepted;
        self.right += other.right;
        self.refused += other.refused;
        self.unsure += other.unsure;
    }

    /// At least 95 of 100 accepted are right.
    pub fn is_mostly_right(&self) -> bool {
        self.accepted > 0 && 20 * (self.accepted - self.right) <= self.accepted
    }
}
