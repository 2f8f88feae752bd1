//! `risertrim board`: the controller on a board, the water here.

use super::failure::Failure;
use super::place::Place;
use super::print;
use clap::Args;
use risertrim::link::{Answer, Ask, Event, Hello, LogEntry, ResetCause, Running};
use risertrim_sim::board::{
    BesideCore, BoardControl, BoardError, Client, Emulator, Patience, Processor, Serial, Tcp, Wire, fetch_installation,
    send_installation,
};
use risertrim_sim::output::{closing, json, lift_state, tables};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{HostController, HostStep, Run, Score, Simulation};
use std::fmt::Write as _;
use std::io::{self, IsTerminal, Write as _};
use std::path::PathBuf;
use std::thread;
use std::time::{Duration, Instant};

/// Time between two pictures of the live view.
const PICTURE: Duration = Duration::from_millis(250);
/// How long a socket may take to connect.
const CONNECT: Duration = Duration::from_secs(5);

/// Run a scenario with the controller on a board, emulated or real; send, read, watch
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim board                                  a day on an emulated Cortex-M4F
  risertrim board tight_blower --processor m3 --hours 2
  risertrim board --port /dev/ttyACM0 --send my-calibrated.toml
  risertrim board --port /dev/ttyACM0 --watch

Without --port or --tcp the board is emulated: build its firmware with scripts/firmware first (needs qemu-system-arm).
A scenario runs only on a board built in bench mode. CAUTION: such a board moves its valves by modelled levels. Never
connect one to valves that give air to fish.

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
    /// What to emulate: m4 (with floating point hardware) or m3 (without)
    #[arg(long, value_name = "P", default_value = "m4", value_parser = processor, conflicts_with_all = ["port", "tcp"])]
    processor: Processor,
    /// Firmware to emulate, instead of the one scripts/firmware built
    #[arg(long, value_name = "ELF", conflicts_with_all = ["port", "tcp"])]
    firmware: Option<PathBuf>,
    /// Send this installation: checked by the board, kept, and run without a bump
    #[arg(long, value_name = "INSTALLATION")]
    send: Option<String>,
    /// Print the installation that the board runs, as JSON
    #[arg(long)]
    read: bool,
    /// Print the board's log
    #[arg(long)]
    log: bool,
    /// Let a board run again that stopped after several resets
    #[arg(long)]
    acknowledge: bool,
    /// Show what the board does, until Ctrl-C
    #[arg(long)]
    watch: bool,
    /// Simulated hours instead of the scenario's own
    #[arg(long, value_name = "H")]
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

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let place = arguments.send.as_deref().map(Place::load).transpose()?;
    let scenario =
        Scenario::by_name_or_path(&arguments.scenario).map_err(|report| Failure::BadInput(report.to_string()))?;
    // Everything that input can get wrong is found before the board is spoken to.
    Run::new(&scenario, arguments.hours, arguments.seed)?;
    let (mut client, hello) = Client::connect(line(arguments)?, Patience::default())?;
    if !arguments.quiet {
        eprint!("{}", describe(&hello));
    }
    let only_asked = place.is_some() || arguments.read || arguments.log || arguments.acknowledge;
    if arguments.acknowledge {
        client.tell(Ask::Acknowledge)?;
        eprintln!("acknowledged");
    }
    if let Some(place) = place {
        let mark = send_installation(&mut client, &hello, &place.named.told)?;
        eprintln!("the board checked it, keeps it and runs it (mark {mark:08x})");
    }
    if arguments.read {
        let installation = fetch_installation(&mut client)?;
        let text = serde_json::to_string_pretty(&installation)
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?;
        print(&(text + "\n"))?;
    }
    if arguments.log {
        print(&log(&mut client)?)?;
    }
    if arguments.watch {
        return watch(&mut client, &hello);
    }
    if only_asked {
        return Ok(());
    }
    drive(arguments, &scenario, client, &hello)
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

