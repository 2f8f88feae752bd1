//! How a change is carried out: [`Plant::begin`].

use super::change::{Change, SensorFault};
use super::check::SpecError;
use super::moving::{Knob, Pour, Ramp, Surge};
use super::riser::{Heads, Riser};
use super::run::Plant;
use super::sensor::Trouble;

impl Plant {
    /// Begins a change now; values move in a straight line over `over_s` (0: at once). What is either so or not (shut, stuck,
    /// running, missing) and a scoop happen at once whatever `over_s` is.
    ///
    /// # Errors
    /// A part that does not exist, or a value outside its range. Nothing is changed then.
    pub fn begin(&mut self, change: Change, over_s: f64) -> Result<(), SpecError> {
        let over_s = limited("over_s", over_s, 0.0, 1e10)?;
        match change {
            Change::FoulLift { lift, lost } => {
                self.has_lift(lift)?;
                let k = self.fouling_k(lift, limited("lost", lost, 0.0, 0.95)?);
                self.ramp(Knob::Fouling(lift), k, over_s);
            }
            Change::CleanLift { lift } => {
                self.has_lift(lift)?;
                self.ramp(Knob::Fouling(lift), 0.0, over_s);
            }
            Change::LowerPeak { lift, most_m3_s } => {
                self.has_lift(lift)?;
                let most_m3_s = limited("most_m3_s", most_m3_s, 1e-6, 10.0)?;
                let run = &self.lifts[lift];
                let churn = run.riser.churn_for_peak(run.heads, most_m3_s);
                self.ramp(Knob::Churn(lift), churn, over_s);
            }
            Change::ShutLift { lift, shut } => {
                self.has_lift(lift)?;
                self.lifts[lift].hand_shut = shut;
                self.reset_path(lift);
            }
            Change::ClogOutlet { tank, outlet, left } => {
                self.has_tank(tank)?;
                let mut own = self.water.links.iter().enumerate().filter(|(_, l)| l.from == tank);
                let Some((link, _)) = own.nth(outlet) else {
                    return Err(missing("outlet", outlet));
                };
                self.ramp(Knob::Clog(link), limited("left", left, 0.0, 10.0)?, over_s);
            }
            Change::SagBlower { left } => {
                self.ramp(Knob::Sag, limited("left", left, 0.0, 1.5)?, over_s);
            }
            Change::RunBlower { on } => self.blower.on = on,
            Change::Warm { water_c } => self.ramp(Knob::WaterC, limited("water_c", water_c, 0.0, 40.0)?, over_s),
            Change::Evaporate { tank, m3_s } => {
                self.has_tank(tank)?;
                self.ramp(Knob::Evaporation(tank), limited("m3_s", m3_s, 0.0, 1.0)?, over_s);
            }
            Change::Inflow { tank, m3_s } => {
                self.has_tank(tank)?;
                self.ramp(Knob::Inflow(tank), limited("m3_s", m3_s, 0.0, 10.0)?, over_s);
            }
            Change::TopUp { tank, m3 } => {
                self.has_tank(tank)?;
                let left_m3 = limited("m3", m3, 0.0, 1e6)?;
                let m3_s = if over_s > 0.0 { m3 / over_s } else { f64::INFINITY };
                self.pours.push(Pour { tank, m3_s, left_m3 });
            }
            Change::Scoop { tank, m3 } => {
                self.has_tank(tank)?;
                let m3 = limited("m3", m3, 0.0, 1e6)?.min(self.state.tanks[tank].volume_m3);
                self.put(tank, -m3);
                self.state.water_out_m3 += m3;
            }
            Change::Leak { tank, m3_s } => {
                self.has_tank(tank)?;
                self.ramp(Knob::Leak(tank), limited("m3_s", m3_s, 0.0, 10.0)?, over_s);
            }
            Change::StickValve { lift, stuck } => {
                self.has_lift(lift)?;
                let actuator = &mut self.lifts[lift].actuator;
                actuator.stuck = stuck;
                actuator.jammed = actuator.jammed.filter(|_| stuck);
            }
            Change::JamValve { lift, at } => {
                self.has_lift(lift)?;
                let at = at.map(|at| limited("at", at, 0.0, 1.0)).transpose()?;
                self.lifts[lift].actuator.jammed = at;
            }
            Change::LeakValve { lift, share } => {
                self.has_lift(lift)?;
                self.ramp(Knob::ValveLeak(lift), limited("share", share, 0.0, 1.0)?, over_s);
            }
            Change::SlowValve { lift, times } => {
                self.has_lift(lift)?;
                self.ramp(Knob::Slow(lift), limited("times", times, 0.1, 1e6)?, over_s);
            }
            Change::FoulDiffuser { lift, times } => {
                self.has_lift(lift)?;
                self.ramp(Knob::Diffuser(lift), limited("times", times, 0.0, 1e6)?, over_s);
            }
            Change::KinkLine { lift, times } => {
                self.has_lift(lift)?;
                self.ramp(Knob::Line(lift), limited("times", times, 0.0, 1e9)?, over_s);
            }
            Change::ReverseValve { lift, reversed } => {
                self.has_lift(lift)?;
                self.lifts[lift].actuator.reversed = reversed;
            }
            Change::WidenBacklash { lift, times } => {
                self.has_lift(lift)?;
                self.ramp(Knob::Play(lift), limited("times", times, 0.0, 20.0)?, over_s);
            }
            Change::AirLineOff { lift, off } => {
                self.has_lift(lift)?;
                self.paths[lift].off = off;
            }
            Change::LeakCheckValve { lift, m3_s, loop_m } => {
                self.has_lift(lift)?;
                let m3_s = limited("m3_s", m3_s, 0.0, 1.0)?;
                let loop_m = limited("loop_m", loop_m, 0.0, 100.0)?;
                let seep = &mut self.lifts[lift].seep;
                (seep.m3_s, seep.loop_m) = (m3_s, loop_m);
            }
            Change::SurgeBlower { depth, period_s } => {
                let depth = limited("depth", depth, 0.0, 1.0)?;
                let period_s = limited("period_s", period_s, 0.1, 3600.0)?;
                self.surge = (depth > 0.0).then_some(Surge {
                    depth,
                    period_s,
                    start_s: self.state.time_s,
                });
            }
            Change::BlockIntake { lost } => self.blower.block_intake(limited("lost", lost, 0.0, 0.95)?),
            Change::SwapSensors { tank, other, swapped } => {
                for tank in [tank, other] {
                    self.has_sensor(tank)?;
                    self.unplug(tank);
                }
                if swapped {
                    (self.plugs[tank], self.plugs[other]) = (other, tank);
                }
            }
            Change::ShiftGauge { pa } => {
                if self.gauge.is_none() {
                    return Err(missing("gauge", 0));
                }
                self.ramp(Knob::Gauge, limited("pa", pa, -1e6, 1e6)?, over_s);
            }
            Change::Sensor { tank, fault } => return self.trouble(tank, fault, over_s),
            Change::LoseGauge { lost } => match &mut self.gauge {
                Some(gauge) => gauge.missing = lost,
                None => return Err(missing("gauge", 0)),
            },
        }
        Ok(())
    }

