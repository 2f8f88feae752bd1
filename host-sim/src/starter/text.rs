//! The commented file.

use super::design::{Design, FLOOR_MM, INJECTOR_MM, LEVEL_MM, LiftDesign, SUMP_MM};
use std::fmt::Write;

/// The design as a scenario file: what each key means stands beside its first use.
#[must_use]
pub fn scenario_text(design: &Design) -> String {
    let mut out = String::new();
    head(&mut out, design);
    sump(&mut out, design);
    for (index, lift) in design.lifts.iter().enumerate() {
        tank(&mut out, lift, index == 0);
    }
    // Fish first, then as they were named.
    let fish = design.lifts.iter().filter(|lift| lift.wish.fish).count();
    let (mut ranked, mut after) = (0, fish);
    for (index, lift) in design.lifts.iter().enumerate() {
        let rank = if lift.wish.fish { &mut ranked } else { &mut after };
        *rank += 1;
        one_lift(&mut out, lift, index, *rank);
    }
    day(&mut out, design);
    out
}

fn head(out: &mut String, design: &Design) {
    let wish = &design.wish;
    let [first, second, third] = design.blower;
    let _ = write!(
        out,
        "# A first draft of a place, made by `risertrim new`. Every measure here is a suggestion: put in your own.\n\
         # Units stand at the end of each key: lengths in mm, water and free air (100 kPa, 20 C) in L/min, pressures in kPa.\n\
         # Heights are above the floor of the tank they belong to; those of a lift above the floor of the tank it draws from.\n\
         # `risertrim check` tells what is wrong with it, `risertrim simulate` runs a day of it.\n\
         # Nothing here is safe because it runs on a screen: measure, and look at the tanks, before fish depend on it.\n\n\
         [place]\nname = \"{}\"\naltitude_m = {}                  # height above the sea\nwater_c = {}\n\n\
         [run]\nhours = 24\nseed = 1                        # another seed: another true place, other noise\n\
         control_period_s = 1\n\n\
         # The blower's curve as it holds at your altitude: pressure at each free-air flow.\n\
         [air]\nblower_l_min_kpa = [[{}, {}], [{}, {}], [{}, {}]]\nefficiency_percent = 35\n\n",
        wish.name, wish.altitude_m, wish.water_c, first.0, first.1, second.0, second.1, third.0, third.1
    );
}

fn sump(out: &mut String, design: &Design) {
    let _ = write!(
        out,
        "# The sump: everything flows back to it, every lift draws from it.\n\
         [[tank]]\nname = \"sump\"\narea_m2 = {}                   # water surface\n\
         floor_height_mm = 0             # above a level of your choice, the same for all tanks\n\
         rim_mm = 1300                   # here water runs over\n\
         start_mm = {SUMP_MM}                 # level at the start of a simulated day\n\
         high_warn_mm = 1180             # above: an alarm\n\
         high_act_mm = 1240              # above: the lifts that fill the tank are held at their air floor\n\
         low_warn_mm = 900               # below: an alarm\n\
         low_act_mm = 800                # below: the lifts that draw from it are held at their air floor\n\
         fish = false                    # fish live here: its lifts keep their air first\n\
         sensor = {{ noise_mm = 1, resolution_mm = 1 }}\n\n",
        design.sump_m2
    );
}

fn tank(out: &mut String, lift: &LiftDesign, first: bool) {
    let note = |text: &'static str| if first { text } else { "" };
    let _ = write!(
        out,
        "[[tank]]\nname = \"{name} tank\"\narea_m2 = {area}\nfloor_height_mm = {FLOOR_MM}\nrim_mm = {rim}\nstart_mm = {LEVEL_MM}\n\
         high_warn_mm = {warn}\nhigh_act_mm = {act}\nlow_warn_mm = {low_warn}\nlow_act_mm = {low_act}\nfish = {fish}\n{mass}\
         sensor = {{ noise_mm = 1, resolution_mm = 1 }}\noutlet = [\n{working}    \
         {{ to = \"sump\", v_notch = {{ crest_mm = {notch}, angle_deg = {angle} }} }},\n{overflow}    \
         {{ to = \"sump\", standpipe = {{ crest_mm = {over}, bore_mm = {over_bore} }} }},\n]\n\n",
        name = lift.wish.name,
        area = lift.area_m2,
        rim = lift.rim_mm,
        warn = lift.overflow_mm - 15.0,
        act = lift.overflow_mm + 20.0,
        low_warn = lift.notch_mm - 80.0,
        low_act = lift.notch_mm - 180.0,
        fish = lift.wish.fish,
        mass = if lift.wish.fish {
            format!(
                "fish_kg = {}                   # put in yours: alarms about air tell by it how long their oxygen lasts\n",
                lift.fish_kg
            )
        } else {
            String::new()
        },
        working = note(
            "    # The working outlet: its level tells the flow. Others: rectangular, orifice, standpipe, pipe, table_l_min_at_mm.\n"
        ),
        notch = lift.notch_mm,
        angle = lift.notch_deg,
        overflow = note("    # The overflow must carry what flows in with every valve open.\n"),
        over = lift.overflow_mm,
        over_bore = lift.overflow_bore_mm,
    );
}

