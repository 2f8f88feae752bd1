//! Why a log cannot be read.

use std::fmt;
use std::io;

/// Why a log cannot be read (any further).
#[derive(Debug)]
pub enum LogError {
    /// The file cannot be read.
    Io(io::Error),
    /// The file cannot be opened.
    Unopened(io::Error),
    /// It is a folder; with a log that lies in it, if one does.
    Folder(Option<String>),
    /// There is nothing in it.
    Empty,
    /// Nothing in its first part is a record.
    NotALog {
        /// Bytes looked at.
        looked_at: u64,
    },
    /// It was written by a newer version.
    Newer {
        /// Where its header stands.
        offset: u64,
        /// Its format.
        format: u16,
    },
    /// It is of more lifts or tanks than this program can hold.
    TooLarge {
        /// Its lifts.
        lifts: u8,
        /// Its tanks.
        tanks: u8,
    },
}

impl fmt::Display for LogError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io(error) => write!(f, "cannot be read: {error}"),
            Self::Unopened(error) => write!(
                f,
                "cannot be read: {error}\nGive the file that a board or `risertrim simulate --log FILE` wrote."
            ),
            Self::Folder(None) => f.write_str("is a folder, not a log\nThere is no .rtlog file in it: give the log's own path."),
            Self::Folder(Some(log)) => write!(f, "is a folder, not a log\nGive the log itself, like {log}"),
            Self::Empty => f.write_str(
                "is empty: nothing was logged\nA log begins with the controller's first step; `risertrim simulate --log FILE` writes one to try.",
            ),
            Self::NotALog { looked_at } => write!(
                f,
                "is no log of risertrim: no record in its first {looked_at} bytes\nA log is what a board or `risertrim simulate --log FILE` writes; a CSV or TOML file is none."
            ),
            Self::Newer { offset, format } => write!(
                f,
                "is of log format {format} (header at byte {offset}); this program knows formats up to {}\nRead it with a newer version of risertrim.",
                risertrim::record::FORMAT
            ),
            Self::TooLarge { lifts, tanks } => write!(
                f,
                "is of {lifts} lifts and {tanks} tanks; this program holds {} and {}",
                crate::scenario::LIFTS,
                crate::scenario::TANKS
            ),
        }
    }
}

impl std::error::Error for LogError {}

impl From<io::Error> for LogError {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}
