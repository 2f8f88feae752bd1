//! `risertrim compare`: the same days trimmed by hand, by plain PI controllers and by risertrim.

use super::failure::Failure;
use super::kept_file::KeptFile;
use super::numbers;
use super::outputs::{Kind, Outputs};
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim_sim::compare::{compare, page, text};
use risertrim_sim::scenario::Scenario;
use std::path::PathBuf;
use std::sync::Mutex;

/// Run the same days under hand trim, plain PI controllers and risertrim, side by side
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim compare
  risertrim compare my-farm.toml --seeds 10 --html compared.html
  risertrim compare one_lift --hours 336
  risertrim compare --json > compared.json

Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// A shipped scenario (see simulate --list) or the path of a .toml file
    #[arg(value_name = "SCENARIO", default_value = "default")]
    scenario: String,
    /// Simulated hours instead of the scenario's own; a week and more shows trimming every week
    #[arg(long, value_name = "H", value_parser = numbers::hours, allow_negative_numbers = true)]
    hours: Option<f64>,
    /// First seed of the true places and of all noise, instead of the scenario's
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Seeds, one after the other: each is another true place
    #[arg(long, value_name = "COUNT", default_value_t = 3, value_parser = clap::value_parser!(u16).range(1..=1000))]
    seeds: u16,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// Also write a page with charts for any browser; it needs no network
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// No progress bar
    #[arg(long, short)]
    quiet: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let scenario =
        Scenario::by_name_or_path(&arguments.scenario).map_err(|report| Failure::BadInput(report.to_string()))?;
    let hours = arguments.hours.unwrap_or(scenario.hours);
    Outputs::of([&arguments.scenario])
        .and("--html", arguments.html.as_deref(), Kind::Page)
        .check()?;
    // Before the runs: a path that cannot be written must not cost them.
    let kept = arguments.html.as_deref().map(KeptFile::create).transpose()?;
    let first = arguments.seed.unwrap_or(scenario.seed);
    let seeds: Vec<u64> = (0..u64::from(arguments.seeds))
        .map(|more| first.wrapping_add(more))
        .collect();
    let progress = Mutex::new(Progress::of("comparing", arguments.quiet));
    let comparison = compare(&scenario, hours, &seeds, &|share| {
        if let Ok(mut progress) = progress.lock() {
            progress.show(share);
        }
    })?;
    drop(progress);
    if let Some(kept) = kept {
        let html = page(&comparison, &scenario);
        kept.put(&html.map_err(|error| Failure::Internal(format!("cannot make the page: {error}")))?)?;
    }
    print(&if arguments.json {
        serde_json::to_string_pretty(&comparison)
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?
            + "\n"
    } else {
        text(&comparison)
    })
}
