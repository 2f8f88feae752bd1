//! `risertrim bench`: figures beside general-purpose libraries.

use super::failure::Failure;
use super::print;
use clap::Args;
use risertrim_sim::bench::{estimator, plant, speed, text};
use risertrim_sim::scenario::Scenario;

/// Time plant and controller beside other libraries
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim bench
  risertrim bench default --seconds 20000 --json

Plant: the same model by scipy (LSODA; if python3 has scipy) and by the ode_solvers crate, each as
accurate as ours. Best possible: a Kalman filter's steady state by the discrete Riccati equation.
Times are of this machine, now; build with --release, or they mean little.
Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// Scenario whose controller is timed
    #[arg(value_name = "SCENARIO", default_value = "tight_blower")]
    scenario: String,
    /// Simulated seconds for each outlet of the estimate
    #[arg(long, value_name = "S", default_value_t = 400_000, value_parser = clap::value_parser!(u32).range(1000..=100_000_000))]
    seconds: u32,
    /// Simulated seconds of the plant with valves that move; sixty times as long with valves still
    #[arg(long, value_name = "S", default_value_t = 600, value_parser = clap::value_parser!(u32).range(10..=86_400))]
    plant_seconds: u32,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let named = |name: &str| Scenario::by_name_or_path(name).map_err(|report| Failure::BadInput(report.to_string()));
    let scenario = named(&arguments.scenario)?;
    let plant = plant(&named("default")?, arguments.plant_seconds)?;
    let times = speed(&scenario)?;
    let estimates = estimator(arguments.seconds);
    if arguments.json {
        let all = serde_json::json!({ "plant": plant, "speed": times, "estimator": estimates });
        return print(&format!("{all:#}\n"));
    }
    print(&text(&plant, &times, &estimates))
}
