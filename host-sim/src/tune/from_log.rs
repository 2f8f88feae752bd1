//! Log files to a series.

use super::series::{Series, SeriesBuilder};
use crate::log::{HostInstallation, LogError, LogReader, open_log, samples};
use std::io::Read;
use std::path::Path;

/// Why the logs cannot be fitted.
#[derive(Debug)]
pub enum ReadError {
    /// One of them cannot be read.
    Log {
        /// Which.
        file: String,
        /// Why.
        error: LogError,
    },
    /// They hold nothing that a fit could use.
    Nothing(String),
    /// The installation does not suit the log.
    OtherPlace(String),
}

impl std::fmt::Display for ReadError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Log { file, error } => write!(f, "{file} {error}"),
            Self::Nothing(why) | Self::OtherPlace(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for ReadError {}

/// Reads log files in the order given, the earliest first; `progress` is told the share done now and then.
///
/// # Errors
/// A file cannot be read or is no log.
pub fn read_logs(
    files: &[impl AsRef<Path>],
    fallback: Option<&HostInstallation>,
    mut progress: impl FnMut(f64),
) -> Result<Series, ReadError> {
    let mut builder = SeriesBuilder::new(fallback.cloned());
    #[allow(clippy::cast_precision_loss)]
    let all = files.len() as f64;
    for (number, path) in files.iter().enumerate() {
        let path = path.as_ref();
        let file = path.display().to_string();
        let failed = |error: LogError| ReadError::Log {
            file: file.clone(),
            error,
        };
        let input = open_log(path).map_err(&failed)?;
        let length = input.metadata().map_or(0, |metadata| metadata.len());
        #[allow(clippy::cast_precision_loss)]
        let mut told = |bytes: u64| {
            let share = if length > 0 { bytes as f64 / length as f64 } else { 1.0 };
            progress((number as f64 + share) / all);
        };
        read_one(input, &mut builder, &mut told).map_err(failed)?;
    }
    Ok(builder.finish())
}

/// Reads a log from bytes.
///
/// # Errors
/// They are no log.
pub fn read_bytes(logs: &[&[u8]], fallback: Option<&HostInstallation>) -> Result<Series, LogError> {
    let mut builder = SeriesBuilder::new(fallback.cloned());
    for log in logs {
        read_one(*log, &mut builder, &mut |_| {})?;
    }
    Ok(builder.finish())
}

/// Samples between two reports of progress.
const PROGRESS_EVERY: u64 = 20_000;

fn read_one(input: impl Read, builder: &mut SeriesBuilder, progress: &mut impl FnMut(u64)) -> Result<(), LogError> {
    builder.cut();
    let reader = LogReader::open(input)?;
    let bytes = std::cell::Cell::new(0);
    let mut entries = reader;
    let told = std::iter::from_fn(|| {
        let entry = entries.next();
        bytes.set(entries.bytes());
        entry
    });
    for (count, sample) in (1u64..).zip(samples(told)) {
        builder.take(&sample?);
        if count % PROGRESS_EVERY == 0 {
            progress(bytes.get());
        }
    }
    Ok(())
}
