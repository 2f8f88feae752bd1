//! `risertrim replay`: what this version would have decided.

use super::decode::bad;
use super::failure::Failure;
use super::place::Place;
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim_sim::log::{LogReader, Replay, Start, open_log, replay_json, replay_text};
use std::path::PathBuf;

/// Entries between two reports of progress.
const PROGRESS_EVERY: u64 = 20_000;

/// Run the controller again over logged readings and show where it decides otherwise now
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim replay board.rtlog
  risertrim replay board.rtlog --installation recalibrated.toml
  risertrim replay board.rtlog --set trim_s=30 --set valve_deadband=0.005

Readings and commands are those of the log: it shows what would have been decided, not what would
have come of it; simulate shows that. Without --installation and --set, any difference comes from another
version of the controller, or from records that are missing; the report says which.
Needs readings of every step (log plans whole and usual).
Exit code: 0 done, 1 something failed, or --exact and not equal, 2 bad input.")]
pub struct Arguments {
    /// The log
    #[arg(value_name = "LOG")]
    log: PathBuf,
    /// Start from this installation or scenario, not from the one in the log
    #[arg(long, short, value_name = "FILE", conflicts_with = "set")]
    installation: Option<String>,
    /// Change a setting of the installation in the log, like trim_s=30
    #[arg(long, value_name = "NAME=VALUE")]
    set: Vec<String>,
    /// Fail unless every logged step can be compared and comes out the same, bit by bit
    #[arg(long)]
    exact: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let path = &arguments.log;
    let start = || -> Result<Start, Failure> {
        Ok(match &arguments.installation {
            Some(name) => Start::With(Box::new(Place::load(name)?.named.told)),
            None if arguments.set.is_empty() => Start::Logged,
            None => Start::Tuned(arguments.set.clone()),
        })
    };
    let length = path.metadata().map_or(0, |metadata| metadata.len());
    let mut reader = open_log(path)
        .and_then(LogReader::open)
        .map_err(|error| bad(path, &error))?;
    let mut replay = Replay::new(start()?);
    let mut progress = Progress::of("replaying", false);
    let mut count = 0u64;
    while let Some(entry) = reader.next() {
        let entry = entry.map_err(|error| bad(path, &error))?;
        replay
            .take(&entry)
            .map_err(|error| Failure::BadInput(error.to_string()))?;
        count += 1;
        if count.is_multiple_of(PROGRESS_EVERY) && length > 0 {
            #[allow(clippy::cast_precision_loss)]
            progress.show(reader.bytes() as f64 / length as f64);
        }
    }
    drop(progress);
    let (outcome, start) = replay.finish();
    if arguments.json {
        let json = serde_json::to_string_pretty(&replay_json(&outcome));
        print(&(json.map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"))?;
    } else {
        print(&replay_text(&outcome, &start))?;
    }
    if arguments.exact && !outcome.is_equal() {
        return Err(Failure::Internal(match outcome.uncompared_steps() {
            0 => "not exact: not every logged decision was made again".to_owned(),
            steps => format!("not exact: {steps} logged steps could not be compared (told above)"),
        }));
    }
    Ok(())
}
