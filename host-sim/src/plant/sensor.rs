//! What the controller is told of the levels and of the manifold's pressure.

use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg32;

/// A level sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorSpec {
    /// Noise of one reading, m RMS.
    pub noise_m: f64,
    /// Step of the reading, m; 0: none.
    pub resolution_m: f64,
    /// First-order lag, s; 0: none.
    pub lag_s: f64,
    /// Added to every reading, m.
    pub zero_m: f64,
    /// Growth of the zero, m per day.
    pub drift_m_day: f64,
    /// Reading over truth.
    pub gain: f64,
    /// Waves on the surface: amplitude, m.
    pub slosh_m: f64,
    /// Waves on the surface: period, s.
    pub slosh_s: f64,
}

impl Default for SensorSpec {
    fn default() -> Self {
        Self {
            noise_m: 0.0,
            resolution_m: 0.0,
            lag_s: 0.0,
            zero_m: 0.0,
            drift_m_day: 0.0,
            gain: 1.0,
            slosh_m: 0.0,
            slosh_s: 1.0,
        }
    }
}

/// What is wrong with a level sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Trouble {
    None,
    Missing,
    /// Repeats its last reading.
    Stuck(Option<f64>),
    /// Reads this, m, whatever the level.
    Fixed(f64),
}

/// A level sensor in use.
#[derive(Clone, Debug)]
pub struct LevelSensor {
    spec: SensorSpec,
    random: Pcg32,
    lagged_m: f64,
    time_s: f64,
    pub(super) trouble: Trouble,
    /// Added by a knock or a drop of dirt, m.
    pub(super) jump_m: f64,
    /// Multiplier of the noise.
    pub(super) noisy: f64,
}

impl LevelSensor {
    /// A sensor over water at `level_m`; each `stream` of one `seed` has its own noise.
    #[must_use]
    pub fn new(spec: SensorSpec, level_m: f64, seed: u64, stream: u64) -> Self {
        Self {
            spec,
            random: Pcg32::new(seed, stream),
            lagged_m: level_m,
            time_s: 0.0,
            trouble: Trouble::None,
            jump_m: 0.0,
            noisy: 1.0,
        }
    }

    /// Lets `dt_s` pass with the water at `level_m`.
    pub fn advance(&mut self, dt_s: f64, level_m: f64) {
        self.time_s += dt_s;
        let mut seen = level_m;
        if self.spec.slosh_m > 0.0 {
            let turns = (self.time_s / self.spec.slosh_s).fract();
            seen += self.spec.slosh_m * (std::f64::consts::TAU * turns).sin();
        }
        if self.spec.lag_s > 0.0 {
            self.lagged_m += (seen - self.lagged_m) * -(-dt_s / self.spec.lag_s).exp_m1();
        } else {
            self.lagged_m = seen;
        }
    }

    /// One reading, m above the tank's floor; `None` when the sensor does not answer.
    pub fn read(&mut self) -> Option<f64> {
        // Always drawn, so that a fault leaves all later noise as it would have been.
        let noise: f64 = StandardNormal.sample(&mut self.random);
        let spec = &self.spec;
        let zero = spec.zero_m + spec.drift_m_day * self.time_s / 86_400.0 + self.jump_m;
        let read = step(
            self.lagged_m * spec.gain + zero + noise * spec.noise_m * self.noisy,
            spec.resolution_m,
        );
        match self.trouble {
            Trouble::None => Some(read),
            Trouble::Missing => None,
            Trouble::Fixed(value) => Some(value),
            Trouble::Stuck(Some(value)) => Some(value),
            Trouble::Stuck(None) => {
                self.trouble = Trouble::Stuck(Some(read));
                Some(read)
            }
        }
    }
}

/// A gauge on the manifold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GaugeSpec {
    /// Noise, Pa RMS.
    pub noise_pa: f64,
    /// Step of the reading, Pa; 0: none.
    pub resolution_pa: f64,
    /// Added to every reading, Pa.
    pub zero_pa: f64,
    /// Reading over truth.
    pub gain: f64,
}

/// A gauge in use.
#[derive(Clone, Debug)]
pub struct Gauge {
    spec: GaugeSpec,
    random: Pcg32,
    /// Does not answer.
    pub missing: bool,
    /// Added by a fault, Pa.
    pub shift_pa: f64,
}

impl Gauge {
    /// A gauge with its own stream of noise.
    #[must_use]
    pub fn new(spec: GaugeSpec, seed: u64, stream: u64) -> Self {
        Self {
            spec,
            random: Pcg32::new(seed, stream),
            missing: false,
            shift_pa: 0.0,
        }
    }

    /// One reading of a true gauge pressure, Pa.
    pub fn read(&mut self, gauge_pa: f64) -> Option<f64> {
        let noise: f64 = StandardNormal.sample(&mut self.random);
        let spec = &self.spec;
        let value = gauge_pa * spec.gain + spec.zero_pa + self.shift_pa + noise * spec.noise_pa;
        (!self.missing).then(|| step(value, spec.resolution_pa))
    }
}

fn step(value: f64, resolution: f64) -> f64 {
    if resolution > 0.0 {
        (value / resolution).round() * resolution
    } else {
        value
    }
}

/// One set of readings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// Level of each tank above its floor, m; `None`: no sensor, or it does not answer.
    pub level_m: Vec<Option<f64>>,
    /// Manifold gauge pressure, Pa.
    pub manifold_pa: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sensor(spec: SensorSpec, stream: u64) -> LevelSensor {
        LevelSensor::new(spec, 0.5, 7, stream)
    }

    #[test]
    fn noise_has_its_size_and_each_sensor_its_own() {
        let spec = SensorSpec {
            noise_m: 0.001,
            ..SensorSpec::default()
        };
        let (mut a, mut b, mut again) = (sensor(spec, 1), sensor(spec, 2), sensor(spec, 1));
        let (mut square, mut cross) = (0.0, 0.0);
        for _ in 0..20_000 {
            let (x, y) = (a.read().unwrap() - 0.5, b.read().unwrap() - 0.5);
            assert_eq!(again.read().unwrap() - 0.5, x);
            square += x * x;
            cross += x * y;
        }
        assert!(((square / 20_000.0).sqrt() / 0.001 - 1.0).abs() < 0.03);
        assert!(cross.abs() / square < 0.03);
    }

    #[test]
    fn readings_are_stepped_lagged_and_drift() {
        let mut s = sensor(
            SensorSpec {
                resolution_m: 0.001,
                lag_s: 10.0,
                drift_m_day: 0.004,
                ..SensorSpec::default()
            },
            0,
        );
        for _ in 0..10 {
            s.advance(1.0, 0.6);
        }
        // One time constant after a step of 100 mm: 63.2 mm, read as 63.
        assert!((s.read().unwrap() - 0.563).abs() < 1e-9);
        for _ in 0..86_390 {
            s.advance(1.0, 0.6);
        }
        assert!((s.read().unwrap() - 0.604).abs() < 1e-9);
    }

    #[test]
    fn slosh_has_its_amplitude() {
        let spec = SensorSpec {
            slosh_m: 0.005,
            slosh_s: 4.0,
            ..SensorSpec::default()
        };
        let mut s = sensor(spec, 0);
        let mut seen = Vec::new();
        for _ in 0..4 {
            s.advance(1.0, 0.5);
            seen.push(s.read().unwrap());
        }
        for (got, want) in seen.iter().zip([0.505, 0.5, 0.495, 0.5]) {
            assert!((got - want).abs() < 1e-9);
        }
    }
}
