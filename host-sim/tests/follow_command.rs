//! `decode --follow` on a file that grows and on a serial port. Tests wait for lines, up to a minute, and never for a time to pass.

use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How long a line may take to come.
const PATIENCE: Duration = Duration::from_secs(60);

/// Held while a program is started: what is opened meanwhile without care would stay open in it.
static STARTING: Mutex<()> = Mutex::new(());

fn starting() -> MutexGuard<'static, ()> {
    STARTING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// An empty folder of one test alone, and six minutes of log.
fn logged(name: &str) -> (PathBuf, Vec<u8>) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("follow-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let log = folder.join("whole.rtlog");
    let alone = starting();
    let written = Command::new(env!("CARGO_BIN_EXE_risertrim"))
        .args(["simulate", "one_lift", "--hours", "0.1", "--log"])
        .arg(&log)
        .output()
        .unwrap();
    drop(alone);
    assert!(written.status.success());
    let bytes = std::fs::read(log).unwrap();
    (folder, bytes)
}

/// Where each frame ends.
fn ends(log: &[u8]) -> Vec<usize> {
    let zeros = log.iter().enumerate().filter(|(_, byte)| **byte == 0);
    zeros.map(|(at, _)| at + 1).collect()
}

/// The program while it follows. It is ended with the test.
struct Following {
    child: Child,
    out: Receiver<String>,
    said: Receiver<String>,
}

fn lines_of(from: impl std::io::Read + Send + 'static) -> Receiver<String> {
    let (tell, told) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(from).lines().map_while(Result::ok) {
            if tell.send(line).is_err() {
                break;
            }
        }
    });
    told
}

impl Following {
    fn start(arguments: &[&str]) -> Self {
        let alone = starting();
        let mut child = Command::new(env!("CARGO_BIN_EXE_risertrim"))
            .arg("decode")
            .args(arguments)
            .arg("--follow")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(alone);
        let out = lines_of(child.stdout.take().unwrap());
        let said = lines_of(child.stderr.take().unwrap());
        Self { child, out, said }
    }

    fn line(&mut self) -> String {
        let line = self.out.recv_timeout(PATIENCE);
        line.unwrap_or_else(|_| panic!("no line; it said {:?}", self.said.try_iter().collect::<Vec<_>>()))
    }

    /// Its exit code and what it said, when it ends by itself.
    fn ended(mut self) -> (Option<i32>, String) {
        let mut lines = Vec::new();
        let begun = Instant::now();
        // What it says ends when it does.
        while let Ok(line) = self.said.recv_timeout(PATIENCE.saturating_sub(begun.elapsed())) {
            lines.push(line);
        }
        let ended = self.child.try_wait().unwrap().or_else(|| {
            std::thread::sleep(Duration::from_secs(1));
            self.child.try_wait().unwrap()
        });
        let said = lines.join("\n");
        (
            ended.unwrap_or_else(|| panic!("it goes on; it said {said}")).code(),
            said,
        )
    }
}

