//! `risertrim board`: the controller on a board, the water here.

mod look;
mod picture;
mod speak;
mod tell;
mod words;

use super::failure::Failure;
use super::kept_file::KeptFile;
use super::log_plan::LogPlan;
use super::numbers;
use super::outputs::{Kind, Outputs};
use super::place::Place;
use super::print;
use clap::Args;
use look::{events, watch};
use picture::Picture;
use risertrim::link::{Answer, Ask, Counts, Hello, Not, Running};
use risertrim_sim::board::{
    BesideCore, BoardControl, BoardError, Client, Emulator, LoggedBoard, Patience, Processor, RecordsFetch, Serial,
    Tcp, Wire, fetch_installation, send_installation,
};
use risertrim_sim::live::{self, Session};
use risertrim_sim::names::Names;
use risertrim_sim::output::{closing, json, tables};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{HostController, Outcome, Run, Score, SimulateError, Simulation};
use speak::{same_lifts, tell};
use std::fs::File;
use std::io::{self, BufWriter, IsTerminal};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use tell::Telling;
use words::describe;

/// How long a board may be silent altogether, s.
const SILENT_S: f64 = 20.0;
/// How long a socket may take to connect.
const CONNECT: Duration = Duration::from_secs(5);

/// Run a scenario with the controller on a board, emulated or real; send, read, watch
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim board --port /dev/ttyACM0 --send my-calibrated.toml
  risertrim board --port /dev/ttyACM0 -i my-farm.toml --tell \"target fry 55\" --tell seen

Without --port or --tcp the board is emulated: build its firmware first (scripts/firmware).
A scenario runs only on a board built in bench mode. CAUTION: it moves its valves by modelled
levels. Never connect one to valves that give air to fish.
Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// A shipped scenario or the path of a .toml file
    #[arg(value_name = "SCENARIO", default_value = "default")]
    scenario: String,
    /// A board on this serial port
    #[arg(long, value_name = "PORT", conflicts_with = "tcp")]
    port: Option<String>,
    /// Speed of the serial port, bits a second
    #[arg(long, value_name = "N", default_value_t = 115_200, requires = "port")]
    baud: u32,
    /// A board behind a socket
    #[arg(long, value_name = "HOST:PORT")]
    tcp: Option<String>,
    /// What to emulate: m4 (with a floating point unit) or m3
    #[arg(long, value_name = "P", default_value = "m4", value_parser = processor, conflicts_with_all = ["port", "tcp"])]
    processor: Processor,
    /// Firmware to emulate, instead of the one scripts/firmware built
    #[arg(long, value_name = "ELF", conflicts_with_all = ["port", "tcp"])]
    firmware: Option<PathBuf>,
    /// Send this installation: checked, kept, run without a bump
    #[arg(long, value_name = "INSTALLATION")]
    send: Option<String>,
    /// Print the installation that the board runs, as JSON
    #[arg(long)]
    read: bool,
    /// Print what happened on the board: starts, alarms, faults
    #[arg(long)]
    events: bool,
    /// Write FILE, the log that the board keeps: for decode, replay and tune
    #[arg(long, value_name = "FILE")]
    fetch_log: Option<PathBuf>,
    /// Tell it this, like "out fry", once or more; --tell help names all
    #[arg(long, value_name = "WORDS")]
    tell: Vec<Telling>,
    /// The place that it runs: names for --tell, --watch and --events
    #[arg(long, short, value_name = "FILE")]
    installation: Option<String>,
    /// Let it run again after a stop by resets (alarms: --tell seen)
    #[arg(long, alias = "acknowledge")]
    run_again: bool,
    /// Show what the board does, until Ctrl-C
    #[arg(long)]
    watch: bool,
    /// Watch the run in the terminal; keys change targets, shut lifts
    #[arg(long, conflicts_with_all = ["json", "quiet", "watch", "send", "read", "events", "fetch_log", "run_again", "tell"])]
    live: bool,
    /// Also write FILE, the log of the run: for decode, replay and tune
    #[arg(long, value_name = "FILE", conflicts_with_all = ["watch", "send", "read", "events", "fetch_log", "run_again", "tell"])]
    log: Option<PathBuf>,
    /// Who writes it: host, or board (as it was built to)
    #[arg(long, value_name = "WHO", value_enum, default_value_t = Writer::Host, requires = "log", hide_possible_values = true)]
    log_by: Writer,
    /// How much of it: whole, usual, sparing or on-change
    #[arg(
        long,
        value_name = "PLAN",
        value_enum,
        default_value_t = LogPlan::Usual,
        requires = "log",
        hide_possible_values = true,
        conflicts_with = "log_by"
    )]
    log_plan: LogPlan,
    /// Seconds to wait for an answer before asking again
    #[arg(long, value_name = "S", default_value_t = 1.0, value_parser = wait)]
    wait: f64,
    /// Simulated hours instead of the scenario's own
    #[arg(long, value_name = "H", value_parser = numbers::hours, allow_negative_numbers = true)]
    hours: Option<f64>,
    /// Seed of the true place and of all noise, instead of the scenario's
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// No live view and no tables: only whether the job was done
    #[arg(long, short)]
    quiet: bool,
}

