//! The installation as a plain set of differential equations.

use super::run::{Plant, set_path};

impl Plant {
    /// How fast the water of each tank changes, m3/s, at given volumes and with actuators told `openings`: for those who
    /// integrate by other means than [`Plant::advance`]. Actuators that take no time follow at once; rims do not spill, tanks
    /// do not run empty, nothing that is under way (fouling, a pour) goes on.
    pub fn rates_m3_s(&mut self, volumes_m3: &[f64], openings: &[f64], rates_m3_s: &mut [f64]) {
        for ((lift, path), opening) in self.lifts.iter_mut().zip(&mut self.paths).zip(openings) {
            if lift.actuator.advance(0.0, *opening) {
                set_path(path, lift);
            }
        }
        let vessels = &self.water.vessels;
        for ((tank, vessel), volume_m3) in self.state.tanks.iter_mut().zip(vessels).zip(volumes_m3) {
            tank.volume_m3 = *volume_m3;
            tank.level_m = vessel.basin.level_m(*volume_m3);
        }
        self.settle_flows();
        let gains = self.water.gains_m3_s(&self.state.lifts, &self.state.tanks);
        for (rate, gain) in rates_m3_s.iter_mut().zip(gains) {
            *rate = *gain;
        }
    }
}
