//! `risertrim check`: files of ours, checked and explained.

use super::failure::Failure;
use super::place::Place;
use super::print;
use clap::Args;
use risertrim_sim::check_file::{Sound, check_file};
use risertrim_sim::output::wrapped;
use std::path::PathBuf;

/// Check files and say in words what they are: places, scenarios, measured points, logs
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim check my-farm.toml
  risertrim check my-farm.toml filter.csv --installation my-farm.toml

A .toml file is a place or a scenario, a .csv file holds measured points as calibrate takes them,
a .rtlog file is a log of a board or a simulation (decode tells more of it).
Every file is checked, also when one before it is at fault.

Exit code: 0 every file is sound (warnings or not), 1 something failed, 2 a file is at fault.")]
pub struct Arguments {
    /// Files to check
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// The place that measured points belong to: a shipped scenario or a file
    #[arg(long, short, value_name = "FILE")]
    installation: Option<String>,
    /// Say only what is doubtful or wrong
    #[arg(long, short)]
    quiet: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let place = arguments.installation.as_deref().map(Place::load).transpose()?;
    let lifts = place.as_ref().map(Place::lifts);
    let mut faults = Vec::new();
    for path in &arguments.files {
        match check_file(path, lifts.as_deref()) {
            Ok(sound) => print(&text(&path.display().to_string(), &sound, arguments.quiet))?,
            Err(unsound) => {
                let (name, text) = (path.display().to_string(), unsound.to_string());
                faults.push(if text.starts_with(&name) {
                    text.trim_end().to_owned()
                } else {
                    format!("{name}: {}", text.trim_end())
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(Failure::BadInput(faults.join("\n\n")))
    }
}

fn text(name: &str, sound: &Sound, quiet: bool) -> String {
    let doubts = match sound.warnings.len() {
        0 => "sound".to_owned(),
        1 => "sound, 1 warning".to_owned(),
        count => format!("sound, {count} warnings"),
    };
    let mut out = format!("{name}: {}, {doubts}\n", sound.kind);
    if !quiet {
        for paragraph in &sound.words {
            out.push_str(&wrapped(&format!("  {paragraph}"), 4));
        }
    }
    for warning in &sound.warnings {
        out.push_str(&wrapped(&format!("  warning: {warning}"), 4));
    }
    out
}
