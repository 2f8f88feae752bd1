//! Why a board did not do what was asked.

use risertrim::link::Not;
use std::io;
use std::path::PathBuf;
use thiserror::Error;

/// Why a board did not do what was asked.
#[derive(Debug, Error)]
pub enum BoardError {
    /// No answer, however often it was asked.
    #[error(
        "the board does not answer (asked {times} times). Is it powered, is the line the right one, does its firmware speak \
         to this host?"
    )]
    Silent {
        /// How often it was asked.
        times: u32,
    },
    /// The line is gone.
    #[error("the line to the board broke: {0}")]
    Line(#[from] io::Error),
    /// The log cannot be written.
    #[error("the log cannot be written: {0}")]
    LogFile(#[source] io::Error),
    /// The board said no.
    #[error("{0}")]
    Not(#[from] Not),
    /// Board and host are of different versions.
    #[error(
        "the board's messages are of version {board}, this host's of version {host}: take firmware and program of one release"
    )]
    Version {
        /// The board's.
        board: u16,
        /// The host's.
        host: u16,
    },
    /// The answer is not one to this question.
    #[error(
        "the board gave an answer that does not belong to the question; firmware and program may be of different releases"
    )]
    WrongAnswer,
    /// The board has no room for this installation.
    #[error(
        "the installation has {lifts} lifts and {tanks} tanks; this board has room for {room_lifts} and {room_tanks}"
    )]
    TooLarge {
        /// Lifts wanted.
        lifts: usize,
        /// Tanks wanted.
        tanks: usize,
        /// Lifts it has room for.
        room_lifts: u8,
        /// Tanks it has room for.
        room_tanks: u8,
    },
    /// What was read back is not an installation.
    #[error(
        "what the board sent is not an installation this program knows; firmware and program may be of different releases"
    )]
    NotAnInstallation,
    /// The emulator cannot be started.
    #[error("the emulated board cannot be started: {why}")]
    Emulator {
        /// Why, and what to do.
        why: String,
    },
    /// There is no firmware to run.
    #[error("there is no firmware at {}: build it with scripts/firmware, or name another with --firmware", path.display())]
    NoFirmware {
        /// Where it was looked for.
        path: PathBuf,
    },
}
