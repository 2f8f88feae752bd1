//! Events of a lift.

use super::super::happening::{Happening, Names, lift_index};
use super::super::report::Kind;
use super::super::section::Section;
use super::super::units::{L_MIN, MM, PERCENT};
use crate::plant::Change;
use crate::precision::narrow;
use risertrim::{Command, Opening};

/// Keys that say what happens.
pub(super) const ACTIONS: [&str; 16] = [
    "shut",
    "foul_percent",
    "most_water_l_min",
    "clean",
    "valve_stuck",
    "valve_jams_at_percent",
    "valve_leak_percent",
    "valve_slow_times",
    "valve_reversed",
    "valve_backlash_times",
    "diffuser_loss_times",
    "air_line_loss_times",
    "air_line_off",
    "check_valve_leak_l_min",
    "manual_opening_percent",
    "commission",
];

/// The happening that the keys of a lift tell.
pub(super) fn read(section: &mut Section<'_>, names: &Names<'_>, over_s: f64) -> Option<Happening> {
    let shut = section.maybe_flag("shut");
    let untold = section.flag_or("untold", false);
    let foul = section.maybe_number("foul_percent", 0.0..=95.0);
    let most = section.maybe_number("most_water_l_min", 0.1..=20_000.0);
    let clean = section.maybe_flag("clean");
    let stuck = section.maybe_flag("valve_stuck");
    let leak = section.maybe_number("valve_leak_percent", 0.0..=100.0);
    let slow = section.maybe_number("valve_slow_times", 0.1..=1000.0);
    let diffuser = section.maybe_number("diffuser_loss_times", 0.0..=10_000.0);
    let line = section.maybe_number("air_line_loss_times", 0.0..=1.0e6);
    let jammed = section.maybe_number("valve_jams_at_percent", 0.0..=100.0);
    let reversed = section.maybe_flag("valve_reversed");
    let backlash = section.maybe_number("valve_backlash_times", 0.0..=20.0);
    let off = section.maybe_flag("air_line_off");
    let seep = section.maybe_number("check_valve_leak_l_min", 0.0..=1000.0);
    let loop_mm = section.maybe_number("air_loop_mm", 0.0..=20_000.0);
    let opening = section.maybe_number("manual_opening_percent", 0.0..=100.0);
    let automatic = section.maybe_flag("automatic");
    let commission = section.maybe_flag("commission");
    if !ACTIONS.iter().any(|action| section.has(action)) && !section.has("automatic") {
        return None;
    }
    let index = lift_index(section, names)?;
    let lift = usize::from(index);
    if loop_mm.is_some() && seep.is_none() {
        let message = "air_loop_mm means something only beside check_valve_leak_l_min";
        section.warning(Kind::Event, "air_loop_mm", message, None);
    }
    if untold && shut.is_none() {
        section.warning(Kind::Event, "untold", "untold means something only beside shut", None);
    }
    for (key, flag) in [("clean", clean), ("automatic", automatic), ("commission", commission)] {
        if flag == Some(false) {
            section.fault(Kind::Event, key, format!("{key} = false: nothing would happen"), None);
        }
    }
    let plant = |change| Some(Happening::Plant { change, over_s });
    if let Some(shut) = shut {
        let change = Change::ShutLift { lift, shut };
        let command = if shut {
            Command::OutOfService { lift: index }
        } else {
            Command::Automatic { lift: index }
        };
        return if untold {
            plant(change)
        } else {
            Some(Happening::Both { command, change })
        };
    }
    if let Some(percent) = foul {
        return plant(Change::FoulLift {
            lift,
            lost: percent * PERCENT,
        });
    }
    if let Some(l_min) = most {
        let most_m3_s = l_min * L_MIN;
        return plant(Change::LowerPeak { lift, most_m3_s });
    }
    if clean.is_some() {
        return plant(Change::CleanLift { lift });
    }
    if let Some(stuck) = stuck {
        return plant(Change::StickValve { lift, stuck });
    }
    if let Some(percent) = leak {
        return plant(Change::LeakValve {
            lift,
            share: percent * PERCENT,
        });
    }
    if let Some(times) = slow {
        return plant(Change::SlowValve { lift, times });
    }
    if let Some(times) = diffuser {
        return plant(Change::FoulDiffuser { lift, times });
    }
    if let Some(times) = line {
        return plant(Change::KinkLine { lift, times });
    }
    if let Some(percent) = jammed {
        let at = Some(percent * PERCENT);
        return plant(Change::JamValve { lift, at });
    }
    if let Some(reversed) = reversed {
        return plant(Change::ReverseValve { lift, reversed });
    }
    if let Some(times) = backlash {
        return plant(Change::WidenBacklash { lift, times });
    }
    if let Some(off) = off {
        return plant(Change::AirLineOff { lift, off });
    }
    if let Some(l_min) = seep {
        return plant(Change::LeakCheckValve {
            lift,
            m3_s: l_min * L_MIN,
            loop_m: loop_mm.unwrap_or(0.0) * MM,
        });
    }
    if let Some(percent) = opening {
        let opening = Opening::new(narrow(percent * PERCENT));
        return Some(Happening::Command(Command::Manual { lift: index, opening }));
    }
    if commission.is_some() {
        return Some(Happening::Command(Command::Commission { lift: index }));
    }
    Some(Happening::Command(Command::Automatic { lift: index }))
}
