//! Scenarios: an installation, how the real one differs from it, and what happens over the day, read from TOML.
//!
//! | file | what |
//! | --- | --- |
//! | `section`, `log`, `hint` | takes keys from a table, checks them, notes every fault with its line, guesses what was meant |
//! | `slip` | what was meant where a file is no TOML |
//! | `report` | all faults of a file at once |
//! | `site`, `tank`, `outlet`, `lift`, `control` | the installation, read once for the controller and once for the plant |
//! | `check` | the controller's own check, brought back to the file's lines |
//! | `truth` | spreads between the told and the real installation, drawn from a seed |
//! | `timeline`, `event` | targets and events |
//! | `reading` | puts the parts of a file together |
//! | `shipped` | the scenarios built into the program |
//! | `edit` | sets a key of a lift in a file and leaves all else as it is |
//!
//! Units stand at the end of keys: `_mm`, `_l_min` (water, or free air at 100 kPa and 20 C), `_kpa`, `_s`, `_h`,
//! `_percent`. Heights are above the floor of the tank they belong to; those of a lift above its source's floor.

mod check;
mod control;
#[cfg(feature = "tools")]
mod edit;
mod event;
mod happening;
mod hint;
mod lift;
mod log;
mod outlet;
mod reading;
mod report;
mod section;
mod shipped;
mod site;
mod slip;
mod tank;
#[cfg(test)]
mod tests;
mod timeline;
mod truth;
mod units;
mod valve;

#[cfg(feature = "tools")]
pub use edit::{WriteError, digits, with_lift_key};
#[cfg(feature = "tools")]
pub(crate) use edit::{calibration_table, document, set};
pub use happening::{BoardEvent, Happening, Timed};
pub use report::{Finding, Kind, Report};
pub use truth::Truth;

use crate::plant::{PlantSpec, SpecError};
use reading::{Wanted, read};
use risertrim::installation::Installation;
use std::path::Path;

/// Lifts that the host can hold.
pub const LIFTS: usize = 12;
/// Tanks that the host can hold.
pub const TANKS: usize = 12;

/// An installation at the host's capacities.
pub type HostInstallation = Installation<LIFTS, TANKS>;

/// An installation with the names of its parts.
#[derive(Clone, Debug)]
pub struct Named {
    /// Name of the place.
    pub name: String,
    /// Names of the tanks, in order.
    pub tank_names: Vec<String>,
    /// Names of the lifts, in order.
    pub lift_names: Vec<String>,
    /// What the controller is told.
    pub told: HostInstallation,
    /// What is doubtful in the file, each with its line.
    pub warnings: Vec<String>,
}

/// A scenario: an installation, the truth about it and what happens.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// Name of the place.
    pub name: String,
    /// Names of the tanks, in order.
    pub tank_names: Vec<String>,
    /// Names of the lifts, in order.
    pub lift_names: Vec<String>,
    /// Length of the run, h.
    pub hours: f64,
    /// Seed unless another is asked for.
    pub seed: u64,
    /// What the controller is told.
    pub told: HostInstallation,
    /// How the real installation differs. May be changed before [`Scenario::plant`].
    pub truth: Truth,
    /// What happens, in the order of time.
    pub timeline: Vec<Timed>,
    /// What is doubtful in the file, each with its line.
    pub warnings: Vec<String>,
    /// The told installation in the plant's terms.
    base: PlantSpec,
}

impl Scenario {
    /// Reads a scenario from its text; `name_of_file` is for messages.
    ///
    /// # Errors
    /// A report of every fault found.
    pub fn parse(name_of_file: &str, text: &str) -> Result<Self, Report> {
        read(name_of_file, text, Wanted::Day)
    }

    /// The same for somebody who asks whether a file is right: what could run, but as nobody means it, is a fault too.
    ///
    /// # Errors
    /// A report of every fault found.
    pub fn parse_to_check(name_of_file: &str, text: &str) -> Result<Self, Report> {
        read(name_of_file, text, Wanted::CheckedDay)
    }

    /// A scenario of an installation alone, with `[run]`, `[truth]` and all that happens left out: the real place is as told.
    ///
    /// # Errors
    /// A report of every fault found.
    pub fn of_installation(name_of_file: &str, text: &str) -> Result<Self, Report> {
        let mut scenario = read(name_of_file, text, Wanted::Installation)?;
        scenario.truth = Truth::default();
        scenario.timeline.clear();
        Ok(scenario)
    }

