//! One plain PI controller a lift, on the general-purpose `pid` crate.

use super::gains::{AtTarget, Tuning, at_targets, half_rule, simc};
use super::inferred::Inferred;
use super::yardstick::ramped;
use crate::scenario::HostInstallation;
use crate::simulate::{Control, ControlFailed, HostReadings, HostStep};
use pid::Pid;
use risertrim::air::Drive;
use risertrim::installation::Settings;
use risertrim::step::{BlowerStep, LiftState, LiftStep, TankStep};
use risertrim::trim::ValveTrim;
use risertrim::units::{Opening, WaterFlow};
use risertrim::{Command, FreeAir, Millis};

/// Time constants that are tried for the filter on the level, s; the best for the place is kept.
pub(super) const FILTERS_S: [f64; 3] = [20.0, 40.0, 80.0];

/// Time that a small move of a valve takes, s.
const VALVE_S: f64 = 1.0;

/// Delay of the loop besides the filter, s: half the interval between two moves, half a period, the way of a small move.
fn delay_s(settings: &Settings) -> f64 {
    0.5 * f64::from(settings.move_interval_s) + 0.5e-3 * f64::from(settings.period_ms) + 0.5
}

/// What is asked of one lift.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Mode {
    Automatic,
    Manual(Opening),
    OutOfService,
}

/// One lift's loop: set point, PI, valve.
#[derive(Clone, Debug)]
pub(super) struct Loop {
    pid: Pid<f64>,
    at: AtTarget,
    target_m3_s: f64,
    asked_m3_s: f64,
    mode: Mode,
    wanted: f64,
    valve: ValveTrim,
}

/// The loops of all lifts, and the place as they are told it.
#[derive(Clone, Debug)]
pub(super) struct Loops {
    pub told: HostInstallation,
    pub lifts: Vec<Loop>,
    essential: bool,
}

impl Loops {
    /// For a flow that comes through two filters of half of `filter_s` each: SIMC's rules with the closed loop as quick as the
    /// delay, which is what its author advises.
    pub fn on_level(told: &HostInstallation, filter_s: f64) -> Self {
        let (tau_s, theta_s) = half_rule(0.5 * filter_s, 0.5 * filter_s, delay_s(&told.settings));
        Self::new(told, |k| simc(k, tau_s, theta_s, theta_s))
    }

    /// For the flow that risertrim's filter believes: it knows of the valve's move at once, so the process has no lag but the
    /// valve's own way, and SIMC gives an integral with next to no gain; `loop_s` is the time of the closed loop.
    pub fn on_filter(told: &HostInstallation, loop_s: f64) -> Self {
        let theta_s = delay_s(&told.settings);
        Self::new(told, |k| simc(k, VALVE_S, theta_s, loop_s))
    }

    fn new(told: &HostInstallation, tuned: impl Fn(f64) -> Tuning) -> Self {
        let settings = &told.settings;
        let preset = Opening::new(settings.preset_opening);
        let period_s = 1e-3 * f64::from(settings.period_ms);
        let lifts = at_targets(told).into_iter().zip(&told.lifts).map(|(at, lift)| {
            let Tuning { gain, integral_s } = tuned(at.gain_m3_s);
            let target = f64::from(lift.target.m3_s);
            let mut pid = Pid::new(target, 1.0);
            pid.p(gain, 1.0).i(gain * period_s / integral_s, 1.0);
            Loop {
                pid,
                at,
                target_m3_s: target,
                asked_m3_s: target,
                mode: Mode::Automatic,
                wanted: at.opening,
                valve: ValveTrim::new(preset),
            }
        });
        Self {
            lifts: lifts.collect(),
            told: told.clone(),
            essential: false,
        }
    }

    pub fn command(&mut self, command: Command) {
        let set = |lifts: &mut Vec<Loop>, lift: u8, mode| {
            if let Some(own) = lifts.get_mut(usize::from(lift)) {
                own.mode = mode;
            }
        };
        match command {
            Command::Target { lift, flow } => {
                if let Some(own) = self.lifts.get_mut(usize::from(lift)) {
                    own.target_m3_s = f64::from(flow.m3_s);
                }
            }
            Command::Manual { lift, opening } => set(&mut self.lifts, lift, Mode::Manual(opening)),
            Command::Automatic { lift } => set(&mut self.lifts, lift, Mode::Automatic),
            Command::OutOfService { lift } => set(&mut self.lifts, lift, Mode::OutOfService),
            Command::EssentialAir(on) | Command::OnBackup(on) => self.essential = on,
            Command::Commission { .. } | Command::Acknowledge | Command::ResetLatched | Command::Silence { .. } => {}
        }
    }

