//! Fish without air, for whatever reason: somebody is called, at once.

use super::{run, shipped, stands};
use risertrim::alarm::Kind;
use risertrim::command::Command;
use risertrim::units::Opening;
use risertrim_sim::plant::Change;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;

const HOUR_S: f64 = 3600.0;

/// Two lifts fill the fish tank and cannot be told apart, for their air floor moves water; the crest of its outlet drowns when all water runs
/// back to the sump. A third lift fills the beds, a fourth draws from the fish.
const PAIR: &str = r#"
[place]
name = "Alder Bank"
altitude_m = 300
water_c = 24

[run]
hours = 24

[air]
blower_l_min_kpa = [[0, 25], [300, 14], [600, 0]]

[[tank]]
name = "sump"
area_m2 = 2.0
rim_mm = 1300
start_mm = 1050
high_warn_mm = 1180
high_act_mm = 1240
low_warn_mm = 900
low_act_mm = 800

[[tank]]
name = "fish"
area_m2 = 3.0
floor_height_mm = 300
rim_mm = 950
start_mm = 850
high_warn_mm = 890
high_act_mm = 920
low_warn_mm = 700
low_act_mm = 600
fish = true
fish_kg = 25
outlet = [{ to = "sump", standpipe = { crest_mm = 810, bore_mm = 103.6 } }]

[[tank]]
name = "beds"
area_m2 = 1.5
floor_height_mm = 500
rim_mm = 800
start_mm = 673
high_warn_mm = 720
high_act_mm = 750
low_warn_mm = 500
low_act_mm = 400
outlet = [
    { to = "sump", v_notch = { crest_mm = 600 } },
    { to = "sump", standpipe = { crest_mm = 735, bore_mm = 103.6 } },
]

[[lift]]
name = "left"
from = "sump"
to = "fish"
riser_bore_mm = 71.2
injector_mm = 50
outlet_mm = 1180
target_l_min = 90
air_floor_l_min = 5
priority = 1
valve = { bore_mm = 8, stroke_s = 20 }
air_line = { bore_mm = 19, length_m = 4 }
diffuser = { opening_kpa = 0.3, loss_kpa = 0.5, at_l_min = 60 }

[[lift]]
name = "right"
from = "sump"
to = "fish"
riser_bore_mm = 71.2
injector_mm = 50
outlet_mm = 1180
target_l_min = 90
air_floor_l_min = 5
priority = 1
valve = { bore_mm = 8, stroke_s = 20 }
air_line = { bore_mm = 19, length_m = 5 }
diffuser = { opening_kpa = 0.3, loss_kpa = 0.5, at_l_min = 60 }

[[lift]]
name = "beds"
from = "sump"
to = "beds"
riser_bore_mm = 71.2
injector_mm = 50
outlet_mm = 1190
target_l_min = 110
air_floor_l_min = 0
priority = 2
valve = { bore_mm = 8, stroke_s = 20 }
air_line = { bore_mm = 19, length_m = 6 }

[[lift]]
name = "skim"
from = "fish"
to = "beds"
riser_bore_mm = 46.4
injector_mm = 50
outlet_mm = 950
target_l_min = 30
air_floor_l_min = 3
priority = 1
valve = { bore_mm = 5, stroke_s = 20 }
air_line = { bore_mm = 13, length_m = 3 }

[truth]
loss_percent = 20
slip_percent = 20
valve_percent = 20
air_line_percent = 20
blower_percent = 10
outlet_percent = 2
area_percent = 2
"#;

fn pair(events: &str) -> Scenario {
    Scenario::parse("pair", &format!("{PAIR}{events}")).unwrap_or_else(|report| panic!("{report}"))
}

#[test]
fn a_blower_that_stops_is_said_also_where_lifts_were_never_told_apart_and_until_it_blows_again() {
    let stops = pair("\n[[event]]\nat_h = 3\nblower = \"stops\"\n");
    for seed in 1..=6 {
        let mut simulation = Simulation::new(&stops, seed).unwrap();
        run(&mut simulation, 3.0 * HOUR_S, |_| {});
        let (mut said_after_s, mut unsaid_s) = (None, 0.0);
        run(&mut simulation, 5.0 * HOUR_S, |moment| {
            if stands(moment, Kind::BlowerStopped) {
                said_after_s.get_or_insert(moment.time_s - 3.0 * HOUR_S);
            } else if said_after_s.is_some() {
                unsaid_s += moment.period_s;
            }
        });
        let said_after_s = said_after_s.unwrap_or(f64::INFINITY);
        assert!(said_after_s <= 300.0, "seed {seed}: after {said_after_s:.0} s");
        assert!(unsaid_s == 0.0, "seed {seed}: taken back for {unsaid_s:.0} s");
    }
}

