//! `risertrim soak`: years, calm days, hostile readings.

use super::failure::Failure;
use super::numbers;
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::soak::{calm, calm_text, hostile, hostile_text, years, years_text};
use serde::Serialize;
use std::sync::Mutex;

/// Days in a year.
const YEAR_DAYS: f64 = 365.0;

/// Run for years with seasons and cleanings, days without a fault, or hostile readings
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim soak --years 10
  risertrim soak --calm-days 30 --seeds 20
  risertrim soak --hostile 10000000

Exit code: 0 every promise kept, 1 a promise not kept or something failed, 2 bad input.")]
pub struct Arguments {
    /// Shipped scenarios or .toml files; without any: every shipped one, for years the default
    #[arg(value_name = "SCENARIO")]
    scenarios: Vec<String>,
    /// Years (0.01 to 30) with seasons, fouling and cleanings
    #[arg(long, value_name = "N", required_unless_present_any = ["calm_days", "hostile"], value_parser = numbers::years, allow_negative_numbers = true)]
    years: Option<f64>,
    /// Days (1 to 365) on which nothing is wrong: no alarm may come up
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=365))]
    calm_days: Option<u32>,
    /// Seeds of the true place for --calm-days, from 1 on
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u64).range(1..=1000))]
    seeds: u64,
    /// Steps with random readings, clocks and commands
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    hostile: Option<u64>,
    /// Seed for --years and --hostile
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Print JSON instead of text
    #[arg(long)]
    json: bool,
    /// No progress bar
    #[arg(long, short)]
    quiet: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let mut broken = 0;
    if let Some(wanted) = arguments.years {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most thirty years
        let days = (wanted * YEAR_DAYS).ceil() as u32;
        for (_, scenario) in places(arguments, true)? {
            let mut progress = Progress::new(arguments.quiet);
            let result = years(&scenario, days, arguments.seed, &mut |share| progress.show(share))?;
            drop(progress);
            broken += result.broken().len();
            tell(arguments, &result, years_text(&result))?;
        }
    }
    let progress = Mutex::new(Progress::new(arguments.quiet));
    let show = |share: f64| {
        if let Ok(mut progress) = progress.lock() {
            progress.show(share);
        }
    };
    if let Some(days) = arguments.calm_days {
        let result = calm(&places(arguments, false)?, f64::from(days), arguments.seeds, &show)?;
        broken += result.false_alarms.len();
        tell(arguments, &result, calm_text(&result))?;
    }
    if let Some(steps) = arguments.hostile {
        let result = hostile(&places(arguments, false)?, steps, arguments.seed.unwrap_or(1), &show);
        broken += result.faults.len();
        tell(arguments, &result, hostile_text(&result))?;
    }
    if broken > 0 {
        return Err(Failure::Internal(format!("{broken} promises were not kept")));
    }
    Ok(())
}

fn tell(arguments: &Arguments, result: &impl Serialize, text: String) -> Result<(), Failure> {
    print(&if arguments.json {
        serde_json::to_string_pretty(result)
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?
            + "\n"
    } else {
        text
    })
}

fn places(arguments: &Arguments, one: bool) -> Result<Vec<(String, Scenario)>, Failure> {
    let shipped = Scenario::shipped().iter().map(|(name, _)| (*name).to_owned());
    let names: Vec<String> = match (arguments.scenarios.is_empty(), one) {
        (false, _) => arguments.scenarios.clone(),
        (true, true) => shipped.take(1).collect(),
        (true, false) => shipped.collect(),
    };
    let mut places = Vec::new();
    for name in names {
        let scenario = Scenario::by_name_or_path(&name).map_err(|report| Failure::BadInput(report.to_string()))?;
        places.push((name, scenario));
    }
    Ok(places)
}
