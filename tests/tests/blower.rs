//! The blower as it is set: slowed until the most open valve is nearly open, a bank staged, a battery rationed.

use risertrim::Command;
use risertrim::air::{Backup, Drive};
use risertrim::alarm::Kind;
use risertrim::step::LiftState;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Moment, Simulation};

/// A day of the default place without its faults, and how its blower can be set.
fn place(drive: Drive) -> Scenario {
    shipped("default", drive)
}

fn shipped(name: &str, drive: Drive) -> Scenario {
    let mut scenario = Scenario::by_name_or_path(name).unwrap();
    scenario.timeline.clear();
    scenario.told.air.drive = drive;
    scenario
}

fn run(simulation: &mut Simulation, seconds: u32, mut look: impl FnMut(&Moment<'_>)) {
    for _ in 0..seconds {
        look(&simulation.step().unwrap());
    }
}

/// Mean power, W, and worst mean error of a lift over two hours, share of its target.
fn figures(simulation: &mut Simulation) -> (f64, f64) {
    let lifts = simulation.moment().jobs.lifts.len();
    let (mut power_w, mut water, mut target) = (0.0, vec![0.0; lifts], vec![0.0; lifts]);
    run(simulation, 7200, |moment| {
        power_w += moment.truth.power_w / 7200.0;
        for (index, (lift, job)) in moment.truth.lifts.iter().zip(&moment.jobs.lifts).enumerate() {
            water[index] += lift.water_m3_s;
            target[index] += job.target_m3_s;
        }
    });
    let off = water
        .iter()
        .zip(&target)
        .map(|(water, target)| (water / target - 1.0).abs());
    (power_w, off.fold(0.0, f64::max))
}

#[test]
fn a_blower_of_variable_speed_is_slowed_until_its_most_open_valve_is_nearly_open_and_takes_less_power() {
    let settled = |drive| {
        let mut simulation = Simulation::new(&place(drive), 1).unwrap();
        run(&mut simulation, 4 * 3600, |_| ());
        let figures = figures(&mut simulation);
        (simulation, figures)
    };
    let (_, (fixed_w, _)) = settled(Drive::Fixed);
    let (simulation, (slowed_w, off)) = settled(Drive::Speed { least: 0.3 });
    let moment = simulation.moment();
    let widest = moment
        .step
        .lifts
        .iter()
        .map(|lift| lift.position.share())
        .fold(0.0, f32::max);
    println!(
        "{fixed_w:.0} W at full speed, {slowed_w:.0} W at {:.0} %, widest valve {:.0} %, furthest from target {:.1} %",
        100.0 * moment.step.blower.speed,
        100.0 * widest,
        100.0 * off
    );
    assert!((0.85..0.95).contains(&widest), "{widest}");
    assert!(slowed_w < 0.8 * fixed_w, "{slowed_w} W, {fixed_w} W");
    assert!(off < 0.04, "{off}");
}

#[test]
fn a_slow_blower_keeps_its_least_air_and_speeds_up_when_more_is_asked_for() {
    let mut scenario = place(Drive::Speed { least: 0.3 });
    let mut simulation = Simulation::new(&scenario, 1).unwrap();
    run(&mut simulation, 4 * 3600, |_| ());
    let usual_m3_s = simulation.moment().step.blower.air.m3_s;
    scenario.told.air.least_air_m3_s = usual_m3_s;
    let mut simulation = Simulation::new(&scenario, 1).unwrap();
    let mut least = f32::MAX;
    run(&mut simulation, 3600, |_| ());
    run(&mut simulation, 3 * 3600, |moment| {
        least = least.min(moment.step.blower.air.m3_s)
    });
    assert!(least > 0.93 * usual_m3_s, "{least}, {usual_m3_s}");
    let before = simulation.moment().step.blower.speed;
    for (lift, told) in (0u8..).zip(&scenario.told.lifts) {
        let flow = risertrim::WaterFlow::from_m3_s(1.15 * told.target.m3_s);
        simulation.command(Command::Target { lift, flow }).unwrap();
    }
    run(&mut simulation, 3600, |_| ());
    assert!(simulation.moment().step.blower.speed > before);
}

#[test]
fn a_bank_starts_one_unit_after_another_runs_what_it_needs_and_never_hunts() {
    let drive = Drive::Relays {
        units: 4,
        start_gap_s: 20,
    };
    let mut simulation = Simulation::new(&place(drive), 1).unwrap();
    let (mut before, mut changes) = (0, Vec::new());
    run(&mut simulation, 6 * 3600, |moment| {
        let units = moment.step.blower.units;
        if units != before {
            changes.push((moment.time_s, units));
            before = units;
        }
    });
    println!("units at: {changes:?}");
    assert_eq!(changes[0].1, 1);
    let starts: Vec<f64> = changes
        .windows(2)
        .filter(|pair| pair[1].1 > pair[0].1)
        .map(|pair| pair[1].0)
        .collect();
    assert!(starts.windows(2).all(|pair| pair[1] - pair[0] >= 20.0));
    assert!(changes.len() <= 8, "{changes:?}");
    let (_, off) = figures(&mut simulation);
    assert!(off < 0.04, "{off}");
}

/// Four hours as usual, then the mains is gone: a battery that would last `share` of the three hours wanted as things run.
fn on_battery(name: &str, share: f64) -> (Simulation, Scenario) {
    let mut scenario = shipped(name, Drive::Speed { least: 0.3 });
    // A blower within a tenth of its sheet: its power is reckoned, not measured.
    scenario.truth.blower_percent = 10.0;
    for tank in scenario.told.tanks.iter_mut().filter(|tank| tank.fish) {
        tank.stock.fish_kg = 12.0;
    }
    let mut simulation = Simulation::new(&scenario, 1).unwrap();
    run(&mut simulation, 4 * 3600, |_| ());
    #[allow(clippy::cast_possible_truncation)]
    let energy_wh = (share * simulation.moment().truth.power_w * f64::from(WANTED_H)) as f32;
    let wanted_h = WANTED_H;
    scenario.told.air.backup = Some(Backup { energy_wh, wanted_h });
    let mut simulation = Simulation::new(&scenario, 1).unwrap();
    run(&mut simulation, 4 * 3600, |_| ());
    simulation.command(Command::OnBackup(true)).unwrap();
    (simulation, scenario)
}

const WANTED_H: f32 = 3.0;

/// Runs it until the battery is empty; when that is, h, and what `look` makes of each moment before.
fn until_empty(simulation: &mut Simulation, mut look: impl FnMut(u32, &Moment<'_>)) -> f64 {
    for second in 0..8 * 3600 {
        simulation.step().unwrap();
        if simulation.battery_wh() == Some(0.0) {
            return f64::from(second) / 3600.0;
        }
        look(second, &simulation.moment());
    }
    8.0
}

#[test]
fn a_battery_lasts_as_long_as_wanted_lifts_without_fish_go_first_and_fish_keep_their_air() {
    let (mut simulation, scenario) = on_battery("default", 0.67);
    let told = &scenario.told;
    let (mut without_air_s, mut said) = (0, false);
    let lasted_h = until_empty(&mut simulation, |second, moment| {
        said |= moment.step.alarms.iter().any(|alarm| alarm.kind == Kind::BackupEnding);
        for (lift, told_lift) in moment.truth.lifts.iter().zip(&told.lifts) {
            let short = lift.air_m3_s < 0.9 * f64::from(told_lift.air_floor.m3_s);
            without_air_s += u32::from(second > 120 && told.serves_fish(told_lift) && short);
        }
        if second == 600 {
            for (lift, told_lift) in moment.step.lifts.iter().zip(&told.lifts) {
                assert!(
                    told.serves_fish(told_lift) || lift.state == LiftState::EssentialAir,
                    "{:?}",
                    lift.state
                );
            }
        }
    });
    println!("wanted {WANTED_H} h, lasted {lasted_h:.2} h");
    assert!(lasted_h > f64::from(WANTED_H) && said);
    assert_eq!(without_air_s, 0);
    assert!(simulation.moment().step.backup_min.is_some());
}

#[test]
fn with_far_too_little_energy_floors_are_given_up_in_turn_and_no_tank_waits_longer_than_its_oxygen() {
    let (mut simulation, scenario) = on_battery("tight_blower", 0.02);
    let told = &scenario.told;
    let fish: Vec<usize> = (0..told.lifts.len())
        .filter(|lift| told.serves_fish(&told.lifts[*lift]))
        .collect();
    let mut waits_s = vec![0.0; fish.len()];
    let (mut longest, mut all_without_s) = (0.0_f64, 0.0);
    let lasted_h = until_empty(&mut simulation, |second, moment| {
        if second < 120 {
            return;
        }
        let mut any = false;
        for (index, wait) in fish.iter().zip(&mut waits_s) {
            let lift = &told.lifts[*index];
            let has_air = moment.truth.lifts[*index].air_m3_s > 0.5 * f64::from(lift.air_floor.m3_s);
            any |= has_air;
            *wait = if has_air { 0.0 } else { *wait + moment.period_s };
            let oxygen = moment.step.tanks[usize::from(lift.to)].oxygen_min.unwrap();
            longest = longest.max(*wait / 60.0 / f64::from(oxygen));
        }
        all_without_s += if any { 0.0 } else { moment.period_s };
    });
    println!(
        "lasted {lasted_h:.2} h, longest wait {:.0} % of the oxygen",
        100.0 * longest
    );
    assert_eq!(all_without_s, 0.0);
    assert!(longest > 0.0 && longest < 0.6, "{longest}");
}