    fn trouble(&mut self, tank: usize, fault: SensorFault, over_s: f64) -> Result<(), SpecError> {
        let Some(Some(sensor)) = self.sensors.get_mut(tank) else {
            return Err(missing("level sensor", tank));
        };
        match fault {
            SensorFault::Mended => {
                sensor.trouble = Trouble::None;
                sensor.jump_m = 0.0;
                sensor.noisy = 1.0;
                self.unplug(tank);
                let own = [Knob::Jump(tank), Knob::Noise(tank)];
                self.ramps.retain(|ramp| !own.contains(&ramp.knob));
            }
            SensorFault::Noise(times) => {
                self.ramp(Knob::Noise(tank), limited("times", times, 0.0, 1000.0)?, over_s);
            }
            SensorFault::Missing => sensor.trouble = Trouble::Missing,
            SensorFault::Stuck => sensor.trouble = Trouble::Stuck(None),
            SensorFault::Reads(m) => sensor.trouble = Trouble::Fixed(m),
            SensorFault::Jump(m) => {
                self.ramp(Knob::Jump(tank), limited("jump", m, -100.0, 100.0)?, over_s);
            }
        }
        Ok(())
    }

    /// Puts the plug of a tank's sensor, and of the one it was swapped with, back in its place.
    fn unplug(&mut self, tank: usize) {
        let other = self.plugs[tank];
        self.plugs[other] = other;
        self.plugs[tank] = tank;
    }

    /// The entrance loss at which a clean lift loses `lost` of its water at the present air, or, when it lifts none, at half
    /// its peak's air.
    fn fouling_k(&self, lift: usize, lost: f64) -> f64 {
        let run = &self.lifts[lift];
        let clean = Riser {
            fouling_k: 0.0,
            ..run.riser
        };
        let air = self.state.lifts[lift].air_m3_s;
        let depth = (run.heads.submergence_m + run.heads.lift_m).max(0.1);
        let usual = Heads::free(0.9 * depth, 0.1 * depth);
        let half = |heads| 0.5 * clean.peak(heads).air_m3_s;
        clean
            .fouling_for_loss(run.heads, air, lost)
            .or_else(|| clean.fouling_for_loss(run.heads, half(run.heads), lost))
            .or_else(|| clean.fouling_for_loss(usual, half(usual), lost))
            .unwrap_or(0.0)
    }

