//! All seeds that are not in the file yet.

use super::file::{FileError, Sheet};
use super::row::Row;
use crate::scenario::Scenario;
use crate::simulate::SimulateError;
use rayon::prelude::*;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;
use std::sync::Mutex;

/// Part I of N of the seeds, I from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shard {
    /// Which part.
    pub part: u64,
    /// Of how many.
    pub of: u64,
}

impl Shard {
    /// True for a seed that is this part's.
    #[must_use]
    pub fn has(self, seed: u64) -> bool {
        seed % self.of == self.part - 1
    }
}

impl std::str::FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parts = text
            .split_once('/')
            .and_then(|(part, of)| Some((part.parse().ok()?, of.parse().ok()?)));
        match parts {
            Some((part, of)) if part >= 1 && part <= of => Ok(Self { part, of }),
            _ => Err("give I/N with I from 1 to N, as 2/8".to_owned()),
        }
    }
}

/// Which seeds of a scenario to run, and for how long.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Length of each run, h.
    pub hours: f64,
    /// First seed.
    pub first: u64,
    /// Seeds, one after the other.
    pub count: u64,
    /// Only a part of them.
    pub shard: Option<Shard>,
}

/// Why a sweep stopped.
#[derive(Debug)]
pub enum SweepError {
    /// The file.
    File(FileError),
    /// A run.
    Run(SimulateError),
}

impl From<FileError> for SweepError {
    fn from(error: FileError) -> Self {
        Self::File(error)
    }
}

impl From<SimulateError> for SweepError {
    fn from(error: SimulateError) -> Self {
        Self::Run(error)
    }
}

/// Runs every seed of the plan that `path` does not hold yet; each row is on file as soon as it is known. Without a path
/// nothing is kept. Gives all rows of the file, in the order of seeds.
///
/// # Errors
/// The file cannot be written or holds something else, or a run failed.
pub fn sweep(
    scenario: &Scenario,
    plan: Plan,
    path: Option<&Path>,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<Vec<Row>, SweepError> {
    crate::simulate::Run::new(scenario, Some(plan.hours), None)?; // what input gets wrong is found before anything is written
    let sheet = Sheet::new(scenario, plan.hours);
    let mut rows = match path {
        Some(path) if path.exists() => sheet.read(path)?,
        _ => Vec::new(),
    };
    let known: std::collections::HashSet<u64> = rows.iter().map(|row| row.seed).collect();
    let seeds: Vec<u64> = (0..plan.count)
        .map(|more| plan.first.wrapping_add(more))
        .filter(|seed| plan.shard.is_none_or(|shard| shard.has(*seed)) && !known.contains(seed))
        .collect();
    let file = match path {
        Some(path) => {
            sheet.write(path, &rows)?; // without a line that was cut off
            let name = path.display().to_string();
            Some(
                OpenOptions::new()
                    .append(true)
                    .open(path)
                    .map_err(|error| FileError::Io(name, error))?,
            )
        }
        None => None,
    };
    let kept = Mutex::new((file, 0usize));
    let fresh: Result<Vec<Row>, SweepError> = seeds
        .par_iter()
        .map(|seed| {
            let row = Row::of_seed(scenario, plan.hours, *seed)?;
            if let Ok(mut kept) = kept.lock() {
                if let Some(file) = &mut kept.0 {
                    let line = sheet.line(&sheet.cells(&row));
                    let name = path.map(|path| path.display().to_string()).unwrap_or_default();
                    file.write_all(line.as_bytes())
                        .map_err(|error| FileError::Io(name, error))?;
                }
                kept.1 += 1;
                #[allow(clippy::cast_precision_loss)]
                progress(kept.1 as f64 / seeds.len() as f64);
            }
            Ok(row)
        })
        .collect();
    rows.extend(fresh?);
    rows.sort_by_key(|row| row.seed);
    if let Some(path) = path {
        sheet.write(path, &rows)?;
    }
    Ok(rows)
}
