//! `risertrim tune`: from logs to a better installation.

use super::failure::Failure;
use super::outputs::{Kind, Outputs};
use super::place::{Place, write};
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim::frame::fingerprint;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::tune::{
    Allowed, Names, ReadError, decide, fit, propose, read_logs, report_json, report_text, written,
};
use std::path::{Path, PathBuf};

/// Find out from logs how a place truly is, and propose a better installation
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim tune board.rtlog
  risertrim tune monday.rtlog tuesday.rtlog --installation my-farm.toml --out tuned.toml

Give logs of one place; the plans whole and usual tell most, sparing tells less. The report says
what the logs tell of outlets, sensors, water surfaces and of what each lift delivers, with ranges
that hold the true value 19 times of 20, and which small test would tell what they cannot. Proposed
is only what surely brings a flow nearer, and settings that are too nervous or too slow. It is tried
on a model of the place as the logs show it; what makes a lift worse there is left out.
Try the new file with `risertrim simulate FILE` before it goes to the board.
Exit code: 0 done, 1 something failed, 2 bad input (nothing is written then).")]
pub struct Arguments {
    /// The logs, the earliest first
    #[arg(value_name = "LOG", required = true)]
    logs: Vec<PathBuf>,
    /// The installation or scenario file the logs are of; without it, the installation in the log
    #[arg(long, short, value_name = "FILE")]
    installation: Option<String>,
    /// Write the new installation to FILE (may be the same file); comments stay
    #[arg(long, short, value_name = "FILE", requires = "installation")]
    out: Option<PathBuf>,
    /// Write the report into a file too
    #[arg(long, value_name = "FILE")]
    report: Option<PathBuf>,
    /// Leave the settings as they are
    #[arg(long)]
    keep_settings: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let place = arguments.installation.as_deref().map(Place::load).transpose()?;
    let old = arguments.installation.as_deref().unwrap_or_default();
    Outputs::of(arguments.logs.iter().map(PathBuf::as_path).chain([Path::new(old)]))
        .anew("--out", arguments.out.as_deref(), Kind::Place, old)
        .and("--report", arguments.report.as_deref(), Kind::Text)
        .check()?;
    let mut progress = Progress::of("reading", false);
    let told = place.as_ref().map(|place| &place.named.told);
    let series = read_logs(&arguments.logs, told, |share| progress.show(share)).map_err(failed)?;
    drop(progress);
    let marks = (
        told.and_then(fingerprint),
        series.installation.as_ref().and_then(fingerprint),
    );
    if let (Some(file), (Some(told), Some(logged))) = (&arguments.installation, marks)
        && told != logged
    {
        eprintln!(
            "note: the log was written under another state of this place (mark {logged:08X}) than {file} tells (mark {told:08X}). Valves, \
             outlets and lifts are taken as the file tells them: if pipes, valves or weirs were changed since the log was written, give the \
             file as it was then."
        );
    }
    let Some(told) = told.or(series.installation.as_ref()) else {
        return Err(Failure::BadInput(
            "the log does not hold its installation: give its file by --installation".to_owned(),
        ));
    };
    let mut progress = Progress::of("fitting", false);
    let fitted = fit(told, &series, |share| progress.show(share)).map_err(failed)?;
    drop(progress);
    let names = place.as_ref().map_or_else(
        || Names::numbered(&fitted),
        |place| Names {
            tanks: place.named.tank_names.clone(),
            lifts: place.named.lift_names.clone(),
        },
    );
    let scenario = match (&place, &arguments.installation) {
        (Some(place), Some(name)) => {
            Some(Scenario::of_installation(name, &place.text).map_err(|report| Failure::BadInput(report.to_string()))?)
        }
        _ => None,
    };
    let decision = match &scenario {
        Some(scenario) => Some(decide(scenario, &fitted, !arguments.keep_settings)?),
        None => None,
    };
    let (proposal, tried, note) = match decision {
        Some(decision) => (decision.proposal, Some(decision.trial), decision.note),
        None => (
            propose(&fitted, &Allowed::all(&fitted, !arguments.keep_settings)),
            None,
            "",
        ),
    };
    let text = report_text(&fitted, &proposal, tried.as_ref(), &names) + note;
    let mut last = String::new();
    if let (Some(path), Some(place)) = (&arguments.out, &place) {
        let new = written(&place.text, &proposal).map_err(|error| Failure::BadInput(error.to_string()))?;
        Scenario::of_installation(&path.display().to_string(), &new)
            .map_err(|report| Failure::Internal(format!("what was found cannot be an installation:\n{report}")))?;
        write(path, &new)?;
        last = format!("\nWritten to {}.\n", path.display());
    }
    if let Some(path) = &arguments.report {
        write(path, &text)?;
    }
    if arguments.json {
        let json = serde_json::to_string_pretty(&report_json(&fitted, &proposal, tried.as_ref(), &names));
        return print(&(json.map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"));
    }
    print(&(text + &last))
}

#[allow(clippy::needless_pass_by_value)] // as map_err hands it over
fn failed(error: ReadError) -> Failure {
    Failure::BadInput(error.to_string())
}
