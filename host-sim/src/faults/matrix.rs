//! Every fault at every place, side by side.

use super::catalogue;
use super::cell::{self, Cell, NotTried, Tried};
use super::fault::Fault;
use super::stage::Stage;
use crate::scenario::Scenario;
use crate::simulate::SimulateError;
use rayon::prelude::*;
use serde::Serialize;
use std::sync::atomic::{AtomicUsize, Ordering};

/// The whole matrix.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Matrix {
    /// Each fault at each place, place by place.
    pub cells: Vec<Cell>,
    /// Faults that a place has no part for, and which.
    pub not_tried: Vec<NotTried>,
    /// Promises that were not kept, in all cells together.
    pub broken: usize,
    /// Harm that no setting could have prevented, in all cells together.
    pub exceptions: usize,
    /// Time it took on this machine, s.
    pub wall_s: f64,
}

/// Runs `faults` (or all of them, when none is given) at each of `places`, by name; `progress` is told the share done.
///
/// # Errors
/// A place that cannot be, or something that cannot happen to it.
pub fn run(
    places: &[(String, Scenario)],
    faults: &[Fault],
    seed: Option<u64>,
    progress: &(impl Fn(f64) + Sync),
) -> Result<Matrix, SimulateError> {
    let start = std::time::Instant::now();
    let stages: Vec<Option<Stage>> = places
        .par_iter()
        .map(|(name, scenario)| Stage::settle(name, scenario, seed.unwrap_or(scenario.seed)))
        .collect::<Result<_, _>>()?;
    let pairs: Vec<(&Stage, &Fault)> = stages
        .iter()
        .flatten()
        .flat_map(|stage| faults.iter().map(move |fault| (stage, fault)))
        .collect();
    let done = AtomicUsize::new(0);
    let tried: Vec<Tried> = pairs
        .par_iter()
        .map(|(stage, fault)| {
            let cell = cell::run(stage, fault);
            #[allow(clippy::cast_precision_loss)]
            progress((done.fetch_add(1, Ordering::Relaxed) + 1) as f64 / pairs.len() as f64);
            cell
        })
        .collect::<Result<_, _>>()?;
    let (mut cells, mut not_tried) = (Vec::new(), Vec::new());
    for one in tried {
        match one {
            Tried::Ran(cell) => cells.push(*cell),
            Tried::No(why) => not_tried.push(why),
        }
    }
    Ok(Matrix {
        broken: cells.iter().map(|cell| cell.broken.len()).sum(),
        exceptions: cells.iter().map(|cell| cell.exceptions.len()).sum(),
        cells,
        not_tried,
        wall_s: start.elapsed().as_secs_f64(),
    })
}

/// Every fault there is, or those whose name holds one of `parts`.
#[must_use]
pub fn faults(parts: &[String]) -> Vec<Fault> {
    let all = catalogue::all();
    if parts.is_empty() {
        return all;
    }
    let wanted = |fault: &Fault| parts.iter().any(|part| fault.name.contains(part.as_str()));
    all.into_iter().filter(wanted).collect()
}