    fn ramp(&mut self, knob: Knob, to: f64, over_s: f64) {
        self.ramps.retain(|ramp| ramp.knob != knob);
        if over_s > 0.0 {
            let from = self.knob(knob).map_or(to, |value| *value);
            self.ramps.push(Ramp {
                knob,
                from,
                to,
                start_s: self.state.time_s,
                over_s,
            });
        } else {
            self.turn(knob, to);
        }
    }

    /// The value behind a knob; `None` when the part has gone, which does not happen.
    fn knob(&mut self, knob: Knob) -> Option<&mut f64> {
        Some(match knob {
            Knob::Fouling(i) => &mut self.lifts.get_mut(i)?.riser.fouling_k,
            Knob::Churn(i) => &mut self.lifts.get_mut(i)?.riser.churn_s2_m2,
            Knob::ValveLeak(i) => &mut self.lifts.get_mut(i)?.actuator.leak,
            Knob::Slow(i) => &mut self.lifts.get_mut(i)?.actuator.slow,
            Knob::Diffuser(i) => &mut self.paths.get_mut(i)?.diffuser_multiplier,
            Knob::Line(i) => &mut self.paths.get_mut(i)?.line_multiplier,
            Knob::Clog(i) => &mut self.water.links.get_mut(i)?.outlet.clog,
            Knob::Sag => &mut self.blower.sag,
            Knob::Evaporation(i) => &mut self.water.vessels.get_mut(i)?.evaporation_m3_s,
            Knob::Inflow(i) => &mut self.water.vessels.get_mut(i)?.inflow_m3_s,
            Knob::Leak(i) => &mut self.water.vessels.get_mut(i)?.leak_m3_s,
            Knob::Jump(i) => &mut self.sensors.get_mut(i)?.as_mut()?.jump_m,
            Knob::Noise(i) => &mut self.sensors.get_mut(i)?.as_mut()?.noisy,
            Knob::Play(i) => &mut self.lifts.get_mut(i)?.actuator.play,
            Knob::WaterC => &mut self.water_c,
            Knob::Gauge => &mut self.gauge.as_mut()?.shift_pa,
        })
    }

    fn turn(&mut self, knob: Knob, to: f64) {
        if let Some(value) = self.knob(knob) {
            *value = to;
        }
        match knob {
            Knob::ValveLeak(lift) => self.reset_path(lift),
            Knob::Clog(_) => self.water.forget(),
            Knob::WaterC => self.warm(),
            _ => {}
        }
    }

    pub(super) fn run_ramps(&mut self) {
        let now = self.state.time_s;
        for k in 0..self.ramps.len() {
            let ramp = self.ramps[k];
            let part = ((now - ramp.start_s) / ramp.over_s).min(1.0);
            self.turn(ramp.knob, ramp.from + (ramp.to - ramp.from) * part);
        }
        self.ramps.retain(|ramp| now - ramp.start_s < ramp.over_s);
    }

    pub(super) fn run_pours(&mut self, h: f64) {
        for k in 0..self.pours.len() {
            let pour = self.pours[k];
            let m3 = (pour.m3_s * h).min(pour.left_m3);
            self.pours[k].left_m3 -= m3;
            self.put(pour.tank, m3);
            self.state.water_in_m3 += m3;
        }
        self.pours.retain(|pour| pour.left_m3 > 0.0);
    }

    fn put(&mut self, tank: usize, m3: f64) {
        let state = &mut self.state.tanks[tank];
        state.volume_m3 += m3;
        state.level_m = self.water.vessels[tank].basin.level_m(state.volume_m3);
    }

    fn has_lift(&self, lift: usize) -> Result<(), SpecError> {
        if lift < self.lifts.len() {
            Ok(())
        } else {
            Err(missing("lift", lift))
        }
    }

    fn has_sensor(&self, tank: usize) -> Result<(), SpecError> {
        match self.sensors.get(tank) {
            Some(Some(_)) => Ok(()),
            _ => Err(missing("level sensor", tank)),
        }
    }

    fn has_tank(&self, tank: usize) -> Result<(), SpecError> {
        if tank < self.state.tanks.len() {
            Ok(())
        } else {
            Err(missing("tank", tank))
        }
    }
}

fn missing(what: &'static str, index: usize) -> SpecError {
    SpecError::NoSuchPart {
        part: "change".to_owned(),
        what,
        index,
    }
}

fn limited(field: &'static str, value: f64, low: f64, high: f64) -> Result<f64, SpecError> {
    if value >= low && value <= high {
        return Ok(value);
    }
    Err(SpecError::Value {
        part: "change".to_owned(),
        field,
        value,
        low,
        high,
    })
}