impl Drop for Following {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn byte(line: &str) -> u64 {
    let line: serde_json::Value = serde_json::from_str(line).unwrap();
    line["byte"].as_u64().unwrap()
}

#[test]
fn a_growing_file_is_told_frame_by_frame_and_one_begun_anew_ends_it() {
    let (folder, log) = logged("grows");
    let path = folder.join("board.rtlog");
    let mut file = File::create(&path).unwrap();
    let name = path.display().to_string();
    let tables = folder.join("tables").display().to_string();
    let mut following = Following::start(&[&name, "--json-lines", "--csv", &tables]);
    let ends = ends(&log);
    // In pieces that end in the middle of frames.
    let mut written = 0;
    for (number, end) in ends.iter().enumerate().take(40) {
        let to = if number % 3 == 0 { end + 2 } else { *end };
        file.write_all(&log[written..to]).unwrap();
        written = to;
        let begins = if number == 0 { 0 } else { ends[number - 1] as u64 };
        if number % 10 == 0 {
            // Everything up to here has come, and nothing of the frame that is not whole.
            while byte(&following.line()) != begins {}
            assert!(following.out.try_recv().is_err(), "a frame that is not whole");
        }
    }
    drop(file);
    File::create(&path).unwrap();
    let (code, said) = following.ended();
    assert_eq!(code, Some(1));
    assert!(
        said.contains("became shorter") && said.contains("follow it again"),
        "{said}"
    );
    // The tables are whole as far as it came.
    let readings = std::fs::read_to_string(folder.join("tables/readings.csv")).unwrap();
    assert!(readings.ends_with('\n') && readings.lines().count() > 60, "{readings}");
}

#[test]
fn what_is_no_log_is_said_while_it_is_followed() {
    let (folder, log) = logged("other");
    let path = folder.join("levels.csv");
    std::fs::write(&path, "time,level\n0,0.7\n").unwrap();
    let mut following = Following::start(&[&path.display().to_string()]);
    let said = following.said.recv_timeout(PATIENCE).unwrap();
    assert!(said.contains("no record in the first 17 bytes"), "{said}");
    // It goes on all the same: a log may begin behind it.
    let mut file = OpenOptions::new().append(true).open(&path).unwrap();
    file.write_all(&[&[0], &log[..ends(&log)[0]]].concat()).unwrap();
    assert!(following.line().contains("damaged"));
    assert!(following.line().contains("start of risertrim"));
}

#[cfg(unix)]
#[test]
fn a_serial_port_is_followed_from_the_middle_of_a_frame_until_it_is_unplugged() {
    use serialport::{SerialPort as _, TTYPort};

    let (_, log) = logged("port");
    let alone = starting();
    let (board, port) = TTYPort::pair().unwrap();
    // The copy is closed in programs that are started, the original is not.
    let mut board = {
        let original = board;
        original.try_clone_native().unwrap()
    };
    drop(alone);
    let name = port.name().unwrap();
    // A port belongs to one program at a time, but it must not look unplugged meanwhile.
    let _plugged = OpenOptions::new().read(true).write(true).open(&name).unwrap();
    drop(port);
    let mut following = Following::start(&[&name, "--json-lines"]);
    let ends = ends(&log);
    // Whoever listens later than the board talks begins in the middle of a frame.
    let begin = ends[4] - 3;
    // What is sent before the program listens may be lost: the board goes on until it is heard.
    let mut heard = None;
    for window in ends.windows(2).skip(4) {
        let from = if heard.is_none() && window[0] == ends[4] {
            begin
        } else {
            window[0]
        };
        board.write_all(&log[from..window[1]]).unwrap();
        if let Ok(line) = following.out.recv_timeout(Duration::from_millis(50)) {
            heard = Some(line);
            break;
        }
    }
    let heard = heard.unwrap_or_else(|| following.line());
    let first: serde_json::Value = serde_json::from_str(&heard).unwrap();
    // What was torn is told as damage, nothing as a record that it is not.
    let mut records = u32::from(first.get("record").is_some());
    board.write_all(&log[ends[200]..ends[240]]).unwrap();
    while records < 40 {
        let line: serde_json::Value = serde_json::from_str(&following.line()).unwrap();
        records += u32::from(line.get("record").is_some());
    }
    drop(board);
    let (code, said) = following.ended();
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("is gone") && said.contains("follow it again"), "{said}");
}

#[test]
fn a_port_that_is_not_there_is_refused_and_a_device_needs_to_be_followed() {
    let (_, _) = logged("refused");
    let following = Following::start(&["/dev/no-such-port", "--baud", "9600"]);
    let (code, said) = following.ended();
    assert_eq!(code, Some(2));
    assert!(said.contains("cannot open serial port /dev/no-such-port"), "{said}");
    if cfg!(unix) {
        let _alone = starting();
        let output = Command::new(env!("CARGO_BIN_EXE_risertrim"))
            .args(["decode", "/dev/zero"])
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2));
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(said.contains("is a device") && said.contains("--follow"), "{said}");
    }
}
