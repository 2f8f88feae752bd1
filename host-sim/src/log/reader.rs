//! Reading a log, from anything that gives bytes.

use super::clock::{Clock, basis};
use super::entry::{Entry, What};
use super::error::LogError;
use crate::scenario::{LIFTS, TANKS};
use risertrim::frame::{FrameReader, Taken};
use risertrim::record::{Began, Record, Unread, read, read_installation};
use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Longest payload with its checksum; an installation of twelve lifts and tanks is the longest there is, with about 6 KiB.
const LONGEST: usize = 32 * 1024;
/// Bytes read at a time.
const CHUNK: usize = 64 * 1024;
/// A file without any record in its first so many bytes is no log.
const PATIENCE: u64 = 1024 * 1024;
/// A record whose number is this much lower than expected, or less, is late or repeated; further back another log begins.
const LATE: u16 = 64;

/// Opens the file of a log.
///
/// # Errors
/// It is a folder, or cannot be opened.
pub fn open_log(path: &Path) -> Result<File, LogError> {
    if path.is_dir() {
        return Err(LogError::Folder(a_log_in(path)));
    }
    File::open(path).map_err(LogError::Unopened)
}

/// The first log in a folder, by name.
fn a_log_in(folder: &Path) -> Option<String> {
    let entries = std::fs::read_dir(folder).ok()?;
    let paths = entries.filter_map(|entry| entry.ok().map(|entry| entry.path()));
    let logs = paths.filter(|path| path.extension().is_some_and(|end| end == "rtlog"));
    logs.min().map(|path| path.display().to_string())
}

/// Reads a log entry by entry; memory does not grow with it.
///
/// At the end of what can be read it gives `None`. With [`LogReader::following`] it may be asked again later, when the file may have
/// grown; otherwise a frame that is not complete is told as torn first.
#[derive(Debug)]
pub struct LogReader<R> {
    input: R,
    frames: Box<FrameReader<LONGEST>>,
    chunk: Vec<u8>,
    at: usize,
    ready: VecDeque<Entry>,
    story: Story,
    follows: bool,
    ended: bool,
}

/// What has to be known of the records before to understand the next.
#[derive(Clone, Copy, Debug, Default)]
struct Story {
    expected: Option<u16>,
    session: u32,
    clock: Clock,
    records: u64,
}

impl<R: Read> LogReader<R> {
    /// Opens a log: reads to its first record.
    ///
    /// # Errors
    /// It cannot be read, is empty, no log, or of a newer format.
    pub fn open(input: R) -> Result<Self, LogError> {
        let mut reader = Self::new(input);
        reader.find_first()?;
        Ok(reader)
    }

    /// Reads from something that goes on giving bytes after it gave none: a file that grows, a port. There may be nothing in it yet.
    #[must_use]
    pub fn following(input: R) -> Self {
        Self {
            follows: true,
            ..Self::new(input)
        }
    }

    fn new(input: R) -> Self {
        Self {
            input,
            frames: Box::default(),
            chunk: Vec::with_capacity(CHUNK),
            at: 0,
            ready: VecDeque::new(),
            story: Story::default(),
            follows: false,
            ended: false,
        }
    }

    /// Bytes taken in so far.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.frames.taken()
    }

    fn find_first(&mut self) -> Result<(), LogError> {
        while self.story.records == 0 {
            if !self.advance()? {
                return Err(match self.frames.taken() {
                    0 => LogError::Empty,
                    looked_at => LogError::NotALog { looked_at },
                });
            }
        }
        Ok(())
    }

    /// Takes bytes in until an entry is ready; false at the end.
    fn advance(&mut self) -> Result<bool, LogError> {
        let before = self.ready.len();
        loop {
            while let Some(byte) = self.chunk.get(self.at) {
                self.at += 1;
                let offset = self.frames.began();
                match self.frames.take(*byte) {
                    Taken::Nothing => continue,
                    Taken::Damaged(damage) => {
                        let what = What::Damaged(damage);
                        self.ready.push_back(self.story.entry(damage.offset, what));
                    }
                    Taken::Payload(payload) => self.story.tell(offset, payload, &mut self.ready)?,
                }
                if self.ready.len() > before {
                    return Ok(true);
                }
            }
            if !self.refill()? {
                return Ok(self.ready.len() > before);
            }
        }
    }

    /// Reads the next chunk; at the end of a log that is not followed, tells a torn frame.
    fn refill(&mut self) -> Result<bool, LogError> {
        let looked_at = self.frames.taken();
        if self.story.records == 0 && looked_at > PATIENCE {
            return Err(LogError::NotALog { looked_at });
        }
        self.chunk.resize(CHUNK, 0);
        self.at = 0;
        let read = loop {
            match self.input.read(&mut self.chunk) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                // A port without news.
                Err(error) if self.follows && is_idle(&error) => break 0,
                other => break other?,
            }
        };
        self.chunk.truncate(read);
        if read == 0
            && !self.follows
            && let Some(damage) = self.frames.finish()
        {
            let what = What::Damaged(damage);
            self.ready.push_back(self.story.entry(damage.offset, what));
        }
        Ok(read > 0)
    }
}

