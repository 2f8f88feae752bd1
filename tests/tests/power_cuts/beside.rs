//! A board whose power goes, with the core on this machine beside it: every step that it answers must be the same bit by bit as that
//! of a core that goes on from what the board had kept.

use super::mains::{Mains, Moment};
use risertrim::controller::Learned;
use risertrim::frame::fingerprint;
use risertrim::link::{Answer, Ask, Event, Hello, Running};
use risertrim::{Command, ResetCause};
use risertrim_sim::board::{
    BoardError, Client, Emulator, HostAsk, Patience, RecordsFetch, fetch_installation, send_installation,
};
use risertrim_sim::scenario::HostInstallation;
use risertrim_sim::simulate::{Control, ControlFailed, HostController, HostReadings, HostStep};
use risertrim_tests::emulated::{assert_start_in_order, starts};
use std::time::Duration;

/// Time after which what was learned is saved, ms; the application's own.
const SAVE_EVERY_MS: u32 = 600_000;
/// Steps between two fetches of the board's log.
const FETCH_EVERY: u64 = 400;

/// What a board keeps of a controller.
#[derive(Clone, Debug, Default, PartialEq)]
struct Kept {
    learned: Vec<Learned>,
    asked: Vec<Command>,
}

impl Kept {
    fn of(core: &HostController) -> Self {
        Self {
            learned: core.learned().to_vec(),
            asked: core.standing_commands().collect(),
        }
    }

    fn start(&self, told: &HostInstallation) -> HostController {
        let mut core = HostController::new(told, &self.learned).expect("a shipped installation is sound");
        for command in &self.asked {
            core.command(*command).expect("it was taken before");
        }
        core
    }
}

/// A board as it may be.
#[derive(Clone, Debug)]
struct Possible {
    core: HostController,
    kept: Kept,
    /// What it was to keep at the end of a step that it did not answer.
    newer: Option<Kept>,
    since_save_ms: u32,
    /// What was asked for has changed since.
    to_save: bool,
}

impl Possible {
    /// A board that starts from what is kept.
    fn start(kept: Kept, told: &HostInstallation) -> Self {
        Self {
            core: kept.start(told),
            kept,
            newer: None,
            since_save_ms: 0,
            to_save: false,
        }
    }
}

/// The board and the cores beside it.
pub struct CutBoard {
    client: Client<Mains>,
    told: HostInstallation,
    /// One; after a cut in a save two, for the state before may be kept or the newer one, and the next step tells which.
    possible: Vec<Possible>,
    /// After a start: one that has learned nothing, which the board must not be.
    ignorant: Option<HostController>,
    /// When the power goes again as soon as it is back.
    pub flicker: Option<Moment>,
    pub counts: Counts,
    /// The board's own log, fetched as it goes.
    pub log: Vec<u8>,
    pub fetch: RecordsFetch,
}

/// What was seen.
#[derive(Clone, Copy, Debug, Default)]
pub struct Counts {
    /// Steps answered, each the same in every bit.
    pub equal: u64,
    /// Steps whose answer the power cut off.
    pub unanswered: u64,
    /// Starts that the power cut off.
    pub flickered: u32,
    /// Cuts in a save after which the state before was there, and the newer one.
    pub older: u32,
    pub newer: u32,
}

impl CutBoard {
    /// A board that runs this installation afresh.
    pub fn new(emulator: Emulator, told: &HostInstallation) -> Self {
        let patience = Patience {
            wait: Duration::from_millis(100),
            times: 300,
        };
        let (mut client, hello) = Client::connect(Mains::new(emulator), patience).expect("the board answers");
        assert_eq!(hello.running, Running::NoInstallation, "its flash is blank");
        send_installation(&mut client, &hello, told).expect("the board takes it");
        client.tell(Ask::StartAfresh).expect("it is in bench mode");
        Self {
            possible: vec![Possible::start(Kept::default(), told)],
            client,
            told: told.clone(),
            ignorant: None,
            flicker: None,
            counts: Counts::default(),
            log: Vec::new(),
            fetch: RecordsFetch::default(),
        }
    }

    pub fn mains(&mut self) -> &mut Mains {
        self.client.wire_mut()
    }

    pub fn fetch_log(&mut self) -> Result<(), BoardError> {
        self.fetch.fetch(&mut self.client, &mut self.log)
    }

    /// Gives it power until it has started, and looks how it did.
    fn start_again(&mut self) -> Result<(), BoardError> {
        if let Some(moment) = self.flicker.take() {
            self.mains().ask(moment);
            self.mains().give();
            if self.client.greet().is_err() {
                assert!(self.mains().is_dark(), "the board does not answer");
                self.counts.flickered += 1;
                self.mains().give();
            }
            self.mains().disarm();
        } else {
            self.mains().give();
        }
        let hello = self.client.greet()?;
        assert_eq!(hello.reset, ResetCause::PowerOn);
        assert_eq!(hello.running, Running::Trimming, "its installation is there");
        assert_eq!(hello.fingerprint, fingerprint(&self.told));
        assert_eq!(fetch_installation(&mut self.client)?, self.told);
        assert_eq!(
            self.events()?,
            [Event::Started(ResetCause::PowerOn)],
            "nothing kept was rejected, taken back or not to be read"
        );
        let starts = starts(self.mains().emulator().folder());
        assert_start_in_order(starts.last().expect("it has started"), &self.told);
        Ok(())
    }

