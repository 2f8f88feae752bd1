//! The board's end of a line: the firmware's own application on this machine.

use risertrim::record::Plan;
use risertrim::{Millis, Opening};
use risertrim_firmware::{App, Board, BoardLog, Item, KeptLog, RamLog, Unkept};
use std::collections::HashMap;
use std::io::{self, ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// Lifts and tanks that it has room for, as the emulated board.
pub const LIFTS: usize = 8;
pub const TANKS: usize = 9;

/// Anything that bytes come from and go to; a read must not wait for long.
pub trait Line: Read + Write + Send + 'static {}
impl<L: Read + Write + Send + 'static> Line for L {}

/// A board on this machine. Without bench mode its sensors give the same levels for ever.
struct Board8<L, const BENCH: bool> {
    line: L,
    begin: Instant,
    levels: Vec<f32>,
    kept: HashMap<u8, Vec<Vec<u8>>>,
    reads: u32,
}

impl<L: Line, const BENCH: bool> Board for Board8<L, BENCH> {
    type Error = ();
    const BENCH: bool = BENCH;

    fn make_safe(&mut self) {}

    fn now(&mut self) -> Millis {
        #[allow(clippy::cast_possible_truncation)] // a counter that wraps
        Millis(self.begin.elapsed().as_millis() as u32)
    }

    fn level(&mut self, tank: usize) -> Result<f32, ()> {
        self.reads += 1;
        let restless = if self.reads.is_multiple_of(2) { 1.0005 } else { 0.9995 };
        self.levels.get(tank).map(|level| level * restless).ok_or(())
    }

    fn drive(&mut self, _lift: usize, _opening: Opening) -> Result<(), ()> {
        Ok(())
    }

    fn feed_watchdog(&mut self) {}

    fn load(&mut self, item: Item, room: &mut [u8]) -> Result<Option<usize>, Unkept> {
        let Some(bytes) = self.kept.get(&(item as u8)).and_then(|all| all.last()) else {
            return Ok(None);
        };
        room.get_mut(..bytes.len())
            .ok_or(Unkept::Failed)?
            .copy_from_slice(bytes);
        Ok(Some(bytes.len()))
    }

    fn save(&mut self, item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        self.kept.entry(item as u8).or_default().push(bytes.to_vec());
        Ok(())
    }

    fn go_back(&mut self, item: Item) -> Result<bool, Unkept> {
        Ok(self.kept.get_mut(&(item as u8)).is_some_and(|all| {
            all.pop();
            !all.is_empty()
        }))
    }

    fn receive(&mut self, room: &mut [u8]) -> usize {
        self.line.read(room).unwrap_or(0)
    }

    fn send(&mut self, bytes: &[u8]) {
        // What does not go out is asked for again.
        let _ = self.line.write_all(bytes);
    }

    fn idle(&mut self) {
        thread::sleep(Duration::from_micros(200));
    }
}

/// A running board; it ends with this value.
pub struct Running {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// Starts a board on a line, without a log of its own. `levels` are what its sensors give where it has any.
pub fn start<const BENCH: bool>(line: impl Line, levels: Vec<f32>) -> Running {
    start_app::<BENCH, _>(line, levels, Box::default())
}

/// The same with a log of its own of every step, the newest 32 KiB of it.
pub fn start_logging<const BENCH: bool>(line: impl Line, levels: Vec<f32>) -> Running {
    let log = KeptLog::<LIFTS, TANKS, 2048, _>::new(Plan::WHOLE, "a board of this test", RamLog::<32_768>::new());
    start_app::<BENCH, _>(line, levels, Box::new(App::with_log(log)))
}

fn start_app<const BENCH: bool, G: BoardLog<LIFTS, TANKS> + Send + 'static>(
    line: impl Line,
    levels: Vec<f32>,
    mut app: Box<App<LIFTS, TANKS, G>>,
) -> Running {
    let stop = Arc::new(AtomicBool::new(false));
    let stopped = Arc::clone(&stop);
    let run = move || {
        let mut board = Board8::<_, BENCH> {
            line,
            begin: Instant::now(),
            levels,
            kept: HashMap::new(),
            reads: 0,
        };
        app.start(&mut board, None);
        while !stopped.load(Ordering::Relaxed) {
            if !app.poll(&mut board) {
                board.idle();
            }
        }
    };
    let thread = thread::Builder::new().stack_size(8 << 20).spawn(run);
    Running {
        stop,
        thread: Some(thread.expect("a thread")),
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// A socket on the loopback that one host after another connects to.
pub struct Listening {
    listener: TcpListener,
    stream: Option<TcpStream>,
}

impl Listening {
    /// Listens on a free port.
    pub fn new() -> (Self, SocketAddr) {
        let listener = TcpListener::bind("127.0.0.1:0").expect("the loopback");
        listener.set_nonblocking(true).expect("a socket of ours");
        let address = listener.local_addr().expect("a bound socket");
        let stream = None;
        (Self { listener, stream }, address)
    }
}

impl Read for Listening {
    fn read(&mut self, room: &mut [u8]) -> io::Result<usize> {
        if self.stream.is_none()
            && let Ok((stream, _)) = self.listener.accept()
        {
            stream.set_nodelay(true)?;
            stream.set_read_timeout(Some(Duration::from_millis(1)))?;
            self.stream = Some(stream);
        }
        let Some(stream) = &mut self.stream else {
            return Err(ErrorKind::WouldBlock.into());
        };
        let read = stream.read(room);
        let gone = |kind| !matches!(kind, ErrorKind::WouldBlock | ErrorKind::TimedOut);
        if matches!(&read, Ok(0)) || read.as_ref().is_err_and(|error| gone(error.kind())) {
            self.stream = None;
        }
        read
    }
}

impl Write for Listening {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.stream.as_mut().ok_or(ErrorKind::NotConnected)?.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