    /// Targets of the lifts that run, m3/s; 0 of the others.
    pub fn targets_m3_s(&self) -> Vec<f64> {
        let serves = |own: &Loop| own.mode != Mode::OutOfService && !self.essential;
        self.lifts
            .iter()
            .map(|own| if serves(own) { own.asked_m3_s } else { 0.0 })
            .collect()
    }

    /// One step with the flow of each lift: where each valve is sent.
    #[allow(clippy::cast_possible_truncation)] // openings
    pub fn step(&mut self, flows_m3_s: &[f64], period_s: f64) {
        let settings = self.told.settings;
        let limits = (f64::from(settings.least_opening), f64::from(settings.most_opening));
        for ((own, flow), lift) in self.lifts.iter_mut().zip(flows_m3_s).zip(&self.told.lifts) {
            own.valve.travel(
                lift.valve.stroke_s,
                settings.period_ms,
                (1e-3 * f64::from(settings.period_ms)) as f32,
            );
            let opening = match own.mode {
                _ if self.essential => own.at.floor_opening,
                Mode::Manual(opening) => f64::from(opening.share()),
                // The integral waits as it was: the lift comes back to the opening it left.
                Mode::OutOfService => own.at.floor_opening,
                Mode::Automatic => own.trimmed(*flow, f64::from(settings.ramp_per_s) * period_s, limits),
            };
            own.valve
                .follow(Opening::new(opening.clamp(limits.0, limits.1) as f32), &settings);
        }
    }
}

impl Loop {
    /// Where the valve was sent.
    pub fn held(&self) -> Opening {
        self.valve.held()
    }

    fn trimmed(&mut self, flow_m3_s: f64, ramp_share: f64, limits: (f64, f64)) -> f64 {
        self.asked_m3_s = ramped(self.asked_m3_s, self.target_m3_s, ramp_share);
        let error = self.asked_m3_s - flow_m3_s;
        // At a limit the integral does not run on into it.
        let outward = (self.wanted >= limits.1 && error > 0.0) || (self.wanted <= limits.0 && error < 0.0);
        if !outward {
            self.pid.setpoint(self.asked_m3_s);
            self.wanted = self.at.opening + self.pid.next_control_output(flow_m3_s).output;
        }
        self.wanted
    }
}

/// PI controllers on the flow that outlet law and level slope tell.
#[derive(Clone, Debug)]
pub(super) struct PiPerLift {
    loops: Loops,
    inferred: Inferred,
}

impl PiPerLift {
    pub fn new(told: &HostInstallation, filter_s: f64) -> Self {
        Self {
            loops: Loops::on_level(told, filter_s),
            inferred: Inferred::new(told, filter_s),
        }
    }
}

impl Control for PiPerLift {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        self.loops.command(command);
        Ok(())
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        let period_s = 1e-3 * f64::from(self.loops.told.settings.period_ms);
        let targets = self.loops.targets_m3_s();
        self.inferred.advance(&self.loops.told, readings, &targets, period_s);
        let flows: Vec<f64> = (0..targets.len()).map(|lift| self.inferred.flow_m3_s(lift)).collect();
        self.loops.step(&flows, period_s);
        let told = &self.loops.told;
        let commands = self.loops.lifts.iter().zip(&told.lifts);
        let commands = commands.map(|(own, lift)| own.valve.command(lift.valve.backlash, &told.settings));
        Ok(plain_step(readings.now, told, commands, &flows))
    }
}

/// A step of something that has no filter, no alarms and no guard.
#[allow(clippy::cast_possible_truncation)] // flows
pub(super) fn plain_step(
    now: Millis,
    told: &HostInstallation,
    commands: impl Iterator<Item = Opening>,
    flows_m3_s: &[f64],
) -> HostStep {
    let lift = |(command, flow): (Opening, &f64)| LiftStep {
        percent_of_clean: None,
        cleaning_days: None,
        command,
        position: command,
        air: FreeAir::ZERO,
        flow: WaterFlow::from_m3_s(*flow as f32),
        delivery: 1.0,
        state: LiftState::Trimming,
        ..LiftStep::default()
    };
    let tank = |_| TankStep {
        level_m: 0.0,
        sigma_m: 0.0,
        reading: risertrim::level::Checked::Missing,
        oxygen_min: None,
    };
    HostStep {
        now,
        step_ms: told.settings.period_ms,
        lifts: commands.zip(flows_m3_s).map(lift).collect(),
        tanks: told.tanks.iter().map(tank).collect(),
        manifold_pa: 0.0,
        blower: BlowerStep {
            units: match told.air.drive {
                Drive::Relays { units, .. } => units,
                _ => 1,
            },
            speed: 1.0,
            ..BlowerStep::default()
        },
        backup_min: None,
        alarms: heapless::Vec::new(),
    }
}
