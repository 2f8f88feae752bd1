//! What is promised when something breaks: nothing floods, nothing is drained, fish have air while there is air; the fault is
//! named in its time, and once it is over it is over.
//!
//! Two small places here; `risertrim faults` runs every shipped one.

use risertrim::alarm::Kind;
use risertrim_sim::faults::{Cell, Matrix, Naming, all, run};
use risertrim_sim::scenario::Scenario;
use std::sync::OnceLock;

/// What is not kept yet: place and fault. A cell that is not named here must keep every promise; the figures of those that are
/// are printed by `risertrim faults`.
const OPEN: &[(&str, &str)] = &[];

/// What is not even safe yet.
const UNSAFE: &[(&str, &str)] = &[];

/// Promises not kept at both places when this was written; no change may raise the number.
const MOST_BROKEN: usize = 0;

fn matrix() -> &'static Matrix {
    static MATRIX: OnceLock<Matrix> = OnceLock::new();
    MATRIX.get_or_init(|| {
        let places: Vec<(String, Scenario)> = ["one_lift", "shared_tank"]
            .iter()
            .map(|name| ((*name).to_owned(), Scenario::by_name_or_path(name).unwrap()))
            .collect();
        run(&places, &all(), None, &|_| {}).unwrap()
    })
}

fn is_open(cell: &Cell) -> bool {
    OPEN.contains(&(cell.scenario.as_str(), cell.fault))
}

