//! Resets brought about on an emulated Cortex-M4F: what is told of them, what outlives them, and that outputs are safe first.

use risertrim::ResetCause;
use risertrim::controller::Learned;
use risertrim::link::{Answer, Ask, Event, Hello, Not, Running};
use risertrim_sim::board::{
    BoardError, Client, Emulator, HostAsk, Patience, Processor, RecordsFetch, fetch_installation, send_installation,
};
use risertrim_sim::log::{LogReader, Replay, Start};
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Control, ControlFailed, HostController, HostReadings, HostStep, Simulation};
use risertrim_tests::emulated::{assert_start_in_order, board, starts};
use std::time::{Duration, Instant};

/// Time after which what was learned is saved, ms; the application's own.
const SAVE_EVERY_MS: u32 = 600_000;
/// Most time that a reset may take, by the clock on the wall.
const RESET: Duration = Duration::from_secs(60);

/// A board that is reset now and then, with the core on this machine beside it: every step must be the same bit by bit, and after
/// a reset the same as that of a core that starts from what was saved last.
struct ResetBoard {
    client: Client<Emulator>,
    core: HostController,
    since_save_ms: u32,
    saved: Vec<Learned>,
    /// What people had asked for when it was saved last.
    asked: Vec<risertrim::Command>,
    /// Something must be saved at the next step's end, not only when it is time.
    to_save: bool,
    /// Trials whose outcome was taken over.
    measured: u32,
    compared: u32,
    /// What the board wrote into its own flash, fetched as it goes.
    log: Vec<u8>,
    fetch: RecordsFetch,
}

impl ResetBoard {
    /// A board that runs this installation afresh.
    fn new(emulator: Emulator, scenario: &Scenario) -> Self {
        // What is sent while it restarts may be lost, and is soon sent again.
        let patience = Patience {
            wait: Duration::from_millis(100),
            times: 300,
        };
        let (mut client, hello) = Client::connect(emulator, patience).expect("the board answers");
        send_installation(&mut client, &hello, &scenario.told).expect("the board takes it");
        client.tell(Ask::StartAfresh).expect("it is in bench mode");
        Self {
            client,
            core: HostController::new(&scenario.told, &[]).expect("a shipped installation is sound"),
            since_save_ms: 0,
            saved: Vec::new(),
            asked: Vec::new(),
            to_save: false,
            measured: 0,
            compared: 0,
            log: Vec::new(),
            fetch: RecordsFetch::default(),
        }
    }

    /// The starts so far, each as the calls it made.
    fn starts(&mut self) -> Vec<String> {
        starts(self.client.wire_mut().folder())
    }

    fn fetch_log(&mut self) {
        let fetched = self.fetch.fetch(&mut self.client, &mut self.log);
        fetched.expect("the board keeps a log");
    }

    /// Brings a reset about; what the board says of itself afterwards.
    fn provoke(&mut self, what: &str) -> Hello {
        let before = self.starts().len();
        std::fs::write(self.client.wire_mut().folder().join("provoke"), what).expect("a file of ours");
        let begin = Instant::now();
        while self.starts().len() == before {
            assert!(begin.elapsed() < RESET, "no reset by {what:?}");
            std::thread::sleep(Duration::from_millis(5));
        }
        let hello = self.client.greet().expect("it has started again");
        if hello.running == Running::Trimming {
            self.start_from_saved();
        }
        hello
    }

    /// The core here starts as the board does.
    fn start_from_saved(&mut self) {
        self.core =
            HostController::new(&self.core.installation().to_installation(), &self.saved).expect("what it ran before");
        for command in &self.asked {
            self.core.command(*command).expect("it was taken before");
        }
        self.since_save_ms = 0;
    }

    fn events(&mut self) -> Vec<Event> {
        match self.client.ask(Ask::Log { from: 0 }).expect("the board answers") {
            Answer::Log { entries, .. } => entries.iter().map(|entry| entry.event).collect(),
            other => panic!("{other:?}"),
        }
    }
}

impl Control for ResetBoard {
    fn command(&mut self, command: risertrim::Command) -> Result<(), ControlFailed> {
        let before: Vec<_> = self.core.standing_commands().collect();
        let _ = self.core.command(command);
        self.to_save |= !self.core.standing_commands().eq(before);
        Ok(self.client.tell(Ask::Command(command))?)
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let Answer::Step(stepped) = self.client.ask(HostAsk::Readings(readings.clone()))? else {
            panic!("readings are answered by a step");
        };
        let core = self.core.step(readings);
        assert_eq!(
            postcard::to_stdvec(&stepped.step)?,
            postcard::to_stdvec(&core)?,
            "after {} equal steps",
            self.compared
        );
        self.compared += 1;
        if self.compared.is_multiple_of(600) {
            self.fetch_log();
        }
        if let Some(outcome) = self.core.take_outcome() {
            let taken = outcome.outlet_law.is_ok() || outcome.curve.is_ok();
            self.measured += u32::from(taken);
            self.to_save |= taken;
        }
        self.since_save_ms += core.step_ms;
        if self.to_save || self.since_save_ms >= SAVE_EVERY_MS {
            self.to_save = false;
            self.since_save_ms = 0;
            self.saved = self.core.learned().to_vec();
            self.asked = self.core.standing_commands().collect();
        }
        Ok(stepped.step)
    }
}