#[test]
fn a_place_comes_back_from_half_an_hour_without_its_blower() {
    let back = pair("\n[[event]]\nat_h = 3\nblower = \"stops\"\n\n[[event]]\nat_h = 3.5\nblower = \"runs\"\n");
    for seed in 1..=6 {
        let mut simulation = Simulation::new(&back, seed).unwrap();
        run(&mut simulation, 5.0 * HOUR_S, |_| {});
        let moment = simulation.moment();
        // What the two give together is what the level shows; each by itself is not.
        let flows = &moment.truth.lifts;
        let fed_l_min = 60_000.0 * (flows[0].water_m3_s + flows[1].water_m3_s);
        assert!((fed_l_min - 180.0).abs() < 25.0, "seed {seed}: {fed_l_min:.0} L/min");
        let beds_l_min = 60_000.0 * flows[2].water_m3_s;
        assert!(beds_l_min > 90.0, "seed {seed}: {beds_l_min:.0} L/min to the beds");
    }
}

#[test]
fn fish_whose_lifts_are_all_shut_by_hand_are_told_of_while_another_lift_runs() {
    let shut = |lift: &str| format!("\n[[event]]\nat_h = 3\nlift = \"{lift}\"\nshut = true\nuntold = true\n");
    // Nothing drowns here: the sump lies lower.
    let events = format!("{}{}{}", shut("left"), shut("right"), shut("skim"));
    let place = format!("{PAIR}{events}").replace("floor_height_mm = 300", "floor_height_mm = 400");
    let place = place.replace("outlet_mm = 1180", "outlet_mm = 1290");
    let scenario = Scenario::parse("shut", &place).unwrap_or_else(|report| panic!("{report}"));
    for seed in 1..=3 {
        let mut simulation = Simulation::new(&scenario, seed).unwrap();
        let mut before = false;
        run(&mut simulation, 3.0 * HOUR_S, |moment| {
            before |= stands(moment, Kind::FishAirLost)
        });
        assert!(!before, "seed {seed}: said of sound lifts");
        let mut said = false;
        run(&mut simulation, 600.0, |moment| {
            said |= stands(moment, Kind::FishAirLost)
        });
        assert!(said, "seed {seed}");
    }
}

#[test]
fn fish_whose_lift_is_shut_by_an_order_or_held_without_air_by_a_level_are_told_of() {
    let by_hand: fn(&mut Simulation) = |simulation| {
        let opening = Opening::SHUT;
        simulation.command(Command::Manual { lift: 0, opening }).unwrap();
    };
    // A float valve that sticks: 5 L/min into the sump.
    let float_valve: fn(&mut Simulation) = |simulation| {
        let m3_s = 5.0 / 60_000.0;
        simulation.begin(Change::Inflow { tank: 0, m3_s }, 0.0).unwrap();
    };
    let ways = [(by_hand, 2.0), (float_valve, 8.0)];
    for (index, (begin, hours)) in ways.into_iter().enumerate() {
        let mut simulation = Simulation::new(&shipped("default"), 1).unwrap();
        run(&mut simulation, HOUR_S, |_| {});
        begin(&mut simulation);
        let (mut without_s, mut longest_s, mut unsaid_s) = (0.0f64, 0.0f64, 0.0f64);
        run(&mut simulation, hours * HOUR_S, |moment| {
            let none = moment.truth.lifts[0].air_m3_s < 1.0e-6;
            without_s = if none { without_s + moment.period_s } else { 0.0 };
            longest_s = longest_s.max(without_s);
            if without_s > 300.0 && !stands(moment, Kind::AirBelowFloor) {
                unsaid_s += moment.period_s;
            }
        });
        assert!(longest_s > 600.0, "{index}: the fish were to be without air");
        assert!(unsaid_s == 0.0, "{index}: not said for {unsaid_s:.0} s");
    }
}

#[test]
fn a_lift_that_gives_nothing_does_not_cost_the_others_what_they_learned() {
    let scenario = shipped("default");
    let mut simulation = Simulation::new(&scenario, 1).unwrap();
    // Not connected yet: nothing was ever learned of it but that it gives nothing.
    let shut = Change::ShutLift { lift: 0, shut: true };
    simulation.begin(shut, 0.0).unwrap();
    run(&mut simulation, 2.0 * HOUR_S, |_| {});
    let before = simulation.control();
    assert!(before.learned()[0].factor < 0.1, "{:?}", before.learned()[0]);
    let mut after = Simulation::controller(&scenario).unwrap();
    let installation = after.installation().to_installation();
    after.begin(&installation, &before.learned()).unwrap();
    for (lift, (before, after)) in before.learned().iter().zip(after.learned()).enumerate() {
        let off = (after.factor / before.factor - 1.0).abs();
        assert!(off < 1.0e-3, "lift {lift}: {} after {}", after.factor, before.factor);
    }
}
