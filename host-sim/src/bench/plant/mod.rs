//! The modelled installation beside general-purpose integrators, on the same work at the same accuracy.
//!
//! | file | what |
//! | --- | --- |
//! | `work` | what is integrated: an installation, its valves second by second, and how the answers are judged |
//! | `ours` | by the program's own plant |
//! | `ode` | by the `ode_solvers` crate, which also gives the reference |
//! | `scipy`, `plant_scipy.py` | by scipy, with the model written again in Python |

mod ode;
mod ours;
mod scipy;
mod work;

use crate::scenario::Scenario;
use crate::simulate::SimulateError;
use serde::Serialize;
use work::{Answer, Work, error_mm};

/// Tolerances that are tried, loosest first; the first that is as accurate as ours counts, the last if none is.
const TOLERANCES: [f64; 7] = [1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8];

/// One integrator on one work.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlantTime {
    /// Time for a simulated second, us.
    pub us_per_s: f64,
    /// Furthest that any level was from the reference, mm.
    pub error_mm: f64,
    /// How often the whole set of equations was solved in a simulated second.
    pub solves_per_s: f64,
    /// Step or tolerance.
    pub setting: String,
}

/// One integrator.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlantRow {
    /// Who.
    pub who: String,
    /// Valves that may move every second, as under the controller.
    pub moved: PlantTime,
    /// Valves that stand still: an installation left alone.
    pub still: PlantTime,
}

/// All of them.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlantBench {
    /// Simulated time with valves that move, s; sixty times as long with valves that stand still.
    pub seconds: u32,
    /// The program's own plant.
    pub ours: PlantRow,
    /// The `ode_solvers` crate.
    pub ode: PlantRow,
    /// scipy, or why it did not run.
    pub scipy: Result<PlantRow, String>,
}

/// Times everybody on the installation of a scenario, `seconds` with valves that move and sixty times as long with valves
/// that stand still.
///
/// # Errors
/// The scenario cannot run.
pub fn plant(scenario: &Scenario, seconds: u32) -> Result<PlantBench, SimulateError> {
    let moved = Judged::new(Work::moved(scenario, seconds)?)?;
    let still = Judged::new(moved.work.still())?;
    let row = |who: &str, moved, still| PlantRow {
        who: who.to_owned(),
        moved,
        still,
    };
    Ok(PlantBench {
        seconds,
        ours: row("this program's plant", moved.ours.clone(), still.ours.clone()),
        ode: row("ode_solvers, Dopri5", moved.ode()?, still.ode()?),
        scipy: moved.scipy().and_then(|(version, moved)| {
            let (_, still) = still.scipy()?;
            Ok(row(&version, moved, still))
        }),
    })
}

/// A work with its true answer and ours.
struct Judged {
    work: Work,
    truth: Vec<Vec<f64>>,
    ours: PlantTime,
}

impl Judged {
    fn new(work: Work) -> Result<Self, SimulateError> {
        let truth = ode::reference(&work)?;
        let ours = timed(&work, &truth, &ours::run(&work)?);
        Ok(Self { work, truth, ours })
    }

    fn ode(&self) -> Result<PlantTime, SimulateError> {
        let mut last = None;
        for tolerance in TOLERANCES {
            let time = timed(&self.work, &self.truth, &ode::run(&self.work, tolerance)?);
            if time.error_mm <= self.ours.error_mm {
                return Ok(time);
            }
            last = Some(time);
        }
        Ok(last.unwrap_or_else(|| self.ours.clone()))
    }

    fn scipy(&self) -> Result<(String, PlantTime), String> {
        let found = scipy::run(&self.work, &TOLERANCES, &self.truth, self.ours.error_mm)?;
        let last = found
            .answers
            .last()
            .ok_or_else(|| "python3 gave no answer".to_owned())?;
        Ok((found.version, timed(&self.work, &self.truth, last)))
    }
}

#[allow(clippy::cast_precision_loss)]
fn timed(work: &Work, truth: &[Vec<f64>], answer: &Answer) -> PlantTime {
    PlantTime {
        us_per_s: 1e6 * answer.took_s / work.seconds(),
        error_mm: error_mm(work, &answer.volumes_m3, truth),
        solves_per_s: answer.solves as f64 / work.seconds(),
        setting: answer.setting.clone(),
    }
}
