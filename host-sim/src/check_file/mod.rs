//! Says what a file of ours is, whether it is sound, and what it means in words.
//!
//! | file | what |
//! | --- | --- |
//! | `explain` | a place in words |
//! | `fish` | what it leaves untold about its fish |
//! | `air` | figures of its blower in another unit |
//! | `water` | outlets in a ring, crests that drown |
//! | `points` | measured points in words |
//! | `logs` | logs in words |

mod air;
mod explain;
mod fish;
mod logs;
mod points;
mod water;

use crate::calibrate::NamedLift;
use crate::scenario::{HostInstallation, Scenario, parse_installation};
use crate::text_file;
use std::fmt;
use std::path::Path;

/// What was found about a sound file.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// What kind of file it is.
    pub kind: &'static str,
    /// What it says, a paragraph each.
    pub words: Vec<String>,
    /// What is doubtful.
    pub warnings: Vec<String>,
}

/// Why a file is not sound.
#[derive(Clone, Debug, PartialEq)]
pub enum Unsound {
    /// It cannot be read.
    Unreadable(String),
    /// Its name tells no kind of file of ours.
    Unknown(String),
    /// Points were given without the place they were measured at.
    NoInstallation,
    /// Every fault in it, for people.
    Faults(String),
}

impl fmt::Display for Unsound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable(why) => write!(f, "cannot be read: {why}"),
            Self::Unknown(ending) => write!(
                f,
                "\"{ending}\" is no ending of a file of ours: .toml is a place or a scenario, .csv are measured points, .rtlog is a log"
            ),
            Self::NoInstallation => f.write_str(
                "measured points belong to a place: name its file with --installation, so that lifts and levels can be checked",
            ),
            Self::Faults(report) => f.write_str(report),
        }
    }
}

impl std::error::Error for Unsound {}

/// Checks a file. `lifts` are those of the place that measured points belong to.
///
/// # Errors
/// It cannot be read, is none of ours, or holds faults.
pub fn check_file(path: &Path, lifts: Option<&[NamedLift]>) -> Result<Sound, Unsound> {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    let name = path.display().to_string();
    let read = || text_file::read(path).map_err(|error| Unsound::Unreadable(error.to_string()));
    match ending {
        "toml" => check_place(&name, &read()?),
        "rtlog" => logs::check(path),
        "csv" => points::check(&name, &read()?, lifts.ok_or(Unsound::NoInstallation)?),
        other => Err(Unsound::Unknown(other.to_owned())),
    }
}

/// Checks the text of a scenario or of an installation alone.
///
/// # Errors
/// It holds faults.
pub fn check_place(name: &str, text: &str) -> Result<Sound, Unsound> {
    // What has no [run] is a place without a day, and is not to be blamed for that.
    let has_run = text.lines().any(|line| line.trim_start().starts_with("[run]"));
    if !has_run && let Ok(place) = parse_installation(name, text) {
        let mut warnings = place.warnings;
        if let Ok(scenario) = Scenario::of_installation(name, text) {
            warnings.extend(explain::floors(&scenario));
        }
        warnings.extend(doubts(&place.told, &place.tank_names, &place.lift_names));
        return Ok(Sound {
            kind: "a place without a day to simulate",
            words: explain::place(&place.name, &place.told, &place.tank_names, &place.lift_names),
            warnings,
        });
    }
    let scenario = Scenario::parse_to_check(name, text).map_err(|report| Unsound::Faults(report.to_string()))?;
    let (words, running) = explain::scenario(&scenario);
    let mut warnings = scenario.warnings.clone();
    warnings.extend(running);
    warnings.extend(doubts(&scenario.told, &scenario.tank_names, &scenario.lift_names));
    Ok(Sound {
        kind: "a scenario",
        words,
        warnings,
    })
}

/// What is sound by itself and doubtful all the same.
fn doubts(told: &HostInstallation, tanks: &[String], lifts: &[String]) -> Vec<String> {
    let mut doubts = air::doubts(told);
    doubts.extend(water::doubts(told, tanks));
    doubts.extend(fish::doubts(told, tanks, lifts));
    doubts
}
