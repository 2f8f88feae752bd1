//! `risertrim sweep`: a scenario on many true places.

use super::failure::Failure;
use super::numbers;
use super::outputs::{Kind, Outputs};
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::sweep::{FileError, Plan, Row, Shard, Sheet, SweepError, summarise, sweep, text};
use std::path::PathBuf;
use std::sync::Mutex;

/// Run a scenario on many true places: how figures spread, the worst seeds, what matters
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim sweep --seeds 100
  risertrim sweep my-farm.toml --out sweep.csv          (stopped, it goes on where it was)
  risertrim sweep --out part2.csv --shard 2/8           (one of eight machines)
  risertrim sweep --merge part1.csv --merge part2.csv --out all.csv

Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// A shipped scenario (see simulate --list) or the path of a .toml file
    #[arg(value_name = "SCENARIO", default_value = "default")]
    scenario: String,
    /// Seeds, one after the other: each is another true place within the scenario's spreads
    #[arg(long, value_name = "COUNT", default_value_t = 100, value_parser = clap::value_parser!(u64).range(1..=10_000_000))]
    seeds: u64,
    /// First seed
    #[arg(long, value_name = "N", default_value_t = 1)]
    first: u64,
    /// Simulated hours of each instead of the scenario's own
    #[arg(long, value_name = "H", value_parser = numbers::hours, allow_negative_numbers = true)]
    hours: Option<f64>,
    /// Keep a row for each seed in this CSV file; seeds that it holds are not run again
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write all rows as Parquet into FILE as well, at the end
    #[cfg(feature = "parquet")]
    #[arg(long, value_name = "FILE")]
    parquet: Option<PathBuf>,
    /// Only part I of N of the seeds
    #[arg(long, value_name = "I/N")]
    shard: Option<Shard>,
    /// Run nothing: put files of parts together; give it once for each
    #[arg(long, value_name = "FILE", conflicts_with_all = ["seeds", "first", "shard"])]
    merge: Vec<PathBuf>,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// No progress bar
    #[arg(long, short)]
    quiet: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let scenario =
        Scenario::by_name_or_path(&arguments.scenario).map_err(|report| Failure::BadInput(report.to_string()))?;
    let hours = arguments.hours.unwrap_or(scenario.hours);
    // Parts may be merged into one of them: it keeps all its rows.
    let outputs = Outputs::of([&arguments.scenario]);
    #[cfg(feature = "parquet")]
    let outputs = outputs.and("--parquet", arguments.parquet.as_deref(), Kind::Parquet);
    // Without parts it goes on with what is there, and says itself what does not suit.
    let columns = if arguments.merge.is_empty() {
        ""
    } else {
        Sheet::FIRST_COLUMN
    };
    outputs
        .and("--out", arguments.out.as_deref(), Kind::Table(columns))
        .check()?;
    let rows = if arguments.merge.is_empty() {
        swept(arguments, &scenario, hours)?
    } else {
        let sheet = Sheet::new(&scenario, hours);
        let rows = sheet.merge(&arguments.merge).map_err(file_failed)?;
        if let Some(path) = &arguments.out {
            sheet.write(path, &rows).map_err(file_failed)?;
        }
        rows
    };
    #[cfg(feature = "parquet")]
    if let Some(path) = &arguments.parquet {
        Sheet::new(&scenario, hours)
            .write_parquet(path, &rows)
            .map_err(file_failed)?;
    }
    let Some(summary) = summarise(&scenario, &rows) else {
        return print("No seed fell into this part: nothing to tell.\n");
    };
    print(&if arguments.json {
        serde_json::to_string_pretty(&summary)
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?
            + "\n"
    } else {
        text(&scenario, &arguments.scenario, hours, &summary)
    })
}

fn swept(arguments: &Arguments, scenario: &Scenario, hours: f64) -> Result<Vec<Row>, Failure> {
    let plan = Plan {
        hours,
        first: arguments.first,
        count: arguments.seeds,
        shard: arguments.shard,
    };
    let progress = Mutex::new(Progress::of("sweeping", arguments.quiet));
    let rows = sweep(scenario, plan, arguments.out.as_deref(), &|share| {
        if let Ok(mut progress) = progress.lock() {
            progress.show(share);
        }
    });
    rows.map_err(|error| match error {
        SweepError::File(error) => file_failed(error),
        SweepError::Run(error) => error.into(),
    })
}

#[allow(clippy::needless_pass_by_value)] // map_err hands it over
fn file_failed(error: FileError) -> Failure {
    Failure::BadInput(error.to_string())
}
