//! A simulation at the pace that was asked for.

use super::keys::Action;
use super::snapshot::{Pace, Snapshot};
use crate::plant::Change;
use crate::simulate::{Control, Outcome, Score, SimulateError, Simulation};
use risertrim::{Command, WaterFlow};
use std::time::{Duration, Instant};

/// Paces to choose from, times real time.
pub const PACES: [f64; 7] = [1.0, 10.0, 60.0, 300.0, 1_200.0, 3_600.0, 14_400.0];
/// The pace at the start: a minute a second.
const FIRST_PACE: usize = 2;
/// Longest time spent on steps before the view is drawn again.
const MOST_WORK: Duration = Duration::from_millis(60);
/// Share of an outlet left when it is clogged.
const CLOGGED: f64 = 0.5;

/// Anything that can be watched: a simulation on this machine, a board at the end of a cable.
pub trait Source {
    /// Lets time pass; `wall` is how much passed on the clock on the wall.
    ///
    /// # Errors
    /// It cannot go on.
    fn advance(&mut self, wall: Duration) -> Result<(), SimulateError>;

    /// The moment.
    fn snapshot(&self) -> Snapshot;

    /// Does what a key asked for to this lift, and says what was done.
    fn act(&mut self, action: Action, lift: usize) -> String;
}

/// A simulation that is watched, whatever drives its valves.
#[derive(Debug)]
pub struct Session<C> {
    simulation: Simulation<C>,
    score: Score,
    seed: u64,
    end_s: f64,
    pace: usize,
    paused: bool,
    owed_s: f64,
    shut: Vec<bool>,
    clogged: Vec<bool>,
    start: Instant,
}

impl<C: Control> Session<C> {
    /// Watches a simulation until `hours` have passed in it.
    #[must_use]
    pub fn new(simulation: Simulation<C>, seed: u64, hours: f64) -> Self {
        let scenario = simulation.scenario();
        Self {
            score: Score::new(scenario),
            shut: vec![false; scenario.lift_names.len()],
            clogged: vec![false; scenario.tank_names.len()],
            seed,
            end_s: 3_600.0 * hours,
            pace: FIRST_PACE,
            paused: false,
            owed_s: 0.0,
            start: Instant::now(),
            simulation,
        }
    }

    /// What came of it so far.
    #[must_use]
    pub fn outcome(&self) -> Outcome {
        let wall_s = self.start.elapsed().as_secs_f64();
        self.score.outcome(self.simulation.scenario(), self.seed, wall_s)
    }

    /// What drove the valves.
    #[must_use]
    pub fn into_control(self) -> C {
        self.simulation.into_control()
    }

    /// The simulation.
    #[must_use]
    pub fn simulation(&self) -> &Simulation<C> {
        &self.simulation
    }

    /// One control period.
    ///
    /// # Errors
    /// As [`Simulation::step`].
    pub fn step(&mut self) -> Result<(), SimulateError> {
        let moment = self.simulation.step()?;
        self.score.note(&moment);
        Ok(())
    }

    fn ended(&self) -> bool {
        self.simulation.time_s() + 1e-6 >= self.end_s
    }

    fn times(&self) -> f64 {
        PACES.get(self.pace).copied().unwrap_or(1.0)
    }

    fn name(&self, lift: usize) -> String {
        let names = &self.simulation.scenario().lift_names;
        names
            .get(lift)
            .map_or_else(|| "that lift".to_owned(), |name| format!("lift {name}"))
    }

    fn target(&mut self, lift: usize, share: f64) -> String {
        let name = self.name(lift);
        let job = self.simulation.moment().jobs.lifts.get(lift).copied();
        let (Some(job), Ok(index)) = (job, u8::try_from(lift)) else {
            return format!("there is no {name}");
        };
        let asked_m3_s = (job.target_m3_s * (1.0 + share)).max(0.0);
        #[allow(clippy::cast_possible_truncation)] // a flow
        let flow = WaterFlow::from_m3_s(asked_m3_s as f32);
        match self.simulation.command(Command::Target { lift: index, flow }) {
            Ok(()) => format!("target of {name} becomes {:.1} L/min", flow.l_min()),
            Err(error) => error.to_string(),
        }
    }

    fn tell(&mut self, command: Command, done: &str) -> String {
        match self.simulation.command(command) {
            Ok(()) => done.to_owned(),
            Err(error) => error.to_string(),
        }
    }

