//! `risertrim simulate`: a scenario from start to end.

use super::failure::Failure;
use super::kept_file::KeptFile;
use super::log_plan::LogPlan;
use super::numbers;
use super::outputs::{Kind, Outputs};
use super::print;
use super::progress::Progress;
use clap::Args;
use risertrim_sim::live::{Session, watch};
use risertrim_sim::log::LoggedController;
use risertrim_sim::output::{CsvRecorder, closing, json, tables, wrapped};
use risertrim_sim::report::ReportRecorder;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Moment, Recorder, Run, Simulation, Watch};
use std::fmt::Write;
use std::fs::File;
use std::io::{self, BufWriter, IsTerminal};
use std::path::{Path, PathBuf};

/// Scenario that runs when none is named.
const DEFAULT: &str = "default";

/// Run a scenario on modelled tanks, lifts and blower, and tell whether the job was done
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim simulate
  risertrim simulate my-farm.toml --hours 48 --seed 7 --csv out
  risertrim simulate --log day.rtlog
  risertrim simulate --html day.html
  risertrim simulate tight_blower --live
  risertrim simulate --json > day.json

Exit code: 0 the run came to its end, whether \"Job done\" or not (the words at its end say which),
1 something failed, 2 bad input (nothing is written then).")]
pub struct Arguments {
    /// A shipped scenario (see --list) or the path of a .toml file
    #[arg(value_name = "SCENARIO", default_value = DEFAULT)]
    scenario: String,
    /// Simulated hours instead of the scenario's own
    #[arg(long, value_name = "H", value_parser = numbers::hours, allow_negative_numbers = true)]
    hours: Option<f64>,
    /// Seed of the true place and of all noise, instead of the scenario's
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// Also write lifts.csv, tanks.csv, air.csv and alarms.csv into DIR
    #[arg(long, value_name = "DIR")]
    csv: Option<PathBuf>,
    /// Seconds between two rows of the CSV files
    #[arg(long, value_name = "S", default_value_t = 10.0, value_parser = numbers::seconds, allow_negative_numbers = true)]
    csv_every: f64,
    /// Also write FILE as a board would: for decode, replay and tune
    #[arg(long, value_name = "FILE")]
    log: Option<PathBuf>,
    /// How much of it: whole, usual, sparing or on-change
    #[arg(
        long,
        value_name = "PLAN",
        value_enum,
        default_value_t = LogPlan::Usual,
        requires = "log",
        hide_possible_values = true
    )]
    log_plan: LogPlan,
    /// Also write a page with charts for any browser; it needs no network
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Watch it run in the terminal; keys change targets, shut lifts, clog returns
    #[arg(long, conflicts_with_all = ["json", "csv", "html", "log", "quiet"])]
    live: bool,
    /// No tables and no progress bar: only whether the job was done
    #[arg(long, short)]
    quiet: bool,
    /// List the shipped scenarios and stop
    #[arg(long)]
    list: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    if arguments.list {
        return print(&list());
    }
    let scenario =
        Scenario::by_name_or_path(&arguments.scenario).map_err(|report| Failure::BadInput(report.to_string()))?;
    let run = Run::new(&scenario, arguments.hours, arguments.seed)?;
    Outputs::of([&arguments.scenario])
        .and("--log", arguments.log.as_deref(), Kind::Log)
        .and("--html", arguments.html.as_deref(), Kind::Page)
        .check()?;
    let logged = arguments
        .log
        .as_deref()
        .map(|path| logged(arguments, &scenario, path))
        .transpose()?;
    if !arguments.quiet {
        for warning in &scenario.warnings {
            eprintln!("note: {warning}");
        }
    }
    if arguments.live {
        return watch_live(&scenario, arguments);
    }
    let mut recorder = match &arguments.csv {
        Some(folder) => {
            let cannot = |error| Failure::BadInput(format!("cannot write CSV into {}: {error}", folder.display()));
            Some(CsvRecorder::create(folder, &scenario, arguments.csv_every).map_err(cannot)?)
        }
        None => None,
    };
    let mut page = arguments
        .html
        .as_ref()
        .map(|_| ReportRecorder::new(&scenario, arguments.hours.unwrap_or(scenario.hours)));
    // Before the run: a path that cannot be written must not cost a run.
    let kept = arguments.html.as_deref().map(KeptFile::create).transpose()?;
    let mut recorders = Recorders(Vec::new());
    recorders
        .0
        .extend(recorder.as_mut().map(|csv| csv as &mut dyn Recorder));
    recorders.0.extend(page.as_mut().map(|page| page as &mut dyn Recorder));
    let mut progress = Progress::new(arguments.quiet);
    let mut watch = Watch {
        progress: Some(&mut |share| progress.show(share)),
        recorder: Some(&mut recorders),
    };
    let outcome = match logged {
        None => run.finish(&mut watch)?,
        Some(logged) => {
            let (outcome, control) = logged.finish_with_control(&mut watch)?;
            let done = control.finish();
            done.map_err(|error| Failure::Internal(format!("the log cannot be written: {error}")))?;
            outcome
        }
    };
    drop(progress);
    if let Some(recorder) = recorder {
        recorder
            .finish(&outcome)
            .map_err(|error| Failure::Internal(format!("cannot write CSV: {error}")))?;
    }
    if let (Some(page), Some(kept)) = (page, kept) {
        let html = page.page(&outcome);
        let html = html.map_err(|error| Failure::Internal(format!("cannot make the page: {error}")))?;
        kept.put(&html)?;
    }
    let text = if arguments.json {
        json(&outcome).map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"
    } else if arguments.quiet {
        closing(&outcome).join("\n") + "\n"
    } else {
        tables(&outcome)
    };
    print(&text)
}

