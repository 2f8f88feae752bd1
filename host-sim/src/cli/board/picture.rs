//! One line a lift: drawn over itself on a terminal.

use risertrim_sim::names::{Names, when_to_come};
use risertrim_sim::output::{clock, lift_state, wrapped};
use risertrim_sim::simulate::HostStep;
use std::fmt::Write as _;
use std::io::{self, IsTerminal, Write as _};
use std::time::{Duration, Instant};

/// Time between two pictures.
const EVERY: Duration = Duration::from_millis(250);

/// Shows steps as they come: on a terminal drawn over one another, elsewhere nothing.
pub struct Picture {
    names: Names,
    wanted: bool,
    drawn: usize,
    last: Option<Instant>,
}

impl Picture {
    /// For lifts of these names.
    pub fn new(quiet: bool, names: Names) -> Self {
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
        let picture = lines(&self.names, time_s, step);
        let back = self.back();
        self.drawn = picture.lines().count();
        let picture = back + &picture;
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

/// A step: the time, one line a lift, then the alarms that stand, the most urgent first, with what they mean and what to do.
pub fn lines(names: &Names, time_s: f64, step: &HostStep) -> String {
    let mut text = format!("{}\n", clock(time_s));
    for (index, lift) in (0..).zip(&step.lifts) {
        let name = names.lift(index);
        let _ = writeln!(
            text,
            "{name:<12} {:6.1} of {:6.1} L/min  opening {:3.0} %  {}",
            lift.flow.l_min(),
            lift.target.l_min(),
            lift.command.share() * 100.0,
            lift_state(lift.state)
        );
    }
    for alarm in step.alarms.iter().filter(|alarm| alarm.stands()) {
        let when = format!("come {}", when_to_come(alarm.kind.urgency())).to_uppercase();
        text.push_str(&wrapped(&format!("{when}  {}", names.sentence(alarm)), 4));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use risertrim::alarm::{Alarm, Kind, Standing, Subject};

    #[test]
    fn alarms_that_stand_are_shown_with_name_meaning_and_what_to_do() {
        let mut step = HostStep::empty(risertrim::Millis(0), 1000);
        let over = Alarm {
            standing: Standing::Over,
            ..Alarm::new(Kind::LevelHigh, Subject::Tank(0))
        };
        let stands = Alarm::new(Kind::LevelLow, Subject::Tank(1));
        step.alarms.extend([stands, over]);
        let names = Names {
            tanks: ["sump", "fry"].map(str::to_owned).to_vec(),
            lifts: Vec::new(),
        };
        let shown = lines(&names, 0.0, &step)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        let text = Kind::LevelLow.text();
        assert!(shown.contains(&format!("Tank fry: {}. ", text.what)), "{shown}");
        for part in [text.means, text.act] {
            assert!(shown.to_lowercase().contains(&part.to_lowercase()), "{part}: {shown}");
        }
        assert!(!shown.contains("sump"), "what is over does not stand: {shown}");
    }
}
