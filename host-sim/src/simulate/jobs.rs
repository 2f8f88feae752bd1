//! What is asked of each lift at a moment: the yardstick, kept apart from what the controller believes.

use crate::plant::Change;
use crate::scenario::HostInstallation;
use risertrim::Command;

/// What is asked of one lift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Job {
    /// Water it is to deliver, m3/s (the target itself, not its ramp).
    pub target_m3_s: f64,
    /// The controller trims it (and nobody set its valve by hand).
    pub automatic: bool,
    /// Not shut by command.
    pub in_service: bool,
    /// Its air is shut by hand at the lift.
    pub shut_by_hand: bool,
    /// When its target or its service changed last, s since the start.
    pub changed_s: f64,
}

impl Job {
    /// True when the lift is meant to run: neither out of service nor shut by hand.
    #[must_use]
    pub fn serves(&self) -> bool {
        self.in_service && !self.shut_by_hand
    }
}

/// What is asked of all lifts.
#[derive(Clone, Debug, PartialEq)]
pub struct Jobs {
    /// Each lift.
    pub lifts: Vec<Job>,
    /// Essential air: every lift on its air floor, no flow is asked for.
    pub essential: bool,
    /// The blower runs and can give air.
    pub air_to_give: bool,
}

impl Jobs {
    /// At the start: every lift automatic, at the target of the installation.
    #[must_use]
    pub fn new(told: &HostInstallation) -> Self {
        let job = |target_m3_s| Job {
            target_m3_s,
            automatic: true,
            in_service: true,
            shut_by_hand: false,
            changed_s: 0.0,
        };
        let lifts = told.lifts.iter().map(|lift| job(f64::from(lift.target.m3_s))).collect();
        Self {
            lifts,
            essential: false,
            air_to_give: true,
        }
    }

    /// True when this lift is to deliver its target now.
    #[must_use]
    pub fn is_on_target(&self, lift: usize) -> bool {
        !self.essential && self.lifts.get(lift).is_some_and(|job| job.automatic && job.serves())
    }

    /// Takes note of a command given at `now_s`.
    pub fn note_command(&mut self, command: &Command, now_s: f64) {
        match *command {
            Command::EssentialAir(on) | Command::OnBackup(on) => {
                if self.essential != on {
                    self.essential = on;
                    self.lifts.iter_mut().for_each(|job| job.changed_s = now_s);
                }
            }
            Command::Target { lift, flow } => {
                self.change(lift.into(), now_s, |job| job.target_m3_s = f64::from(flow.m3_s));
            }
            Command::Manual { lift, .. } => self.change(lift.into(), now_s, |job| {
                job.automatic = false;
                job.in_service = true;
            }),
            Command::Automatic { lift } => self.change(lift.into(), now_s, |job| {
                job.automatic = true;
                job.in_service = true;
            }),
            // What is asked of the lift stays; its state shows how long it is measured instead.
            Command::Commission { .. } | Command::Acknowledge | Command::ResetLatched | Command::Silence { .. } => {}
            Command::OutOfService { lift } => self.change(lift.into(), now_s, |job| job.in_service = false),
        }
    }

    /// Takes note of a change of the installation at `now_s`.
    pub fn note_change(&mut self, change: &Change, now_s: f64) {
        match *change {
            Change::ShutLift { lift, shut } => self.change(lift, now_s, |job| job.shut_by_hand = shut),
            Change::RunBlower { on } => self.air_to_give = on,
            _ => {}
        }
    }

    fn change(&mut self, lift: usize, now_s: f64, set: impl FnOnce(&mut Job)) {
        if let Some(job) = self.lifts.get_mut(lift) {
            let before = *job;
            set(job);
            if *job != before {
                job.changed_s = now_s;
            }
        }
    }
}
