//! One moment of a run, as whoever keeps its books sees it.

use super::control::{HostReadings, HostStep};
use super::jobs::Jobs;
use crate::plant::PlantState;
use risertrim::Command;
use risertrim::command::Refused;
use risertrim::commission::Outcome as Commissioned;

/// A command of the timeline that the controller did not take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RefusedCommand {
    /// When it was given, s since the start.
    pub at_s: f64,
    /// Line of the file that asks for it.
    pub line: usize,
    /// The command.
    pub command: Command,
    /// Why it was not taken.
    pub why: Refused,
}

/// All there is to know at one moment: readings, belief and truth belong together.
#[derive(Clone, Copy, Debug)]
pub struct Moment<'a> {
    /// Time since the start, s.
    pub time_s: f64,
    /// The control period that ends at this moment, s.
    pub period_s: f64,
    /// What was read.
    pub readings: &'a HostReadings,
    /// What the controller made of it.
    pub step: &'a HostStep,
    /// The truth.
    pub truth: &'a PlantState,
    /// What is asked of each lift.
    pub jobs: &'a Jobs,
    /// What a trial that ended at this moment found.
    pub commissioned: Option<&'a Commissioned>,
    /// Every command of the timeline that was refused so far.
    pub refused: &'a [RefusedCommand],
}
