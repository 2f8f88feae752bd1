//! Logs in words.

use super::{Sound, Unsound};
use crate::log::{LogReader, Summary, summary_text};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

/// Reads a log from end to end. Damaged bytes are a warning: a log loses the frame they are in and no more.
pub(super) fn check(path: &Path) -> Result<Sound, Unsound> {
    let file = File::open(path).map_err(|error| Unsound::Unreadable(error.to_string()))?;
    let fault = |error: crate::log::LogError| Unsound::Faults(error.to_string());
    let mut reader = LogReader::open(BufReader::new(file)).map_err(fault)?;
    let mut summary = Summary::new();
    for entry in reader.by_ref() {
        summary.take(&entry.map_err(fault)?);
    }
    summary.finish(reader.bytes());
    let damaged = summary.damage_count;
    let lines = summary_text(&summary);
    Ok(Sound {
        kind: "a log",
        words: lines
            .lines()
            .filter(|line| !line.trim().is_empty())
            .map(str::to_owned)
            .collect(),
        warnings: if damaged == 0 {
            Vec::new()
        } else {
            vec![format!(
                "{damaged} damaged piece{}: what stood there is lost, the rest was read",
                if damaged == 1 { "" } else { "s" }
            )]
        },
    })
}