/// Runs the scenario on the board, with the core on this machine beside it.
fn drive(
    arguments: &Arguments,
    scenario: &Scenario,
    mut client: Client<Box<dyn Wire>>,
    hello: &Hello,
) -> Result<(), Failure> {
    if !hello.bench {
        return Err(BoardError::Not(risertrim::link::Not::BenchMode).into());
    }
    if hello.fingerprint != risertrim::frame::fingerprint(&scenario.told) {
        send_installation(&mut client, hello, &scenario.told)?;
    }
    let core = HostController::new(&scenario.told, &[])
        .map_err(|faults| risertrim_sim::simulate::SimulateError::Installation(Box::new(faults)))?;
    let seed = arguments.seed.unwrap_or(scenario.seed);
    let control = BesideCore::new(BoardControl::begin(client)?, core);
    let mut simulation = Simulation::driven_by(scenario, seed, control)?;
    let mut score = Score::new(scenario);
    let mut view = Live::new(arguments.quiet, scenario.lift_names.clone());
    let begin = Instant::now();
    let end_s = arguments.hours.unwrap_or(scenario.hours) * 3600.0;
    // A count of steps, as `simulate` makes it, so that both end at the same moment.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked above: at most ten years
    let steps = (end_s / simulation.period_s()).round().max(1.0) as u64;
    for _ in 0..steps {
        let moment = simulation.step()?;
        score.note(&moment);
        view.show(moment.time_s, moment.step);
    }
    view.end();
    let outcome = score.outcome(scenario, seed, begin.elapsed().as_secs_f64());
    let text = if arguments.json {
        json(&outcome).map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"
    } else if arguments.quiet {
        closing(&outcome).join("\n") + "\n"
    } else {
        tables(&outcome)
    };
    print(&text)?;
    let beside = simulation.control_mut();
    if let Some(difference) = beside.difference() {
        return Err(Failure::Internal(difference.to_string()));
    }
    let counts = beside.control_mut().client_mut().counts();
    eprintln!(
        "{} steps on the board, each the same bit by bit as the core's on this machine; asked again {} times, {} damaged frames",
        beside.compared(),
        counts.asked_again,
        counts.damaged
    );
    Ok(())
}

fn watch(client: &mut Client<Box<dyn Wire>>, hello: &Hello) -> Result<(), Failure> {
    let names = (1..=hello.lifts).map(|number| format!("lift {number}")).collect();
    let mut view = Live::new(false, names);
    loop {
        match client.ask(Ask::LastStep) {
            Ok(Answer::Step(stepped)) => {
                let step = stepped.step;
                view.show(f64::from(step.now.0) * 1e-3, &step);
            }
            Ok(_) => return Err(BoardError::WrongAnswer.into()),
            Err(BoardError::Not(not)) => eprintln!("{not}"),
            Err(error) => return Err(error.into()),
        }
        thread::sleep(Duration::from_secs(1));
    }
}

/// One line a lift, drawn over itself on a terminal; nothing elsewhere.
struct Live {
    names: Vec<String>,
    wanted: bool,
    drawn: usize,
    last: Option<Instant>,
}

impl Live {
    fn new(quiet: bool, names: Vec<String>) -> Self {
        Self {
            names,
            wanted: !quiet && io::stderr().is_terminal(),
            drawn: 0,
            last: None,
        }
    }

    fn show(&mut self, time_s: f64, step: &HostStep) {
        if !self.wanted || self.last.is_some_and(|last| last.elapsed() < PICTURE) {
            return;
        }
        self.last = Some(Instant::now());
        let mut picture = self.back();
        let _ = writeln!(picture, "{}", risertrim_sim::output::clock(time_s));
        for (lift, name) in step.lifts.iter().zip(&self.names) {
            let _ = writeln!(
                picture,
                "{name:<12} {:6.1} of {:6.1} L/min  opening {:3.0} %  {}",
                lift.flow.l_min(),
                lift.target.l_min(),
                lift.command.share() * 100.0,
                lift_state(lift.state)
            );
        }
        self.drawn = step.lifts.len().min(self.names.len()) + 1;
        let _ = io::stderr().write_all(picture.as_bytes());
    }

    /// To the first line of the last picture, the rest of the screen cleared.
    fn back(&self) -> String {
        if self.drawn == 0 {
            String::new()
        } else {
            format!("\x1b[{}F\x1b[J", self.drawn)
        }
    }

