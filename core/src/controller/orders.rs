//! Commands from people and from other programs.

use super::*;

/// Deviation of a level whose sensor's new zero is believed, m.
const AFTER_JUMP_SIGMA_M: f32 = 0.002;
/// Share of its factor by which a lift gave more before, from which on it counts as mended when it comes back from service.
const MENDED: f32 = 1.05;
/// Deviation of the factor of a lift that comes back mended from service.
const AFTER_SERVICE_SIGMA: f32 = 0.1;

impl<const LIFTS: usize, const TANKS: usize> Controller<LIFTS, TANKS> {
    /// Takes a command; it shows from the next step on.
    ///
    /// # Errors
    /// [`Refused`] when it names no lift of this installation or an absurd target; nothing changes then.
    pub fn command(&mut self, command: Command) -> Result<(), Refused> {
        match command {
            Command::EssentialAir(on) => self.place.essential = on,
            Command::OnBackup(on) => self.place.reserve.switch(on, self.manifold_pa),
            Command::Acknowledge => {
                self.alarms.acknowledge();
                for run in &mut self.lifts {
                    run.trust.believe();
                }
                for (index, run) in self.tanks.iter_mut().enumerate() {
                    if run.has_moved() {
                        let level = self.filter.level_m(index) + run.watch.shift_m();
                        self.filter.restart_level(index, level, AFTER_JUMP_SIGMA_M);
                        run.watch.unshift();
                    }
                }
            }
            Command::ResetLatched => self.alarms.reset(),
            Command::Silence { minutes } => {
                if minutes > LONGEST_SILENCE_MIN {
                    return Err(Refused::SilenceTooLong);
                }
                self.alarms.silence(minutes);
            }
            Command::Target { lift, flow } => {
                if !(flow.m3_s >= 0.0 && flow.l_min() <= MOST_TARGET_L_MIN) {
                    return Err(Refused::TargetOutOfRange);
                }
                let run = self.lift_mut(lift)?;
                let peak = run.peak.flow.m3_s;
                if peak > 0.0 && flow.m3_s > MOST_OF_PEAK * peak {
                    self.place.since_refused.clear();
                    return Err(Refused::TargetBeyondLift);
                }
                run.target = flow;
            }
            Command::Manual { lift, opening } => self.lift_mut(lift)?.mode = Mode::Manual(opening),
            Command::Commission { lift } => return self.ask_for_trial(lift),
            Command::OutOfService { lift } => self.lift_mut(lift)?.mode = Mode::OutOfService,
            Command::Automatic { lift } => {
                let (given, index) = (lift, usize::from(lift));
                let lift = self.lift_mut(given)?;
                if lift.mode == Mode::OutOfService {
                    // It may have been cleaned: the best it ever gave is the safe guess, with too much it would overshoot.
                    lift.trust.relearn();
                    lift.trend.serve();
                    lift.percent_of_clean = None;
                    let best = lift.trust.best();
                    // What was worse than that was likely mended meanwhile; the rest is kept, or its noise would be learned anew.
                    if best > MENDED * self.filter.factor(index) {
                        let sigma = larger(self.filter.factor_sigma(index), AFTER_SERVICE_SIGMA);
                        self.filter.restart_factor(index, best, sigma);
                        let lift = self.lift_mut(given)?;
                        lift.trust.take_best();
                        lift.trim.restart(lift.flow, best);
                    }
                }
                let lift = self.lift_mut(given)?;
                if lift.mode != Mode::Automatic {
                    lift.mode = Mode::Automatic;
                    lift.trim.return_from(lift.flow);
                }
            }
        }
        Ok(())
    }

    fn lift_mut(&mut self, index: u8) -> Result<&mut LiftRun, Refused> {
        self.lifts.get_mut(usize::from(index)).ok_or(Refused::NoSuchLift)
    }
}
