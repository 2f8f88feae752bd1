//! A blower that can be set runs as it is told, and takes the less power for it.

use risertrim_sim::scenario::Scenario;
use risertrim_sim::simulate::{Control, ControlFailed, HostController, HostReadings, HostStep, Simulation};

/// The core's controller with a blower setting of our own.
struct Set {
    inner: HostController,
    speed: f32,
    units: u8,
}

impl Control for Set {
    fn command(&mut self, command: risertrim::Command) -> Result<(), ControlFailed> {
        Ok(self.inner.command(command)?)
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let mut step = self.inner.step(readings);
        (step.blower.speed, step.blower.units) = (self.speed, self.units);
        Ok(step)
    }
}

/// Manifold pressure, Pa, and power, W, after ten minutes with the valves left at the preset.
fn runs(air: &str, speed: f32, units: u8) -> (f64, f64) {
    let (_, text) = Scenario::shipped()[0];
    let told = format!("[air]\n{air}");
    let text = text.replacen("[air]", &told, 1);
    let mut scenario = Scenario::parse("driven.toml", &text).unwrap_or_else(|report| panic!("{report}"));
    scenario.timeline.clear();
    let inner = HostController::new(&scenario.told, &[]).unwrap();
    let mut simulation = Simulation::driven_by(&scenario, 1, Set { inner, speed, units }).unwrap();
    for _ in 0..600 {
        simulation.step().unwrap();
        simulation.openings_mut().fill(0.5);
    }
    let truth = simulation.moment().truth;
    (truth.manifold_pa, truth.power_w)
}

#[test]
fn a_slower_blower_holds_less_pressure_and_takes_less_power() {
    let speed = "least_speed_percent = 40";
    let (full_pa, full_w) = runs(speed, 1.0, 1);
    let (slow_pa, slow_w) = runs(speed, 0.9, 1);
    assert!(slow_pa < full_pa && slow_w < 0.9 * full_w, "{full_w} W, {slow_w} W");
}

#[test]
fn half_a_bank_gives_less_air_at_less_power_and_a_fixed_blower_hears_nothing() {
    let bank = "relay_units = 4";
    let (_, all_w) = runs(bank, 1.0, 4);
    let (_, half_w) = runs(bank, 1.0, 2);
    assert!(half_w < 0.9 * all_w && half_w > 0.2 * all_w, "{all_w} W, {half_w} W");
    let (fixed_pa, fixed_w) = runs("", 0.5, 0);
    assert!(fixed_pa > 0.0 && (fixed_w / all_w - 1.0).abs() < 1e-9);
}