fn scenario() -> Scenario {
    Scenario::by_name_or_path("default").unwrap_or_else(|report| panic!("{report}"))
}

fn run_minutes(simulation: &mut Simulation<ResetBoard>, minutes: u32) {
    for _ in 0..60 * minutes {
        simulation.step().unwrap_or_else(|error| panic!("{error}"));
    }
}

#[test]
fn panic_hard_fault_watchdog_and_a_wish_are_told_apart_and_what_was_learned_outlives_each() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-resets") else {
        return;
    };
    let scenario = scenario();
    let control = ResetBoard::new(emulator, &scenario);
    let mut simulation =
        Simulation::driven_by(&scenario, scenario.seed, control).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(simulation.control_mut().greet().reset, ResetCause::PowerOn);
    run_minutes(&mut simulation, 25);
    for (what, cause) in [
        ("p", ResetCause::Panic),
        ("f", ResetCause::HardFault),
        ("a", ResetCause::Asked),
        ("h", ResetCause::Watchdog),
    ] {
        let control = simulation.control_mut();
        let learned = control.saved.clone();
        let mut hello = control.provoke(what);
        assert_eq!(hello.reset, cause);
        if what == "h" {
            // The third by a fault of the program.
            assert_eq!(hello.running, Running::Stopped);
            control.client.tell(Ask::Acknowledge).expect("it is there");
            control.start_from_saved();
            hello = control.greet();
        }
        assert_eq!(hello.running, Running::Trimming, "{cause:?}");
        assert_eq!(
            hello.fingerprint,
            risertrim::frame::fingerprint(&scenario.told),
            "{cause:?}"
        );
        assert_eq!(control.events().first(), Some(&Event::Started(cause)));
        assert!(!control.events().contains(&Event::KeptRejected), "{cause:?}");
        assert_eq!(fetch_installation(&mut control.client).expect("kept"), scenario.told);
        let starts = control.starts();
        assert_start_in_order(starts.last().expect("it has started"), &scenario.told);
        // Bit by bit the steps of a core that starts from what was saved; and that is not what a new one believes.
        assert!(
            learned.iter().any(|lift| (lift.factor - 1.0).abs() > 0.02),
            "{learned:?}"
        );
        run_minutes(&mut simulation, 12);
    }
    let control = simulation.control_mut();
    assert_eq!(control.starts().len(), 5, "one start by power and four resets");
    println!("{} steps over four resets, the same bit by bit", control.compared);
    // What it wrote into its flash is whole over every reset, and is replayed here.
    control.fetch_log();
    assert_eq!(control.fetch.lost, 0);
    let mut replay = Replay::new(Start::Logged);
    let mut starts = 0;
    for entry in LogReader::open(control.log.as_slice()).expect("a log") {
        let entry = entry.expect("readable to its end");
        starts = starts.max(entry.session);
        replay.take(&entry).expect("nothing is set");
    }
    let outcome = replay.finish().0;
    assert!(outcome.is_equal() && outcome.inexact.is_empty(), "{outcome:?}");
    assert_eq!(outcome.compared, u64::from(control.compared));
    assert_eq!(
        starts, 6,
        "with its installation, afresh for the test, and after four resets"
    );
    println!("its own log: {} bytes, replayed bit by bit", control.log.len());
}

impl ResetBoard {
    fn greet(&mut self) -> Hello {
        self.client.greet().expect("the board answers")
    }
}

#[test]
fn three_resets_by_the_watchdog_in_ten_minutes_hold_the_valves_until_somebody_acknowledges() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-resets") else {
        return;
    };
    let scenario = scenario();
    let mut control = ResetBoard::new(emulator, &scenario);
    // The third stops it, and the stop outlives a reset that was asked for.
    for (what, running, event) in [
        ("h", Running::Trimming, None),
        ("h", Running::Trimming, None),
        ("h", Running::Stopped, Some(Event::Stopped)),
        ("a", Running::Stopped, Some(Event::Stopped)),
    ] {
        // An installation that is followed by such a reset within a minute would be taken back, if there were one before it.
        let hello = control.provoke(what);
        assert_eq!(hello.running, running, "{what}");
        assert_eq!(
            control.events().iter().find(|event| **event == Event::Stopped),
            event.as_ref()
        );
    }
    let starts = control.starts();
    assert_start_in_order(starts.last().expect("it has started"), &scenario.told);
    let mut readings = HostReadings::default();
    for tank in 0..scenario.told.tanks.len() {
        let level = risertrim::Reading::Value(scenario.raw_reading(tank, 0.4));
        readings.levels.push(level).expect("room for every tank");
    }
    let refused = control.client.ask(HostAsk::Readings(readings.clone()));
    assert!(matches!(refused, Err(BoardError::Not(Not::Stopped))), "{refused:?}");
    control.client.tell(Ask::Acknowledge).expect("it is there");
    assert_eq!(control.greet().running, Running::Trimming);
    assert!(matches!(
        control.client.ask(HostAsk::Readings(readings)),
        Ok(Answer::Step(_))
    ));
    assert_eq!(control.provoke("h").running, Running::Trimming, "counted anew");
}

