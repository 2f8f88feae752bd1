//! Text as a scenario: a report or a place, never a panic; a place that is accepted can be built and run.
#![no_main]
#![forbid(unsafe_code)]

use libfuzzer_sys::fuzz_target;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::Simulation;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    match Scenario::parse("fuzzed.toml", text) {
        Ok(scenario) => {
            if let Ok(mut simulation) = Simulation::new(&scenario, scenario.seed) {
                for _ in 0..5 {
                    if simulation.step().is_err() {
                        break;
                    }
                }
            }
        }
        Err(report) => assert!(report.faults() > 0 && !report.to_string().is_empty()),
    }
});
