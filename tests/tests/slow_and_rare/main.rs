//! What comes over weeks, and what comes seldom: fouling and when cleaning is due, a blower that ages, returns that clog and
//! sensors that drift, and every alarm that no ordinary day raises.

mod blower;
mod fouling;
mod night;
mod no_air;
mod proof;
mod raised;
mod shipped_days;

use risertrim::alarm::Kind;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Moment, Simulation};

/// Seconds in a day.
const DAY_S: f64 = 86_400.0;

/// A shipped place on which nothing happens by itself.
fn shipped(name: &str) -> Scenario {
    let mut scenario = Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"));
    scenario.timeline.clear();
    scenario
}

/// Runs so long; what `look` makes of each moment.
fn run(simulation: &mut Simulation, seconds: f64, mut look: impl FnMut(&Moment<'_>)) {
    let until_s = simulation.time_s() + seconds - 1e-6;
    while simulation.time_s() < until_s {
        look(&simulation.step().unwrap());
    }
}

/// An alarm of this kind stands.
fn stands(moment: &Moment<'_>, kind: Kind) -> bool {
    moment
        .step
        .alarms
        .iter()
        .any(|alarm| alarm.kind == kind && alarm.stands())
}