#[test]
fn an_installation_followed_by_a_hard_fault_is_taken_back_to_the_one_before() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-resets") else {
        return;
    };
    let scenario = scenario();
    let mut control = ResetBoard::new(emulator, &scenario);
    let mut other = scenario.told.clone();
    other.settings.trim_s *= 2.0;
    let hello = control.greet();
    send_installation(&mut control.client, &hello, &other).expect("the board takes it");
    assert_eq!(fetch_installation(&mut control.client).expect("it runs"), other);
    let hello = control.provoke("f");
    assert_eq!(hello.fingerprint, risertrim::frame::fingerprint(&scenario.told));
    assert!(control.events().contains(&Event::InstallationTakenBack));
    assert_eq!(fetch_installation(&mut control.client).expect("it runs"), scenario.told);
    // Sent again and followed by a reset that was asked for it stays.
    send_installation(&mut control.client, &hello, &other).expect("the board takes it");
    let hello = control.provoke("a");
    assert_eq!(hello.fingerprint, risertrim::frame::fingerprint(&other));
}

#[test]
fn what_a_trial_measured_and_what_people_asked_for_outlive_a_reset() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-resets") else {
        return;
    };
    let scenario = Scenario::by_name_or_path("trials/commission").unwrap_or_else(|report| panic!("{report}"));
    let control = ResetBoard::new(emulator, &scenario);
    let mut simulation =
        Simulation::driven_by(&scenario, scenario.seed, control).unwrap_or_else(|error| panic!("{error}"));
    while simulation.control_mut().measured == 0 {
        run_minutes(&mut simulation, 1);
        assert!(simulation.time_s() < 6.0 * 3600.0, "no trial was taken over");
    }
    let control = simulation.control_mut();
    control
        .command(risertrim::Command::OutOfService { lift: 2 })
        .expect("there is such a lift");
    run_minutes(&mut simulation, 1);
    let control = simulation.control_mut();
    let runs = control.core.installation().to_installation();
    assert_ne!(runs, scenario.told, "the trial changed it");
    let hello = control.provoke("a");
    assert_eq!(hello.fingerprint, risertrim::frame::fingerprint(&runs));
    assert!(!control.events().contains(&Event::KeptRejected));
    assert_eq!(fetch_installation(&mut control.client).expect("kept"), runs);
    assert!(
        control
            .core
            .standing_commands()
            .any(|command| command == risertrim::Command::OutOfService { lift: 2 })
    );
    // Bit by bit the steps of a core that starts from what was measured, learned and asked for.
    run_minutes(&mut simulation, 10);
}

#[test]
fn the_whole_application_on_the_board_stays_within_its_stack() {
    let Some(emulator) = board(Processor::M4, "emulated-m4-resets") else {
        return;
    };
    let scenario = scenario();
    let control = ResetBoard::new(emulator, &scenario);
    let mut simulation =
        Simulation::driven_by(&scenario, scenario.seed, control).unwrap_or_else(|error| panic!("{error}"));
    // Two savings of what was learned among them.
    run_minutes(&mut simulation, 21);
    let control = simulation.control_mut();
    let told = scenario.told.clone();
    let hello = control.greet();
    send_installation(&mut control.client, &hello, &told).expect("the board takes it again");
    let folder = control.client.wire_mut().folder().to_path_buf();
    std::fs::write(folder.join("provoke"), "s").expect("a file of ours");
    let begin = Instant::now();
    let used = loop {
        let text = std::fs::read_to_string(folder.join("stack")).unwrap_or_default();
        if let Ok(used) = text.parse::<u32>() {
            break used;
        }
        assert!(begin.elapsed() < RESET, "no answer");
        std::thread::sleep(Duration::from_millis(5));
    };
    println!("stack of start, steps, saving and taking an installation over: {used} bytes");
    assert!((1_000..=MOST_STACK).contains(&used), "{used} bytes");
}

/// What the application may use of the stack, bytes: what PORTING.md tells. Made on the stack and then moved to its place, the
/// application alone would take more.
const MOST_STACK: u32 = 11 * 1024;