/// Who writes the log of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Writer {
    Host,
    Board,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    if arguments.tell.iter().any(Telling::asks_for_help) {
        return print(&tell::help());
    }
    let place = arguments.send.as_deref().map(Place::load).transpose()?;
    let named = arguments.installation.as_deref().map(Place::load).transpose()?;
    let known = named.as_ref().or(place.as_ref());
    let names = known.map_or_else(Names::default, |place| Names {
        tanks: place.named.tank_names.clone(),
        lifts: place.named.lift_names.clone(),
    });
    let mut told = Vec::new();
    for telling in &arguments.tell {
        let (command, done) = telling.command(&names.lifts).map_err(Failure::BadInput)?;
        told.push((telling, command, done));
    }
    let scenario =
        Scenario::by_name_or_path(&arguments.scenario).map_err(|report| Failure::BadInput(report.to_string()))?;
    // Everything that input can get wrong is found before the board is spoken to.
    Run::new(&scenario, arguments.hours, arguments.seed)?;
    if arguments.live && !io::stdout().is_terminal() {
        return Err(Failure::BadInput(
            "--live needs a terminal; use --log to keep what happens".to_owned(),
        ));
    }
    let firmware = arguments.firmware.iter().map(PathBuf::as_path);
    let paths = arguments
        .send
        .iter()
        .chain(&arguments.installation)
        .chain([&arguments.scenario])
        .map(Path::new);
    Outputs::of(firmware.chain(paths))
        .and("--log", arguments.log.as_deref(), Kind::Log)
        .and("--fetch-log", arguments.fetch_log.as_deref(), Kind::Log)
        .check()?;
    let log = arguments.log.as_deref().map(KeptFile::create).transpose()?;
    let kept = arguments.fetch_log.as_deref().map(KeptFile::create).transpose()?;
    let (mut client, hello) = Client::connect(line(arguments)?, patience(arguments.wait))?;
    if !arguments.quiet {
        eprint!("{}", describe(&hello));
    }
    let only_asked = place.is_some()
        || arguments.read
        || arguments.events
        || arguments.run_again
        || arguments.fetch_log.is_some()
        || !told.is_empty();
    // A mended place first: a board that is stopped keeps it, and runs it once it is let run again.
    if let Some(place) = place {
        let mark = send_installation(&mut client, &hello, &place.named.told)?;
        let runs = if hello.running == Running::Stopped {
            "it is stopped, and will run it after --run-again"
        } else {
            "it runs it"
        };
        eprintln!("the board checked it and keeps it (mark {mark:08x}); {runs}");
    }
    if arguments.run_again {
        client.tell(Ask::Acknowledge)?;
        eprintln!("the board runs again");
    }
    let hello = client.greet()?;
    if let Some(named) = &named {
        same_lifts(&mut client, &hello, &named.named.told)?;
    }
    tell(&mut client, told)?;
    if arguments.read {
        let installation = fetch_installation(&mut client)?;
        let text = serde_json::to_string_pretty(&installation)
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?;
        print(&(text + "\n"))?;
    }
    if arguments.events {
        print(&events(&mut client, &names)?)?;
    }
    if let Some(kept) = kept {
        fetch_log(&mut client, kept)?;
    }
    if arguments.watch {
        return watch(&mut client, &names);
    }
    if only_asked {
        return Ok(());
    }
    drive(arguments, &scenario, client, &hello, log)
}

/// Fetches the log that the board keeps.
fn fetch_log(client: &mut Client<Box<dyn Wire>>, mut kept: KeptFile) -> Result<(), Failure> {
    let mut fetch = RecordsFetch::default();
    fetch.fetch(client, kept.out())?;
    kept.replace()?;
    eprintln!("{}", fetched(&fetch));
    Ok(())
}

fn fetched(fetch: &RecordsFetch) -> String {
    let mut text = format!("{} bytes of the board's own log", fetch.bytes);
    if fetch.lost > 0 {
        text += &format!(
            "; {} times it had written over what was to be fetched: those records are missing",
            fetch.lost
        );
    }
    text
}

fn line(arguments: &Arguments) -> Result<Box<dyn Wire>, Failure> {
    if let Some(port) = &arguments.port {
        let open = Serial::open(port, arguments.baud);
        let serial = open.map_err(|error| Failure::BadInput(format!("cannot open serial port {port}: {error}")))?;
        return Ok(Box::new(serial));
    }
    if let Some(address) = &arguments.tcp {
        let tcp = Tcp::connect(address, CONNECT);
        let tcp = tcp.map_err(|error| Failure::BadInput(format!("cannot connect to {address}: {error}")))?;
        return Ok(Box::new(tcp));
    }
    let firmware = arguments
        .firmware
        .clone()
        .unwrap_or_else(|| arguments.processor.firmware());
    Ok(Box::new(Emulator::start(arguments.processor, &firmware)?))
}