    /// The same on another real installation, which is then as described and not drawn.
    #[must_use]
    pub fn on(&self, real: PlantSpec) -> Self {
        Self {
            truth: Truth::default(),
            base: real,
            ..self.clone()
        }
    }

    /// Reads a scenario from a file.
    ///
    /// # Errors
    /// A report of every fault found, or why the file cannot be read.
    pub fn load(path: &Path) -> Result<Self, Report> {
        let name = path.display().to_string();
        Self::parse(&name, &file(path)?)
    }

    /// Name and text of each scenario that comes with the program; the first is the default.
    #[must_use]
    pub const fn shipped() -> &'static [(&'static str, &'static str)] {
        shipped::shipped()
    }

    /// Name and text of each trial that comes with the program: to stress or to commission, not an ordinary day.
    #[must_use]
    pub const fn trials() -> &'static [(&'static str, &'static str)] {
        shipped::trials()
    }

    /// The shipped scenario (or trial) of this name, or the file at this path.
    ///
    /// # Errors
    /// A report of every fault found, or that there is neither.
    pub fn by_name_or_path(name_or_path: &str) -> Result<Self, Report> {
        let known = || Self::shipped().iter().chain(Self::trials());
        let short = |name: &str| name.rsplit('/').next().is_some_and(|short| short == name_or_path);
        if let Some((name, text)) = known().find(|(name, _)| *name == name_or_path || short(name)) {
            return Self::parse(&format!("{name}.toml"), text);
        }
        let path = Path::new(name_or_path);
        if path.exists() || name_or_path.ends_with(".toml") {
            return Self::load(path);
        }
        let names: Vec<&str> = known().map(|(name, _)| *name).collect();
        let hint = match hint::nearest(name_or_path, names.iter().copied()) {
            Some(near) => format!("did you mean {near}? There are: {}", names.join(", ")),
            None => format!("there are: {}; or give the path of a file", names.join(", ")),
        };
        Err(Report::unreadable(
            name_or_path,
            format!("there is no scenario \"{name_or_path}\""),
            Some(hint),
        ))
    }

    /// The real installation for a seed: the told values with the spreads of [`Scenario::truth`] drawn from it. The same
    /// seed gives the same plant.
    ///
    /// # Errors
    /// A value that the plant refuses: only for a truth changed to something extreme.
    pub fn plant(&self, seed: u64) -> Result<PlantSpec, SpecError> {
        let mut spec = self.base.clone();
        self.truth.apply(&mut spec, seed);
        spec.check()?;
        Ok(spec)
    }

    /// Everything that happens before `until_s`, in the order of time, the daily ones unfolded.
    #[must_use]
    pub fn happenings(&self, until_s: f64) -> Vec<(f64, &Timed)> {
        timeline::unfolded(&self.timeline, until_s)
    }

    /// What the sensor of a tank would show for a level reading of the plant, in the sensor's own unit. NaN for an unknown
    /// tank.
    #[must_use]
    #[allow(clippy::cast_possible_truncation)] // the controller reads f32
    pub fn raw_reading(&self, tank: usize, level_m: f64) -> f32 {
        let Some(tank) = self.told.tanks.get(tank) else {
            return f32::NAN;
        };
        let scale = &tank.sensor.scale;
        let (low, high) = (f64::from(scale.level_low_m), f64::from(scale.level_high_m));
        let (raw_low, raw_high) = (f64::from(scale.raw_low), f64::from(scale.raw_high));
        let level = level_m - f64::from(tank.sensor.zero_m);
        (raw_low + (level - low) / (high - low) * (raw_high - raw_low)) as f32
    }
}

/// Reads an installation alone: `[run]`, `[truth]`, targets and events may be missing, and starting levels too.
///
/// # Errors
/// A report of every fault found.
pub fn parse_installation(name_of_file: &str, text: &str) -> Result<Named, Report> {
    let Scenario {
        name,
        tank_names,
        lift_names,
        told,
        warnings,
        ..
    } = read(name_of_file, text, Wanted::Installation)?;
    Ok(Named {
        name,
        tank_names,
        lift_names,
        told,
        warnings,
    })
}

/// Reads an installation from a file, as [`parse_installation`] does.
///
/// # Errors
/// A report of every fault found, or why the file cannot be read.
pub fn load_installation(path: &Path) -> Result<Named, Report> {
    parse_installation(&path.display().to_string(), &file(path)?)
}

fn file(path: &Path) -> Result<String, Report> {
    crate::text_file::read(path).map_err(|error| {
        let name = path.display().to_string();
        Report::unreadable(&name, format!("{name} cannot be read: {error}"), None)
    })
}