    fn shut(&mut self, lift: usize) -> String {
        let name = self.name(lift);
        let (Some(shut), Ok(index)) = (self.shut.get(lift).map(|shut| !shut), u8::try_from(lift)) else {
            return format!("there is no {name}");
        };
        let command = if shut {
            Command::OutOfService { lift: index }
        } else {
            Command::Automatic { lift: index }
        };
        let done = self
            .simulation
            .command(command)
            .and_then(|()| self.simulation.begin(Change::ShutLift { lift, shut }, 0.0));
        match done {
            Ok(()) => {
                if let Some(now) = self.shut.get_mut(lift) {
                    *now = shut;
                }
                let word = if shut { "shut" } else { "opened" };
                format!("{name} is {word} by hand, and the controller told")
            }
            Err(error) => error.to_string(),
        }
    }

    fn clog(&mut self, lift: usize) -> String {
        let scenario = self.simulation.scenario();
        let filled = scenario.told.lifts.get(lift).map(|lift| usize::from(lift.to));
        let Some((tank, told)) = filled.and_then(|tank| Some((tank, scenario.told.tanks.get(tank)?))) else {
            return format!("there is no {}", self.name(lift));
        };
        let name = scenario.tank_names.get(tank).cloned().unwrap_or_default();
        if told.outlets.is_empty() {
            return format!("{name} has no outlet to clog");
        }
        let clogged = self.clogged.get(tank).is_some_and(|clogged| !clogged);
        let left = if clogged { CLOGGED } else { 1.0 };
        let change = Change::ClogOutlet { tank, outlet: 0, left };
        match self.simulation.begin(change, 0.0) {
            Ok(()) => {
                if let Some(now) = self.clogged.get_mut(tank) {
                    *now = clogged;
                }
                if clogged {
                    format!("the return of {name} is half clogged; nobody tells the controller")
                } else {
                    format!("the return of {name} is clear again")
                }
            }
            Err(error) => error.to_string(),
        }
    }
}

impl<C: Control> Source for Session<C> {
    fn advance(&mut self, wall: Duration) -> Result<(), SimulateError> {
        if self.paused || self.ended() {
            self.owed_s = 0.0;
            return Ok(());
        }
        let begun = Instant::now();
        self.owed_s += self.times() * wall.as_secs_f64();
        let period_s = self.simulation.period_s();
        while self.owed_s >= period_s && !self.ended() {
            self.step()?;
            self.owed_s -= period_s;
            if begun.elapsed() > MOST_WORK {
                self.owed_s = 0.0; // slower than asked for: what cannot be done is not made up for
            }
        }
        Ok(())
    }

    fn snapshot(&self) -> Snapshot {
        let pace = match (self.ended(), self.paused) {
            (true, _) => Pace::Ended,
            (_, true) => Pace::Paused,
            _ => Pace::Times(self.times()),
        };
        let scenario = self.simulation.scenario();
        let mut snapshot = Snapshot::of(&self.simulation.moment(), scenario, pace);
        for (index, line) in snapshot.lifts.iter_mut().enumerate() {
            let filled = scenario.told.lifts.get(index).map(|lift| usize::from(lift.to));
            let clogged = filled.and_then(|tank| self.clogged.get(tank)) == Some(&true);
            let shut = self.shut.get(index) == Some(&true);
            line.meddled = match (shut, clogged) {
                (true, true) => "shut by hand, return clogged",
                (true, false) => "shut by hand",
                (false, true) => "return clogged",
                (false, false) => "",
            }
            .to_owned();
        }
        snapshot
    }

    fn act(&mut self, action: Action, lift: usize) -> String {
        match action {
            Action::Target(share) => self.target(lift, share),
            Action::Shut => self.shut(lift),
            Action::Clog => self.clog(lift),
            Action::Seen => self.tell(
                Command::Acknowledge,
                "every alarm is marked as seen; jumped sensors and gains of flow are believed now",
            ),
            Action::Reset => self.tell(Command::ResetLatched, "alarms that are over are off the list"),
            Action::Pause => {
                self.paused = !self.paused;
                String::new()
            }
            Action::Faster => {
                self.pace = (self.pace + 1).min(PACES.len() - 1);
                String::new()
            }
            Action::Slower => {
                self.pace = self.pace.saturating_sub(1);
                String::new()
            }
            Action::NextLift | Action::PreviousLift | Action::Quit => String::new(),
        }
    }
}
