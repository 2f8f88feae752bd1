//! `risertrim new`: a first place of one's own.

use super::failure::Failure;
use super::place::write;
use super::print;
use clap::Args;
use risertrim_sim::output::wrapped;
use risertrim_sim::starter::{LiftWish, Wish, ask, design, scenario_text};
use std::io;
use std::path::PathBuf;

/// Write a first draft of your place, commented, from a few questions or from flags
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim new my-farm.toml
  risertrim new my-farm.toml --lift fry:50:fish --lift filter:120 --water-c 24

Without --lift it asks. The draft has one sump, a tank for each lift, pipes and a blower that suit;
check explains it, simulate runs a day of it. Every measure is a suggestion: put in your own.

Exit code: 0 done, 1 something failed, 2 bad input (nothing is written then).")]
pub struct Arguments {
    /// File to write
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// A lift, its water (20 to 800 L/min), and :fish where its tank holds fish
    #[arg(long = "lift", value_name = "NAME:L_MIN[:fish]")]
    lifts: Vec<LiftWish>,
    /// Name of the place
    #[arg(long, value_name = "NAME", default_value = "My place")]
    name: String,
    /// Temperature of the water (4 to 35)
    #[arg(long, value_name = "C", default_value_t = 22.0, allow_negative_numbers = true)]
    water_c: f64,
    /// Height above the sea (-100 to 3000)
    #[arg(long, value_name = "M", default_value_t = 0.0, allow_negative_numbers = true)]
    altitude_m: f64,
    /// Write over a file that is there
    #[arg(long)]
    overwrite: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let file = &arguments.file;
    if file.exists() && !arguments.overwrite {
        return Err(Failure::BadInput(format!(
            "{} is there already: name another file, or say --overwrite",
            file.display()
        )));
    }
    let wish = if arguments.lifts.is_empty() {
        let mut answers = io::stdin().lock();
        ask(&mut answers, &mut io::stderr())
            .map_err(|error| Failure::BadInput(format!("nothing was written: {error}")))?
    } else {
        Wish {
            name: arguments.name.clone(),
            water_c: arguments.water_c,
            altitude_m: arguments.altitude_m,
            lifts: arguments.lifts.clone(),
        }
    };
    let design = design(&wish).map_err(|error| Failure::BadInput(error.to_string()))?;
    write(file, &scenario_text(&design))?;
    let shown = file.display();
    let mut text = format!("{shown} is written.\n");
    for lift in &design.lifts {
        text.push_str(&wrapped(
            &format!(
                "  Lift {}: {} L/min through a pipe of {} mm outside ({} mm bore) with about {:.0} L/min of free air.",
                lift.wish.name, lift.wish.l_min, lift.outside_mm, lift.bore_mm, lift.air_l_min
            ),
            4,
        ));
    }
    text.push_str(&format!(
        "Next: risertrim check {shown}\n      risertrim simulate {shown} --html day.html\n"
    ));
    print(&text)
}