fn none_of(cells: impl Iterator<Item = String>) {
    let found: Vec<String> = cells.collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn there_are_at_least_25_faults_and_each_is_tried_at_each_place_that_has_its_part() {
    let faults = all();
    assert!(faults.len() >= 25, "{}", faults.len());
    for place in ["one_lift", "shared_tank"] {
        let tried = matrix().cells.iter().filter(|cell| cell.scenario == place).count();
        // Three strike a manifold gauge or show only in one, and one place has none.
        assert!(tried >= 25 && tried + 3 >= faults.len(), "{place}: {tried}");
    }
}

#[test]
fn nothing_spills_runs_dry_or_lacks_air_that_a_setting_of_the_valves_could_have_prevented() {
    let known = |cell: &Cell| UNSAFE.contains(&(cell.scenario.as_str(), cell.fault));
    let unsafe_cells = matrix().cells.iter().filter(|cell| !cell.safe && !known(cell));
    none_of(unsafe_cells.map(|cell| format!("{}, {}: {:?}", cell.scenario, cell.fault, cell.broken)));
}

#[test]
fn every_fault_is_named_in_its_time_and_over_when_it_is_over_but_for_the_open_ones() {
    for cell in matrix().cells.iter().filter(|cell| !cell.broken.is_empty()) {
        println!("not kept: {}, {}: {:?}", cell.scenario, cell.fault, cell.broken);
    }
    for cell in matrix()
        .cells
        .iter()
        .filter(|cell| cell.broken.is_empty() && is_open(cell))
    {
        println!("kept by now, take it off the list: {}, {}", cell.scenario, cell.fault);
    }
    let count = matrix().broken;
    assert_eq!(count, MOST_BROKEN, "promises not kept");
    let broken = matrix()
        .cells
        .iter()
        .filter(|cell| !cell.broken.is_empty() && !is_open(cell));
    none_of(broken.map(|cell| format!("{}, {}: {:?}", cell.scenario, cell.fault, cell.broken)));
}

#[test]
fn the_bound_bites_a_tank_whose_outlets_are_both_shut_spills_under_a_controller_that_does_nothing() {
    // The harm that the matrix looks for is there to be found: with the valves left as they were, this fault floods.
    let scenario = Scenario::by_name_or_path("one_lift").unwrap();
    let mut still = scenario.clone();
    still.timeline.clear();
    let mut simulation = risertrim_sim::simulate::Simulation::new(&still, 1).unwrap();
    for _ in 0..3600 {
        simulation.step().unwrap();
    }
    for outlet in 0..2 {
        let change = risertrim_sim::plant::Change::ClogOutlet {
            tank: 1,
            outlet,
            left: 0.0,
        };
        simulation.begin(change, 300.0).unwrap();
    }
    let openings: Vec<f64> = simulation
        .moment()
        .truth
        .lifts
        .iter()
        .map(|lift| lift.opening)
        .collect();
    for _ in 0..3600 {
        simulation.step().unwrap();
        simulation.openings_mut().copy_from_slice(&openings);
    }
    assert!(simulation.moment().truth.tanks[1].spilled_m3 > 0.1);
}

#[test]
fn a_lift_whose_true_peak_sinks_below_its_target_steps_back_says_so_and_gives_nearly_all_it_can() {
    let mut scenario = Scenario::by_name_or_path("one_lift").unwrap();
    scenario.timeline.clear();
    let mut simulation = risertrim_sim::simulate::Simulation::new(&scenario, 1).unwrap();
    for _ in 0..3 * 3600 {
        simulation.step().unwrap();
    }
    let most_m3_s = 66.0 / 60_000.0;
    let change = risertrim_sim::plant::Change::LowerPeak { lift: 0, most_m3_s };
    simulation.begin(change, 3600.0).unwrap();
    let mut past_peak_s = 0;
    for second in 0..4 * 3600 {
        let moment = simulation.step().unwrap();
        past_peak_s += u32::from(second > 2 * 3600 && moment.truth.lifts[0].past_peak);
    }
    let moment = simulation.moment();
    let mut named = moment.step.alarms.iter().filter(|alarm| alarm.kind == Kind::PastPeak);
    assert!(named.next().is_some(), "{:?}", moment.step.alarms);
    assert_eq!(past_peak_s, 0);
    assert!(moment.truth.lifts[0].water_m3_s > 0.97 * most_m3_s);
}

/// Cells of places as these seeds make them, not as shipped.
fn cells_of(place: &str, faults: &[&str], seed: u64) -> Vec<Cell> {
    let scenario = Scenario::by_name_or_path(place).unwrap();
    let wanted = |name: &str| faults.iter().any(|part| name.contains(part));
    let faults: Vec<_> = all().into_iter().filter(|fault| wanted(fault.name)).collect();
    let matrix = run(&[(place.to_owned(), scenario)], &faults, Some(seed), &|_| {}).unwrap();
    assert!(!matrix.cells.is_empty());
    matrix.cells
}

#[test]
fn fish_keep_their_air_while_the_blower_is_weak_also_where_a_stop_would_prove_a_hint() {
    // Blowers and valves a third off what was told: below the onset such a valve passes less than the floor.
    for (place, seed) in [("one_lift", 4), ("one_lift", 8), ("tight_blower", 5)] {
        for cell in cells_of(place, &["blower sags", "blower surges"], seed) {
            assert!(cell.safe, "{place}, seed {seed}, {}: {:?}", cell.fault, cell.broken);
        }
    }
}

#[test]
fn a_lift_back_from_service_does_not_overshoot_for_what_its_riser_gives_while_it_fills() {
    let serviced = [
        "air line kinked",
        "riser fouls",
        "diffuser fouls",
        "most water",
        "leaks a fifth",
    ];
    for seed in [4, 6, 8] {
        for cell in cells_of("one_lift", &serviced, seed) {
            // As promised of every way back.
            let (bump, fault) = (cell.bump_percent, cell.fault);
            assert!(bump < 10.0, "seed {seed}, {fault}: a bump of {bump:.0} %");
        }
    }
}

#[test]
fn a_sound_valve_is_not_taken_for_one_that_does_not_follow_when_a_clogged_tank_is_free_again() {
    for seed in [4, 8] {
        for cell in cells_of("one_lift", &["return and overflow"], seed) {
            let back_s = cell.back_after_s.unwrap_or(f64::INFINITY);
            assert!(back_s <= 2400.0, "seed {seed}: back after {back_s:.0} s");
        }
    }
}

#[test]
fn a_fault_that_was_lived_with_for_hours_leaves_no_bump_when_it_is_put_right() {
    // A sensor that crept away from the truth, and a valve stuck open below a tank that stands high: what was learned meanwhile is
    // worth nothing.
    for seed in [1, 5, 9] {
        for cell in cells_of("default", &["sensor drifts", "valve jams open"], seed) {
            let (bump, fault) = (cell.bump_percent, cell.fault);
            let back_s = cell.back_after_s.unwrap_or(f64::INFINITY);
            assert!(bump < 10.0, "seed {seed}, {fault}: a bump of {bump:.0} %");
            assert!(back_s <= 1800.0, "seed {seed}, {fault}: back after {back_s:.0} s");
        }
    }
}

#[test]
fn a_valve_that_sticks_in_a_tank_of_several_lifts_is_named_and_leaves_the_others_their_water() {
    use risertrim::command::Command;
    use risertrim::units::WaterFlow;
    let mut scenario = Scenario::by_name_or_path("shared_tank").unwrap();
    scenario.timeline.clear();
    for seed in [4, 6, 8] {
        let mut simulation = risertrim_sim::simulate::Simulation::new(&scenario, seed).unwrap();
        for _ in 0..4 * 3600 {
            simulation.step().unwrap();
        }
        let sticks = risertrim_sim::plant::Change::StickValve { lift: 0, stuck: true };
        simulation.begin(sticks, 0.0).unwrap();
        let flow = WaterFlow::from_l_min(207.0);
        simulation.command(Command::Target { lift: 0, flow }).unwrap();
        let (mut named, mut least_m3_s) = (false, f64::INFINITY);
        for _ in 0..3 * 3600 {
            let moment = simulation.step().unwrap();
            named |= moment
                .step
                .alarms
                .iter()
                .any(|alarm| alarm.kind == Kind::ValveNotFollowing);
            least_m3_s = least_m3_s.min(moment.truth.lifts[1].water_m3_s);
        }
        let target_m3_s = 85.0 / 60_000.0;
        assert!(named, "seed {seed}");
        let percent = 100.0 * least_m3_s / target_m3_s;
        assert!(percent > 70.0, "seed {seed}: {percent:.0} % of its target at least");
    }
}

#[test]
fn lifts_that_stood_for_want_of_air_are_known_to_run_soon_after_it_is_back() {
    for seed in [1, 2] {
        for cell in cells_of("tight_blower", &["intake blocked"], seed) {
            let back_s = cell.back_after_s.unwrap_or(f64::INFINITY);
            assert!(back_s <= 1800.0, "seed {seed}: back after {back_s:.0} s");
        }
    }
}

#[test]
fn every_kind_of_alarm_that_may_name_a_fault_exists() {
    for fault in all() {
        for kind in fault.naming.kinds() {
            assert!(
                Kind::ALL.iter().any(|known| known.name() == *kind),
                "{}: {kind}",
                fault.name
            );
        }
    }
}

#[test]
fn what_is_left_unnamed_as_too_small_belongs_to_a_group_and_leaves_its_lifts_on_target_when_nobody_does_anything() {
    let mut unnamed = 0;
    for cell in &matrix().cells {
        let Some(off_percent) = cell.left_alone_percent else {
            continue;
        };
        assert!(cell.named_after_s.is_none() && cell.could_also_be.is_some(), "{cell:?}");
        // Within 4 % of target is on target, as for the way back.
        if off_percent < 4.0 {
            unnamed += 1;
            let told = cell.exceptions.iter().any(|text| text.contains("what would tell"));
            assert!(told && cell.broken.is_empty(), "{cell:?}");
        } else {
            assert!(!cell.broken.is_empty(), "{cell:?}");
        }
    }
    assert!(unnamed <= 1, "{unnamed} faults too small to be named");
}

#[test]
fn what_cannot_be_told_apart_says_what_would_tell() {
    for fault in all() {
        match fault.naming {
            Naming::Group {
                members,
                reading,
                kinds,
                ..
            } => {
                assert!(
                    !kinds.is_empty() && members.contains(',') && reading.len() > 10,
                    "{}",
                    fault.name
                );
            }
            Naming::Silent { why } => assert!(why.split_whitespace().count() > 5, "{}", fault.name),
            Naming::By { kinds, .. } => assert!(!kinds.is_empty(), "{}", fault.name),
        }
    }
}
