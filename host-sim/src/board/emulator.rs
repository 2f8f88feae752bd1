//! A board in QEMU, started here and spoken to over two named pipes.

use super::error::BoardError;
use super::wire::Wire;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// What is emulated.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Processor {
    /// Cortex-M4 with floating point hardware.
    #[default]
    M4,
    /// Cortex-M3, without.
    M3,
}

impl Processor {
    /// The emulator's names of board and processor.
    const fn machine(self) -> [&'static str; 4] {
        match self {
            Self::M4 => ["-machine", "mps2-an386", "-cpu", "cortex-m4"],
            Self::M3 => ["-machine", "mps2-an385", "-cpu", "cortex-m3"],
        }
    }

    /// Where `scripts/firmware` leaves the firmware for it.
    #[must_use]
    pub fn firmware(self) -> PathBuf {
        let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| PathBuf::from("target"), PathBuf::from);
        let name = match self {
            Self::M4 => "emulated-m4",
            Self::M3 => "emulated-m3",
        };
        target.join("boards").join(name)
    }
}

/// After this time without a word to the board it gets a zero, which ends no frame. Its read waits, as that of no real line does:
/// without it a board whose host is silent would stand still, and its watchdog would bite.
const KEEP_AWAKE: Duration = Duration::from_millis(100);

/// The pipe to the board.
#[derive(Debug)]
struct ToBoard {
    pipe: File,
    /// When something was sent last.
    last: Instant,
}

impl ToBoard {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.last = Instant::now();
        self.pipe.write_all(bytes)
    }
}

/// An emulated board. It ends with this value.
#[derive(Debug)]
pub struct Emulator {
    processor: Processor,
    firmware: PathBuf,
    folder: PathBuf,
    /// Nothing while it is without power.
    process: Option<Process>,
}

/// A running emulator.
#[derive(Debug)]
struct Process {
    child: Child,
    folder: PathBuf,
    to_board: Arc<Mutex<ToBoard>>,
    from_board: Receiver<Vec<u8>>,
    /// Bytes that came and were not asked for yet.
    left: Vec<u8>,
}

impl Emulator {
    /// Starts a firmware.
    ///
    /// # Errors
    /// There is no emulator on this machine, no such firmware, or no folder for the pipes.
    pub fn start(processor: Processor, firmware: &Path) -> Result<Self, BoardError> {
        let firmware = fs::canonicalize(firmware).map_err(|_| BoardError::NoFirmware {
            path: firmware.to_path_buf(),
        })?;
        let mut emulator = Self {
            processor,
            firmware,
            folder: make_folder().map_err(|error| cannot("no folder for its pipes", &error))?,
            process: None,
        };
        emulator.give_power()?;
        Ok(emulator)
    }

    /// Takes its power away: it is killed as it stands. What it keeps in files of its folder is still there; what was on the line is lost.
    pub fn take_power(&mut self) {
        self.process = None;
    }

    /// Gives it power, after it was without. It starts with what is in its folder.
    ///
    /// # Errors
    /// The emulator does not start, or its pipes cannot be made.
    pub fn give_power(&mut self) -> Result<(), BoardError> {
        self.take_power();
        self.process = Some(Process::start(self.processor, &self.firmware, &self.folder)?);
        Ok(())
    }

    /// Where it runs: its pipes, and the file `printed` with what it prints (of a firmware with `defmt`, its frames). Gone with this
    /// value.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    fn process(&mut self) -> io::Result<&mut Process> {
        let without = || io::Error::new(ErrorKind::BrokenPipe, "the emulated board is without power");
        self.process.as_mut().ok_or_else(without)
    }
}

