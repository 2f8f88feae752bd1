//! One line a lift: drawn over itself on a terminal.

use risertrim_sim::output::{clock, lift_state};
use risertrim_sim::simulate::HostStep;
use std::fmt::Write as _;
use std::io::{self, IsTerminal, Write as _};
use std::time::{Duration, Instant};

/// Time between two pictures.
const EVERY: Duration = Duration::from_millis(250);

/// Shows steps as they come: on a terminal drawn over one another, elsewhere nothing.
pub struct Picture {
    names: Vec<String>,
    wanted: bool,
    drawn: usize,
    last: Option<Instant>,
}

impl Picture {
    /// For lifts of these names.
    pub fn new(quiet: bool, names: Vec<String>) -> Self {
        Self {
            names,
            wanted: !quiet && io::stderr().is_terminal(),
            drawn: 0,
            last: None,
        }
    }

    /// True where it shows anything.
    pub fn wanted(&self) -> bool {
        self.wanted
    }

    /// Shows a step, unless the last was shown a moment ago.
    pub fn show(&mut self, time_s: f64, step: &HostStep) {
        if !self.wanted || self.last.is_some_and(|last| last.elapsed() < EVERY) {
            return;
        }
        self.last = Some(Instant::now());
        let picture = self.back() + &lines(&self.names, time_s, step);
        self.drawn = step.lifts.len().min(self.names.len()) + 1;
        let _ = io::stderr().write_all(picture.as_bytes());
    }

    /// To the first line of the last picture, the rest of the screen cleared.
    fn back(&self) -> String {
        if self.drawn == 0 {
            String::new()
        } else {
            format!("\x1b[{}F\x1b[J", self.drawn)
        }
    }

    /// Leaves nothing of it.
    pub fn end(&mut self) {
        let _ = io::stderr().write_all(self.back().as_bytes());
        self.drawn = 0;
    }
}

/// A step: the time, then one line a lift.
pub fn lines(names: &[String], time_s: f64, step: &HostStep) -> String {
    let mut text = format!("{}\n", clock(time_s));
    for (lift, name) in step.lifts.iter().zip(names) {
        let _ = writeln!(
            text,
            "{name:<12} {:6.1} of {:6.1} L/min  opening {:3.0} %  {}",
            lift.flow.l_min(),
            lift.target.l_min(),
            lift.command.share() * 100.0,
            lift_state(lift.state)
        );
    }
    text
}
