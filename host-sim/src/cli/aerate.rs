//! `risertrim aerate`: the least air of every lift, by the oxygen its fish need.

use super::failure::Failure;
use super::outputs::{Kind, Outputs};
use super::place::{Place, write};
use super::print;
use clap::Args;
use risertrim_sim::output::wrapped;
use risertrim_sim::oxygen::{Stock, WHOLE_SYSTEM_KG_KG};
use risertrim_sim::scenario::{Scenario, digits, parse_installation, with_lift_key};
use risertrim_sim::size::{Fish, floors, floors_json, floors_text, several};
use std::path::PathBuf;

/// Litres a minute in one m3/s.
const L_MIN: f64 = 60_000.0;
/// A mass of fish so many times that of the file, or less than this part of it, is likely a slip.
const FAR_TIMES: f64 = 3.0;

/// Work out each lift's air floor from the oxygen the fish need; write it into the file
#[derive(Debug, Args)]
#[command(after_help = "\
Lifts that draw from or fill a tank with fish = true share the oxygen, each the same part of its usual air.
Fish can die within the hour without air: check with an oxygen meter, and keep a backup.
Examples:
  risertrim aerate my.toml --fish-kg 12 --feed-kg-day 0.2
  risertrim aerate my.toml --fish-kg 12 --feed-kg-day 0.2 --other-oxygen-g-h 2 --write my-fish.toml
Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// A shipped scenario, or the path of an installation
    #[arg(value_name = "INSTALLATION", default_value = "default")]
    installation: String,
    /// Fish that live on the lifts' air, all together (0 to 1000000)
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    fish_kg: f64,
    /// Their feed, all together (0 to 100000)
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    feed_kg_day: f64,
    /// Oxygen to be kept in the water (0 to 20)
    #[arg(long, value_name = "MG/L", default_value_t = 6.0, allow_negative_numbers = true)]
    oxygen_mg_l: f64,
    /// Oxygen that comes from elsewhere: air stones, falling water (0 to 1000000)
    #[arg(long, value_name = "G/H", default_value_t = 0.0, allow_negative_numbers = true)]
    other_oxygen_g_h: f64,
    /// Oxygen that fish and filter use for feed (0.1 to 2; 0.4 to 0.6: common practice)
    #[arg(long, value_name = "KG", default_value_t = WHOLE_SYSTEM_KG_KG, allow_negative_numbers = true)]
    oxygen_kg_per_kg_feed: f64,
    /// Write the installation anew with these air floors; all else stays. A floor is only ever raised
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// With --write: also write floors that are lower than before
    #[arg(long, requires = "write")]
    lower_floors: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// Does it. Nothing is written unless the new file is sound.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let name = &arguments.installation;
    let fish = Fish {
        stock: Stock {
            fish_kg: arguments.fish_kg,
            feed_kg_day: arguments.feed_kg_day,
            oxygen_kg_kg: arguments.oxygen_kg_per_kg_feed,
        },
        dissolved_mg_l: arguments.oxygen_mg_l,
        other_g_h: arguments.other_oxygen_g_h,
    };
    let refusals = fish.refusals();
    if !refusals.is_empty() {
        let said: Vec<String> = refusals.iter().map(ToString::to_string).collect();
        return Err(Failure::BadInput(said.join("\n")));
    }
    let place = Place::load(name)?;
    Outputs::of([name])
        .anew("--write", arguments.write.as_deref(), Kind::Place, name)
        .check()?;
    let found = floors(&place.named, &fish).map_err(|why| Failure::BadInput(format!("{name}: {why}")))?;
    let mut said = floors_text(&found);
    let mut notes: Vec<String> = other_mass(arguments.fish_kg, &place).into_iter().collect();
    let mut text = place.text.clone();
    for lift in &found.lifts {
        let (old, new) = (L_MIN * lift.old_m3_s, L_MIN * lift.floor_m3_s);
        // What is less only by its rounding is no lower floor.
        let lower = arguments.write.is_some() && new < old * (1.0 - 1e-6);
        if lower && !arguments.lower_floors {
            notes.push(format!(
                "lift {} keeps its air floor of {old:.1} L/min: {new:.1} is less, and less air is less safe for the fish; --lower-floors \
                 writes it all the same",
                lift.name
            ));
            continue;
        }
        if lower {
            notes.push(format!(
                "lift {}: its air floor goes down from {old:.1} to {new:.1} L/min",
                lift.name
            ));
        }
        text = with_lift_key(&text, &lift.name, "air_floor_l_min", digits(new, 3))
            .map_err(|why| Failure::BadInput(format!("{name}: {why}")))?;
    }
    notes.extend(held(name, &text));
    if let Some(path) = &arguments.write {
        let shown = path.display().to_string();
        if let Err(report) = parse_installation(&shown, &text) {
            return Err(Failure::BadInput(format!(
                "{said}\n{report}\nNothing was written: bring part of the oxygen by other means (--other-oxygen-g-h)."
            )));
        }
        write(path, &text)?;
        said.push_str(&format!("Written to {shown}\n"));
    }
    for note in &notes {
        if arguments.json {
            eprintln!("note: {note}");
        } else {
            said.push_str(&wrapped(&format!("WARNING: {note}."), 0));
        }
    }
    if arguments.json {
        let json = serde_json::to_string_pretty(&floors_json(&found))
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?;
        return print(&(json + "\n"));
    }
    print(&said)
}

/// Says when the mass of fish told here is far from what the file tells.
fn other_mass(fish_kg: f64, place: &Place) -> Option<String> {
    let fish = place.named.told.tanks.iter().filter(|tank| tank.fish);
    let of_file: f64 = fish.map(|tank| f64::from(tank.stock.fish_kg)).sum();
    let far = of_file > 0.0 && (fish_kg > FAR_TIMES * of_file || of_file > FAR_TIMES * fish_kg);
    far.then(|| {
        format!(
            "--fish-kg {fish_kg} is far from the {of_file} kg that the file tells of its tanks with fish: look which is right, these \
             floors are for {fish_kg} kg"
        )
    })
}

/// What is wrong with the floors of a place as the controller holds them.
fn held(name: &str, text: &str) -> Vec<String> {
    let scenario = Scenario::of_installation(name, text).ok();
    let duty = scenario.and_then(|scenario| several(&scenario).ok());
    duty.map(|duty| duty.floor_doubts).unwrap_or_default()
}
