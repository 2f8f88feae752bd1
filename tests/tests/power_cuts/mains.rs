//! A switch in the supply of an emulated board.

use risertrim_sim::board::{Emulator, Wire};
use std::fs;
use std::io::{self, ErrorKind};
use std::time::{Duration, Instant};

/// When the power goes.
#[derive(Clone, Copy, Debug)]
pub enum Moment {
    /// Right after so many words or erased pieces of the store's flash; 0 for never.
    Store(u32),
    /// The same of the log's flash.
    Log(u32),
    /// Right after so many erased pieces (of 64 to a page).
    Erasing(u32),
    /// After this time by the clock on the wall, whatever the board is doing.
    Wall(Duration),
}

/// How long to wait for anything.
const LONG: Duration = Duration::from_secs(60);
/// How often it is looked whether the moment has come.
const LOOK: Duration = Duration::from_millis(1);

/// The line to a board whose power goes when the moment comes.
#[derive(Debug)]
pub struct Mains {
    emulator: Emulator,
    at: Option<Instant>,
    /// What the flash did last before the power went, where the board could say so.
    done: String,
    dark: bool,
}

impl Mains {
    pub fn new(emulator: Emulator) -> Self {
        Self {
            emulator,
            at: None,
            done: String::new(),
            dark: false,
        }
    }

    pub fn emulator(&self) -> &Emulator {
        &self.emulator
    }

    /// The power will go at this moment. A board without power gets to know of it when it starts.
    pub fn ask(&mut self, moment: Moment) {
        let asked = match moment {
            Moment::Store(steps) => format!("k{steps}"),
            Moment::Log(steps) => format!("l{steps}"),
            Moment::Erasing(pieces) => format!("e{pieces}"),
            Moment::Wall(after) => {
                self.at = Some(Instant::now() + after);
                return;
            }
        };
        fs::write(self.emulator.folder().join("provoke"), asked).expect("a file of ours");
    }

    /// The same, known to a board that has power.
    pub fn arm(&mut self, moment: Moment) {
        self.ask(moment);
        let begin = Instant::now();
        while self.emulator.folder().join("provoke").exists() {
            assert!(begin.elapsed() < LONG, "the board does not look for it");
            std::thread::sleep(LOOK);
        }
    }

    /// The power will stay.
    pub fn disarm(&mut self) {
        self.at = None;
        self.arm(Moment::Store(0));
    }

    /// Takes the power, if it is time.
    fn look(&mut self) -> io::Result<()> {
        let told = self.emulator.folder().join("cut");
        let by_the_board = told.exists();
        if by_the_board || self.at.is_some_and(|at| Instant::now() >= at) {
            self.take();
            self.done = fs::read_to_string(&told).unwrap_or_default();
            let _ = fs::remove_file(&told);
            self.at = None;
        }
        if self.dark {
            return Err(io::Error::new(ErrorKind::BrokenPipe, "the power is gone"));
        }
        Ok(())
    }

    /// Takes the power.
    pub fn take(&mut self) {
        self.emulator.take_power();
        self.dark = true;
    }

    /// True while the board is without power.
    pub fn is_dark(&self) -> bool {
        self.dark
    }

    /// What its flash did last before its power went; nothing where it could not say.
    pub fn done(&self) -> &str {
        &self.done
    }

    /// The power is back.
    pub fn give(&mut self) {
        let starts = self.emulator.folder().join("starts");
        let mut text = fs::read_to_string(&starts).unwrap_or_default();
        if !text.ends_with('\n') {
            // A start that was cut short.
            text.push('\n');
            fs::write(&starts, text).expect("a file of ours");
        }
        self.emulator.give_power().expect("the emulator starts again");
        self.dark = false;
    }
}

impl Wire for Mains {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.look()?;
        self.emulator.send(bytes)
    }

    fn receive(&mut self, room: &mut [u8], patience: Duration) -> io::Result<usize> {
        let until = Instant::now() + patience;
        loop {
            self.look()?;
            let now = Instant::now();
            let left = until.saturating_duration_since(now);
            let to_moment = self.at.map_or(LOOK, |at| at.saturating_duration_since(now));
            let count = self.emulator.receive(room, left.min(LOOK).min(to_moment))?;
            if count > 0 || left.is_zero() {
                return Ok(count);
            }
        }
    }
}