/// The control of a run: the board, the core on this machine beside it, the log if one is wanted.
type Driven = LoggedBoard<Box<dyn Wire>, BufWriter<File>>;

/// Runs the scenario on the board, with the core on this machine beside it.
fn drive(
    arguments: &Arguments,
    scenario: &Scenario,
    mut client: Client<Box<dyn Wire>>,
    hello: &Hello,
    log: Option<KeptFile>,
) -> Result<(), Failure> {
    if !hello.bench {
        return Err(BoardError::Not(Not::BenchMode).into());
    }
    if hello.fingerprint != risertrim::frame::fingerprint(&scenario.told) {
        send_installation(&mut client, hello, &scenario.told)?;
    }
    let core =
        HostController::new(&scenario.told, &[]).map_err(|faults| SimulateError::Installation(Box::new(faults)))?;
    let mut control = LoggedBoard::new(BesideCore::new(BoardControl::begin(client)?, core));
    if let Some(kept) = log {
        // From here on there is a run, and a log of a part of one is worth keeping.
        let out = BufWriter::new(kept.replace()?);
        match arguments.log_by {
            Writer::Host => control.log(arguments.log_plan.plan(), hello.reset, out),
            Writer::Board => control.fetch_log(out)?,
        }
    }
    let (outcome, mut control) = if arguments.live {
        run_live(arguments, scenario, control)?
    } else {
        run_through(arguments, scenario, control)?
    };
    let fetch = control.end_log()?;
    if let Some(fetch) = fetch {
        eprintln!("{}", fetched(&fetch));
    }
    let text = if arguments.json {
        json(&outcome).map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"
    } else if arguments.quiet {
        closing(&outcome).join("\n") + "\n"
    } else {
        tables(&outcome)
    };
    print(&text)?;
    let beside = control.beside_mut();
    if let Some(difference) = beside.difference() {
        return Err(Failure::Internal(difference.to_string()));
    }
    let compared = beside.compared();
    let client = beside.control_mut().client_mut();
    let here = client.counts();
    eprintln!("{compared} steps on the board, each the same bit by bit as the core's on this machine");
    eprintln!(
        "line: asked again {} times; arrived here {} damaged, {} late",
        here.asked_again, here.damaged, here.late
    );
    if let Answer::Counts(Counts {
        damaged,
        repeated,
        late,
        ..
    }) = client.ask(Ask::Counts)?
    {
        eprintln!("      arrived at the board {damaged} damaged, {repeated} repeated, {late} late");
    }
    Ok(())
}

fn run_through(arguments: &Arguments, scenario: &Scenario, control: Driven) -> Result<(Outcome, Driven), Failure> {
    let seed = arguments.seed.unwrap_or(scenario.seed);
    let mut simulation = Simulation::driven_by(scenario, seed, control)?;
    let mut score = Score::new(scenario);
    let mut picture = Picture::new(
        arguments.quiet,
        Names {
            tanks: scenario.tank_names.clone(),
            lifts: scenario.lift_names.clone(),
        },
    );
    let begin = Instant::now();
    let end_s = arguments.hours.unwrap_or(scenario.hours) * 3600.0;
    // A count of steps, as `simulate` makes it, so that both end at the same moment.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked above: at most ten years
    let steps = (end_s / simulation.period_s()).round().max(1.0) as u64;
    for _ in 0..steps {
        let moment = simulation.step()?;
        score.note(&moment);
        picture.show(moment.time_s, moment.step);
    }
    picture.end();
    let outcome = score.outcome(scenario, seed, begin.elapsed().as_secs_f64());
    Ok((outcome, simulation.into_control()))
}

/// The run in the terminal until somebody quits.
fn run_live(arguments: &Arguments, scenario: &Scenario, control: Driven) -> Result<(Outcome, Driven), Failure> {
    let seed = arguments.seed.unwrap_or(scenario.seed);
    let simulation = Simulation::driven_by(scenario, seed, control)?;
    let mut session = Session::new(simulation, seed, arguments.hours.unwrap_or(scenario.hours));
    live::watch(&mut session)?;
    Ok((session.outcome(), session.into_control()))
}

/// Asks again after `wait_s`, and gives up after the same time however long that is.
fn patience(wait_s: f64) -> Patience {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // at most 2 000
    let times = (SILENT_S / wait_s).ceil() as u32;
    Patience {
        wait: Duration::from_secs_f64(wait_s),
        times: times.max(3),
    }
}

fn wait(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(seconds) if (0.01..=60.0).contains(&seconds) => Ok(seconds),
        _ => Err("give a number of seconds from 0.01 to 60".to_owned()),
    }
}

fn processor(text: &str) -> Result<Processor, String> {
    match text {
        "m4" => Ok(Processor::M4),
        "m3" => Ok(Processor::M3),
        _ => Err("give m4 or m3".to_owned()),
    }
}

impl From<BoardError> for Failure {
    fn from(error: BoardError) -> Self {
        match error {
            BoardError::NoFirmware { .. } | BoardError::TooLarge { .. } => Self::BadInput(error.to_string()),
            _ => Self::Internal(error.to_string()),
        }
    }
}