    pub fn greet(&mut self) -> Hello {
        self.client.greet().expect("the board answers")
    }

    /// Sends another installation, with the power to go at this moment; false when the power went meanwhile.
    pub fn takes(&mut self, installation: &HostInstallation, moment: Moment) -> bool {
        let hello = self.greet();
        self.mains().arm(moment);
        match send_installation(&mut self.client, &hello, installation) {
            Ok(_) => {
                self.mains().disarm();
                true
            }
            Err(why) => {
                assert!(self.mains().is_dark(), "{why}");
                false
            }
        }
    }

    /// Gives it power: what it runs then.
    pub fn after_power(&mut self) -> HostInstallation {
        self.mains().give();
        let hello = self.greet();
        assert_eq!(hello.running, Running::Trimming);
        let runs = self.runs();
        assert_eq!(hello.fingerprint, fingerprint(&runs));
        runs
    }

    /// The installation that it runs.
    pub fn runs(&mut self) -> HostInstallation {
        fetch_installation(&mut self.client).expect("the board answers")
    }

    fn events(&mut self) -> Result<Vec<Event>, BoardError> {
        match self.client.ask(Ask::Log { from: 0 })? {
            Answer::Log { entries, .. } => Ok(entries.iter().map(|entry| entry.event).collect()),
            _ => Err(BoardError::WrongAnswer),
        }
    }

    /// Keeps of what the board may be what answers as it did.
    fn compare(&mut self, board: &HostStep, cores: &[HostStep]) -> Result<(), ControlFailed> {
        let board = postcard::to_stdvec(board)?;
        let mut equal = Vec::new();
        for core in cores {
            equal.push(postcard::to_stdvec(core)? == board);
        }
        let in_doubt = self.possible.len() > 1;
        let first = equal.iter().position(|equal| *equal);
        assert!(
            first.is_some(),
            "after {} equal steps the board is none of what it may be",
            self.counts.equal
        );
        let mut at = equal.iter();
        self.possible.retain(|_| at.next() == Some(&true));
        if in_doubt && self.possible.len() == 1 {
            if first == Some(0) {
                self.counts.older += 1;
            } else {
                self.counts.newer += 1;
            }
        }
        self.counts.equal += 1;
        Ok(())
    }
}

impl Control for CutBoard {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        for possible in &mut self.possible {
            let before: Vec<_> = possible.core.standing_commands().collect();
            let _ = possible.core.command(command);
            possible.to_save |= !possible.core.standing_commands().eq(before);
        }
        if let Some(ignorant) = &mut self.ignorant {
            let _ = ignorant.command(command);
        }
        Ok(self.client.tell(Ask::Command(command))?)
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let cores: Vec<HostStep> = self
            .possible
            .iter_mut()
            .map(|possible| possible.core.step(readings))
            .collect();
        for (possible, step) in self.possible.iter_mut().zip(&cores) {
            possible.since_save_ms += step.step_ms;
            if possible.to_save || possible.since_save_ms >= SAVE_EVERY_MS {
                possible.newer = Some(Kept::of(&possible.core));
            }
        }
        self.counts.unanswered += 1;
        let Answer::Step(stepped) = self.client.ask(HostAsk::Readings(readings.clone()))? else {
            panic!("readings are answered by a step");
        };
        self.counts.unanswered -= 1;
        self.compare(&stepped.step, &cores)?;
        if let Some(mut ignorant) = self.ignorant.take() {
            let step = postcard::to_stdvec(&ignorant.step(readings))?;
            assert_ne!(step, postcard::to_stdvec(&stepped.step)?, "it has learned something");
        }
        for possible in &mut self.possible {
            if let Some(newer) = possible.newer.take() {
                possible.kept = newer;
                (possible.to_save, possible.since_save_ms) = (false, 0);
            }
        }
        if self.counts.equal.is_multiple_of(FETCH_EVERY) {
            self.fetch_log()?;
        }
        Ok(stepped.step)
    }

    fn restart(&mut self, _remembers: bool) -> Result<(), ControlFailed> {
        self.start_again()?;
        let mut kept: Vec<Kept> = Vec::new();
        for possible in self.possible.drain(..) {
            kept.push(possible.kept);
            kept.extend(possible.newer);
        }
        kept.dedup();
        let start = |kept| Possible::start(kept, &self.told);
        self.possible = kept.into_iter().map(start).collect();
        self.ignorant = Some(Kept::default().start(&self.told));
        Ok(())
    }
}