impl Process {
    fn start(processor: Processor, firmware: &Path, folder: &Path) -> Result<Self, BoardError> {
        let (to, from) = (folder.join("to-board"), folder.join("from-board"));
        for pipe in [&to, &from] {
            // One from before may hold what nobody has read.
            let _ = fs::remove_file(pipe);
        }
        let made = Command::new("mkfifo").arg(&to).arg(&from).status();
        if !made.as_ref().is_ok_and(std::process::ExitStatus::success) {
            let why = "named pipes cannot be made here (`mkfifo` failed)".to_owned();
            return Err(BoardError::Emulator { why });
        }
        // Opened for both directions, a pipe does not wait for its other end.
        let open = |path: &Path| File::options().read(true).write(true).open(path);
        let to_board = open(&to).map_err(|error| cannot("its pipe cannot be opened", &error))?;
        let from_board = open(&from).map_err(|error| cannot("its pipe cannot be opened", &error))?;
        let printed =
            File::create(folder.join("printed")).map_err(|error| cannot("no file for what it prints", &error))?;
        let child = Command::new("qemu-system-arm")
            .args(processor.machine())
            .args(["-display", "none", "-monitor", "none", "-serial", "none"])
            .args(["-semihosting-config", "enable=on,target=native"])
            .arg("-kernel")
            .arg(firmware)
            .current_dir(folder)
            .stdin(Stdio::null())
            .stdout(printed)
            .stderr(Stdio::inherit())
            .spawn()
            .map_err(|error| {
                cannot(
                    "qemu-system-arm does not run (Debian: apt-get install qemu-system-arm)",
                    &error,
                )
            })?;
        let (pass_on, received) = channel();
        thread::spawn(move || {
            let mut from_board = from_board;
            let mut room = [0; 4096];
            while let Ok(count) = from_board.read(&mut room) {
                let bytes = room.get(..count).unwrap_or_default().to_vec();
                if bytes == FAREWELL || pass_on.send(bytes).is_err() {
                    break;
                }
            }
        });
        let to_board = Arc::new(Mutex::new(ToBoard {
            pipe: to_board,
            last: Instant::now(),
        }));
        keep_awake(&to_board);
        Ok(Self {
            child,
            folder: folder.to_path_buf(),
            to_board,
            from_board: received,
            left: Vec::new(),
        })
    }

    fn ended(&mut self) -> io::Result<()> {
        match self.child.try_wait()? {
            Some(status) => Err(io::Error::new(
                ErrorKind::BrokenPipe,
                format!("the emulator ended ({status})"),
            )),
            None => Ok(()),
        }
    }
}

/// Sends a zero now and then for as long as the emulator is there.
fn keep_awake(to_board: &Arc<Mutex<ToBoard>>) {
    let to_board = Arc::downgrade(to_board);
    thread::spawn(move || {
        while let Some(shared) = to_board.upgrade() {
            {
                let mut line = shared.lock().unwrap_or_else(PoisonError::into_inner);
                if line.last.elapsed() >= KEEP_AWAKE && line.send(&[0]).is_err() {
                    return;
                }
            }
            drop(shared);
            thread::sleep(KEEP_AWAKE);
        }
    });
}

/// Ends the thread that reads; no frame is two zeros and nothing else.
const FAREWELL: [u8; 2] = [0, 0];

impl Wire for Emulator {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        let process = self.process()?;
        let mut to_board = process.to_board.lock().unwrap_or_else(PoisonError::into_inner);
        to_board.send(bytes)
    }

    fn receive(&mut self, room: &mut [u8], patience: Duration) -> io::Result<usize> {
        self.process()?.receive(room, patience)
    }
}

impl Process {
    fn receive(&mut self, room: &mut [u8], patience: Duration) -> io::Result<usize> {
        if self.left.is_empty() {
            match self.from_board.recv_timeout(patience) {
                Ok(bytes) => self.left = bytes,
                Err(RecvTimeoutError::Timeout) => {
                    self.ended()?;
                    return Ok(0);
                }
                Err(RecvTimeoutError::Disconnected) => return Err(ErrorKind::BrokenPipe.into()),
            }
        }
        let count = self.left.len().min(room.len());
        for (place, byte) in room.iter_mut().zip(self.left.drain(..count)) {
            *place = byte;
        }
        Ok(count)
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        if let Ok(mut pipe) = File::options()
            .read(true)
            .write(true)
            .open(self.folder.join("from-board"))
        {
            let _ = pipe.write_all(&FAREWELL);
        }
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        self.take_power();
        let _ = fs::remove_dir_all(&self.folder);
    }
}

fn make_folder() -> io::Result<PathBuf> {
    static NUMBER: AtomicU32 = AtomicU32::new(0);
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    let folder = std::env::temp_dir().join(format!("risertrim-board-{}-{number}", std::process::id()));
    fs::create_dir_all(&folder)?;
    Ok(folder)
}

fn cannot(what: &str, error: &io::Error) -> BoardError {
    BoardError::Emulator {
        why: format!("{what}: {error}"),
    }
}