fn is_idle(error: &io::Error) -> bool {
    matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock)
}

impl<R: Read> Iterator for LogReader<R> {
    type Item = Result<Entry, LogError>;

    fn next(&mut self) -> Option<Self::Item> {
        if let Some(entry) = self.ready.pop_front() {
            return Some(Ok(entry));
        }
        if self.ended {
            return None;
        }
        match self.advance() {
            Ok(_) => self.ready.pop_front().map(Ok),
            Err(error) => {
                // What follows a header of a newer format may mean anything.
                self.ended = true;
                Some(Err(error))
            }
        }
    }
}

impl Story {
    fn entry(&self, offset: u64, what: What) -> Entry {
        Entry {
            offset,
            session: self.session,
            time_ms: self.clock.total_ms(),
            time_broken: false,
            what,
        }
    }

    /// What an intact payload says, and what its number says is missing before it.
    fn tell(&mut self, offset: u64, payload: &[u8], ready: &mut VecDeque<Entry>) -> Result<(), LogError> {
        let (number, record, rest) = match read::<LIFTS, TANKS>(payload) {
            Ok(read) => read,
            Err(Unread::NewerFormat(format)) => return Err(LogError::Newer { offset, format }),
            Err(Unread::NotARecord) => match super::older::read(payload) {
                Some((number, record)) => (number, record, &[][..]),
                None => {
                    ready.push_back(self.entry(offset, What::Unknown));
                    return Ok(());
                }
            },
        };
        let starts = matches!(&record, Record::Header(header) if matches!(header.began, Began::Started(_)));
        if !self.number_follows(offset, number, starts, ready) {
            ready.push_back(self.entry(offset, What::Repeated(number)));
            return Ok(());
        }
        self.records += 1;
        if let Record::Header(header) = &record {
            if usize::from(header.lifts) > LIFTS || usize::from(header.tanks) > TANKS {
                let (lifts, tanks) = (header.lifts, header.tanks);
                return Err(LogError::TooLarge { lifts, tanks });
            }
            if starts {
                self.session += 1;
                self.clock.restart();
            }
        }
        let (_, time_broken) = match basis(&record) {
            Some(basis) => self.clock.take(basis.now),
            None => (0, false),
        };
        let what = match record {
            Record::Installation(mark) => What::Installation {
                mark,
                installation: read_installation(mark, rest).ok().map(Box::new),
            },
            record => What::Record(record),
        };
        ready.push_back(Entry {
            time_broken,
            ..self.entry(offset, what)
        });
        Ok(())
    }

    /// Compares a record's number with the one expected; false when the record was there before.
    fn number_follows(&mut self, offset: u64, number: u16, starts: bool, ready: &mut VecDeque<Entry>) -> bool {
        let ahead = self.expected.map_or(0, |expected| number.wrapping_sub(expected));
        let behind = ahead.wrapping_neg();
        if starts || ahead == 0 {
            // A start begins with any number.
        } else if behind <= LATE && behind != 0 {
            return false;
        } else if ahead < 1 << 15 {
            ready.push_back(self.entry(offset, What::Missing(u32::from(ahead))));
        } else {
            self.clock.restart();
            ready.push_back(self.entry(offset, What::Stretch));
        }
        self.expected = Some(number.wrapping_add(1));
        true
    }
}
