//! `risertrim faults`: every fault at every place, and whether what is promised holds.

use super::failure::Failure;
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim_sim::faults::{Fault, faults, run as run_matrix, text};
use risertrim_sim::scenario::Scenario;
use std::sync::Mutex;

/// Places of the short version.
const SHORT: [&str; 2] = ["one_lift", "shared_tank"];

/// Try every fault of sensors, valves, air, lines, power and people; tell what came of it
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim faults
  risertrim faults default my-farm.toml --only blower --only power
  risertrim faults --short --json > faults.json

Exit code: 0 every promise kept, 1 a promise not kept or something failed, 2 bad input.")]
pub struct Arguments {
    /// Shipped scenarios or paths of .toml files; without any, every shipped scenario
    #[arg(value_name = "SCENARIO")]
    scenarios: Vec<String>,
    /// Only faults whose name holds this; may be given several times
    #[arg(long, value_name = "PART")]
    only: Vec<String>,
    /// Only two small places
    #[arg(long, conflicts_with = "scenarios")]
    short: bool,
    /// Seed of the true places and of all noise, instead of the scenarios' own
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// No progress bar
    #[arg(long, short)]
    quiet: bool,
    /// List the faults, how long each lasts and how soon it must be named, and stop
    #[arg(long)]
    list: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let wanted = faults(&arguments.only);
    if wanted.is_empty() {
        return Err(Failure::BadInput(format!(
            "no fault's name holds \"{}\": --list shows all",
            arguments.only.join("\" or \"")
        )));
    }
    if arguments.list {
        return print(&list(&wanted));
    }
    let names: Vec<String> = if arguments.short {
        SHORT.iter().map(|name| (*name).to_owned()).collect()
    } else if arguments.scenarios.is_empty() {
        Scenario::shipped().iter().map(|(name, _)| (*name).to_owned()).collect()
    } else {
        arguments.scenarios.clone()
    };
    let mut places = Vec::new();
    for name in names {
        let scenario = Scenario::by_name_or_path(&name).map_err(|report| Failure::BadInput(report.to_string()))?;
        places.push((name, scenario));
    }
    let progress = Mutex::new(Progress::new(arguments.quiet));
    let matrix = run_matrix(&places, &wanted, arguments.seed, &|share| {
        if let Ok(mut progress) = progress.lock() {
            progress.show(share);
        }
    })?;
    drop(progress);
    print(&if arguments.json {
        serde_json::to_string_pretty(&matrix)
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?
            + "\n"
    } else {
        text(&matrix, &wanted)
    })?;
    if matrix.broken > 0 {
        return Err(Failure::Internal(format!("{} promises were not kept", matrix.broken)));
    }
    Ok(())
}

fn list(faults: &[Fault]) -> String {
    use risertrim_sim::output::duration;
    let mut text = String::new();
    for fault in faults {
        let named = fault.naming.within_s().map_or_else(
            || "nothing need be said".to_owned(),
            |s| format!("named within {}", duration(s)),
        );
        text.push_str(&format!(
            "{:<44} lasts {:>8}   {named}\n",
            fault.name,
            duration(fault.lasts_s)
        ));
    }
    text
}