fn one_lift(out: &mut String, lift: &LiftDesign, index: usize, priority: usize) {
    let note = |text: &'static str| if index == 0 { text } else { "" };
    let _ = write!(
        out,
        "[[lift]]\nname = \"{name}\"\nfrom = \"sump\"\nto = \"{name} tank\"\n\
         riser_bore_mm = {bore}            # pipe of {outside} mm outside\n\
         injector_mm = {INJECTOR_MM}{injector}\noutlet_mm = {outlet}{outlet_note}\n\
         target_l_min = {target}\nair_floor_l_min = {floor}{floor_note}\npriority = {priority}{priority_note}\n{valve_note}\
         valve = {{ sonic_conductance_dm3_s_bar = {conductance}, critical_ratio = 0.3, characteristic = \"equal percentage\", \
         rangeability = 30, stroke_s = 30, backlash_percent = 0.5 }}\n\
         air_line = {{ bore_mm = {line}, length_m = 5, minor_loss = 3 }}\n\
         diffuser = {{ opening_kpa = 0.3, loss_kpa = 0.5, at_l_min = {at} }}\n\n",
        name = lift.wish.name,
        bore = lift.bore_mm,
        outside = lift.outside_mm,
        injector = note("                # where the air enters"),
        outlet = lift.outlet_mm,
        outlet_note = note("               # where the water leaves the riser"),
        target = lift.wish.l_min,
        floor = lift.air_floor_l_min,
        floor_note = note(
            "           # air it keeps when held or stopped. A guess: risertrim aerate works it out from fish and feed"
        ),
        priority_note = note("                    # who gets air first when there is not enough"),
        valve_note = note(
            "# Conductance and critical ratio by ISO 6358, from the valve's data sheet; stroke_s: shut to open.\n"
        ),
        conductance = lift.conductance,
        line = lift.air_line_mm,
        at = (1.6 * lift.air_l_min).ceil(),
    );
}

fn day(out: &mut String, design: &Design) {
    out.push_str(
        "# How far the true place is off from what is told above, in the simulation only: spreads, drawn from the seed.\n\
         [truth]\nloss_percent = 30\nslip_percent = 30\ndistribution_percent = 5\nvalve_percent = 30\nair_line_percent = 30\n\
         blower_percent = 30\noutlet_percent = 2\narea_percent = 2\nlevel_noise_mm = 1\nlevel_resolution_mm = 1\n\n\
         # What happens over the day. at_h: hours after the start; every_day = true repeats it.\n",
    );
    if let Some(first) = design.lifts.first() {
        let (name, water) = (&first.wish.name, first.wish.l_min);
        let _ = write!(
            out,
            "[[target]]\nat_h = 7\nlift = \"{name}\"\nl_min = {:.1}\n\n[[target]]\nat_h = 19\nlift = \"{name}\"\nl_min = {water}\n\n",
            1.1 * water
        );
    }
    if let Some(last) = design.lifts.last() {
        let _ = write!(
            out,
            "[[event]]\nat_h = 2\nlift = \"{}\"\nfoul_percent = 15               # its mesh clogs: less water at the same air\n\
             over_h = 12\n\n",
            last.wish.name
        );
    }
    out.push_str(
        "[[event]]\nat_h = 0\ntank = \"sump\"\nevaporate_l_day = 15\n\n[[event]]\nat_h = 20\ntank = \"sump\"\ntop_up_l = 15\n\
         over_min = 10\n",
    );
}