    fn end(&mut self) {
        let _ = io::stderr().write_all(self.back().as_bytes());
        self.drawn = 0;
    }
}

fn describe(hello: &Hello) -> String {
    let mut text = format!("board for up to {} lifts and {} tanks", hello.lifts, hello.tanks);
    let _ = match hello.fingerprint {
        Some(mark) => write!(text, ", installation {mark:08x}"),
        None => write!(text, ", no installation"),
    };
    let _ = write!(text, "; {}; started {}", running(hello.running), cause(hello.reset));
    text.push('\n');
    if hello.bench {
        text.push_str("BENCH MODE: its levels come from here, and so do the openings of any valve connected to it.\n");
    }
    text
}

fn running(running: Running) -> &'static str {
    match running {
        Running::NoInstallation => "waits at fixed openings for an installation",
        Running::Trimming => "trims",
        Running::LinkLost => "at fixed openings: its host fell silent",
        Running::Stopped => "STOPPED at fixed openings after several resets: find out why, then --acknowledge",
    }
}

fn cause(cause: ResetCause) -> &'static str {
    match cause {
        ResetCause::PowerOn => "when power came",
        ResetCause::BrownOut => "after the supply dipped",
        ResetCause::Watchdog => "by its watchdog",
        ResetCause::Panic => "after a fault of its program",
        ResetCause::HardFault => "after a fault of its processor",
        ResetCause::Asked => "because it was asked to",
        ResetCause::Pin => "by its reset pin",
        ResetCause::Fault => "after a fault of its program or processor",
        ResetCause::Simulated => "in a simulation",
        ResetCause::Unknown => "for a reason it does not know",
    }
}

fn log(client: &mut Client<Box<dyn Wire>>) -> Result<String, Failure> {
    let mut text = String::new();
    let mut next = 0;
    loop {
        let Answer::Log { from, end, entries } = client.ask(Ask::Log { from: next })? else {
            return Err(BoardError::WrongAnswer.into());
        };
        for entry in &entries {
            let _ = writeln!(text, "{}", entry_text(entry));
        }
        next = from.wrapping_add(u32::try_from(entries.len()).unwrap_or(0));
        if entries.is_empty() || next == end {
            return Ok(text);
        }
    }
}

fn entry_text(entry: &LogEntry) -> String {
    let named = |name: &risertrim::alarm::Name| format!("{}: {}", numbered(name.subject), name.kind.text().what);
    let what = match &entry.event {
        Event::Started(why) => format!("started {}", cause(*why)),
        Event::Raised(name) => format!("ALARM {}", named(name)),
        Event::Cleared(name) => format!("over  {}", named(name)),
        Event::ValveFault { lift } => format!("the valve of lift {} cannot be driven", u16::from(*lift) + 1),
        Event::ValveDriven { lift } => format!("the valve of lift {} can be driven again", u16::from(*lift) + 1),
        Event::BlowerFault => "the blower cannot be set".to_owned(),
        Event::BlowerDriven => "the blower can be set again".to_owned(),
        Event::Refused(why) => format!("a command was refused: {why}"),
        Event::Stopped => "stopped after several resets: fixed openings until acknowledged".to_owned(),
        Event::Acknowledged => "the stop was acknowledged".to_owned(),
        Event::KeptRejected => "what was kept could not be used".to_owned(),
        Event::StoreFailed => "something could not be written to the store".to_owned(),
        Event::InstallationTaken { fingerprint } => format!("installation {fingerprint:08x} taken over"),
        Event::InstallationRefused { faults } => format!("an installation with {faults} faults was refused"),
        Event::InstallationTakenBack => "the new installation was taken back after a reset".to_owned(),
        Event::LinkLost => "the host fell silent: fixed openings".to_owned(),
        Event::LinkBack => "the host speaks again".to_owned(),
    };
    format!("{:>10.1} s  {what}", f64::from(entry.at.0) * 1e-3)
}

fn numbered(subject: risertrim::alarm::Subject) -> String {
    use risertrim::alarm::Subject;
    match subject {
        Subject::Place => "place".to_owned(),
        Subject::Tank(tank) => format!("tank {}", u16::from(tank) + 1),
        Subject::Lift(lift) => format!("lift {}", u16::from(lift) + 1),
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
