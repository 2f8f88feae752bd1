//! `risertrim bench`: figures beside general-purpose libraries.

use super::failure::Failure;
use super::print;
use clap::Args;
use risertrim_sim::bench::{estimator, speed};
use risertrim_sim::scenario::Scenario;
use std::fmt::Write;

/// Time a step beside other libraries; hold its estimate against the best possible
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim bench
  risertrim bench default --seconds 20000 --json

Times are of this machine, now; build with --release, or they mean little. The best possible is
the steady state of a Kalman filter by the discrete Riccati equation, on a plant told as it is.
Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// Scenario whose controller is timed
    #[arg(value_name = "SCENARIO", default_value = "tight_blower")]
    scenario: String,
    /// Simulated seconds for each outlet of the estimate
    #[arg(long, value_name = "S", default_value_t = 400_000, value_parser = clap::value_parser!(u32).range(1000..=100_000_000))]
    seconds: u32,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let scenario =
        Scenario::by_name_or_path(&arguments.scenario).map_err(|report| Failure::BadInput(report.to_string()))?;
    let times = speed(&scenario)?;
    let estimates = estimator(arguments.seconds);
    if arguments.json {
        let all = serde_json::json!({ "speed": times, "estimator": estimates });
        return print(&format!("{all:#}\n"));
    }
    let mut text = String::new();
    for row in &times {
        let _ = writeln!(text, "{:<58} {:>9.0} ns", row.what, row.step_ns);
    }
    let _ = writeln!(
        text,
        "\n{:<24} {:>10} {:>10} {:>8} {:>16}\n{:<24} {:>10} {:>10} {:>8} {:>16}",
        "flow read through",
        "best",
        "ours",
        "ours",
        "outlet 2 % off",
        "",
        "% of flow",
        "% of flow",
        "over it",
        "% of flow"
    );
    for row in &estimates {
        let _ = writeln!(
            text,
            "{:<24} {:>10.3} {:>10.3} {:>8.3} {:>16.3}",
            row.outlet,
            row.bound_percent,
            row.rms_percent,
            row.over_bound(),
            row.told_wrongly_percent
        );
    }
    print(&text)
}