/// The same run with a log.
fn logged<'s>(
    arguments: &Arguments,
    scenario: &'s Scenario,
    path: &Path,
) -> Result<Run<'s, LoggedController<BufWriter<File>>>, Failure> {
    let cannot = |error| Failure::BadInput(format!("cannot write {}: {error}", path.display()));
    let out = BufWriter::new(File::create(path).map_err(cannot)?);
    let controller = LoggedController::new(Simulation::controller(scenario)?, arguments.log_plan.plan(), out);
    Ok(Run::driven_by(scenario, arguments.hours, arguments.seed, controller)?)
}

/// The run in the terminal, and what came of it once somebody quits.
fn watch_live(scenario: &Scenario, arguments: &Arguments) -> Result<(), Failure> {
    if !io::stdout().is_terminal() {
        return Err(Failure::BadInput(
            "--live needs a terminal; use --csv or --html to keep what happens".to_owned(),
        ));
    }
    let seed = arguments.seed.unwrap_or(scenario.seed);
    let mut session = Session::new(
        Simulation::new(scenario, seed)?,
        seed,
        arguments.hours.unwrap_or(scenario.hours),
    );
    watch(&mut session)?;
    print(&tables(&session.outcome()))
}

/// All that keep something of a run.
struct Recorders<'a>(Vec<&'a mut dyn Recorder>);

impl Recorder for Recorders<'_> {
    fn record(&mut self, moment: &Moment<'_>) -> io::Result<()> {
        self.0.iter_mut().try_for_each(|recorder| recorder.record(moment))
    }
}

/// The scenarios that come with the program: the name and the first sentence of the file.
fn list() -> String {
    let mut text = String::new();
    for (heading, scenarios) in [("Scenarios:", Scenario::shipped()), ("Trials:", Scenario::trials())] {
        let _ = writeln!(text, "{heading}");
        for (name, file) in scenarios {
            let about = file
                .lines()
                .map_while(|line| line.strip_prefix("# "))
                .collect::<Vec<_>>()
                .join(" ");
            let sentence = about
                .split_once(". ")
                .map_or(about.as_str(), |(first, _)| first)
                .trim_end_matches('.');
            text.push_str(&wrapped(&format!("  {name:<28} {sentence}."), 31));
        }
    }
    text
}
