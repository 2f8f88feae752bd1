//! Logs as a simulation writes them.

use risertrim::record::Plan;
use risertrim_sim::log::LoggedController;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Run, Simulation, Watch};

/// The log of a scenario's first hours.
///
/// # Panics
/// When there is no scenario of this name, or it does not run.
#[must_use]
pub fn log_of(name: &str, hours: f64, plan: Plan) -> Vec<u8> {
    let scenario = Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"));
    let controller = Simulation::controller(&scenario).expect("a shipped scenario starts");
    let logged = LoggedController::new(controller, plan, Vec::new());
    let run = Run::driven_by(&scenario, Some(hours), None, logged).expect("a shipped scenario starts");
    let (_, logged) = run
        .finish_with_control(&mut Watch::default())
        .expect("a shipped scenario runs");
    logged.finish().expect("memory takes everything").0
}
