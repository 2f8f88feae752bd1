//! How tightly a lift's trim may be set: the peak of the loop's sensitivity.
//!
//! The learned factor says what a lift delivers over its curve, and the trim moves the air along that curve. Where the true curve is as
//! steep as the told one, a move changes nothing the factor sees, and there is no loop at all. Where it is `k` times as steep, a
//! move of the air comes back as `k - 1` times itself, through the filter that learns (time `learning_s`), the trim (`trim_s`) and
//! the dead time of sampling and valve. So the loop is `L(s) = (k - 1) exp(-dead s) / ((learning s + 1)(trim s + 1))`.

use nalgebra::{Complex, Matrix2, Vector2};

/// The largest peak of the sensitivity `1 / |1 + L|` that is accepted: what Skogestad's SIMC rule gives for its tight setting
/// (S. Skogestad, J. Process Control 13 (2003) 291: Ms 1.59), in the range of 1.4 to 2 that Astrom & Hagglund (Advanced PID
/// Control, 2006) call reasonable. Both from memory.
pub const MOST_SENSITIVITY: f64 = 1.6;
/// How many times steeper than told a true curve may be: uncalibrated curves are up to twice as steep or half.
pub const STEEPER: f64 = 2.0;

/// A loop with two lags and a dead time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loop {
    /// Gain at rest.
    pub gain: f64,
    /// The lags, s.
    pub lags_s: [f64; 2],
    /// The dead time, s.
    pub dead_s: f64,
}

impl Loop {
    /// Its transfer at an angular frequency.
    fn at(&self, w: f64) -> Complex<f64> {
        let lag = |t: f64| Complex::new(1.0, w * t);
        Complex::from_polar(self.gain, -w * self.dead_s) / (lag(self.lags_s[0]) * lag(self.lags_s[1]))
    }

    /// The peak of its sensitivity, over four decades around its slowest part; infinite for a loop that is not stable.
    #[must_use]
    pub fn sensitivity(&self) -> f64 {
        let slow = self.lags_s[0].max(self.lags_s[1]).max(self.dead_s).max(1.0e-3);
        let mut most = 1.0 / (1.0 + self.gain).abs().max(1.0e-9);
        let mut before = self.at(1.0e-3 / slow);
        for step in 1..=4000 {
            let w = 10f64.powf(-3.0 + f64::from(step) * 0.001_75) / slow;
            let now = self.at(w);
            // A loop that crosses the negative axis beyond minus one goes round it.
            if before.im * now.im < 0.0 && now.re < 0.0 && 0.5 * (before.re + now.re) <= -1.0 {
                return f64::INFINITY;
            }
            before = now;
            most = most.max(1.0 / (Complex::new(1.0, 0.0) + now).norm().max(1.0e-9));
        }
        most
    }
}

/// What the controller's filter does with one lift and its tank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learning {
    /// Time in which it learns, s: the slowest of its error's two modes.
    pub time_s: f64,
    /// Standard deviation of the factor it believes.
    pub sigma: f64,
    /// How much the believed factor moves about with the noise of the readings, standard deviation.
    pub jitter: f64,
}

/// The stationary filter of one lift and the tank it fills: level and factor, a reading each `period_s`. `fill` is how fast the
/// level rises by the lift's whole flow, m/s, `drain` how fast a level comes back, 1/s; noises are standard deviations.
#[must_use]
pub fn learning(
    period_s: f64,
    fill_m_s: f64,
    drain_1_s: f64,
    (noise_m, unseen_m_s, walk): (f64, f64, f64),
) -> Learning {
    let f = Matrix2::new((-period_s * drain_1_s).exp(), period_s * fill_m_s, 0.0, 1.0);
    let q = Matrix2::new(unseen_m_s * unseen_m_s * period_s, 0.0, 0.0, walk * walk * period_s);
    let r = noise_m * noise_m;
    let mut p = Matrix2::new(r, 0.0, 0.0, 0.01);
    let mut gain = Vector2::zeros();
    for _ in 0..20_000 {
        let ahead = f * p * f.transpose() + q;
        let next = ahead.column(0) / (ahead[(0, 0)] + r);
        p = ahead - next * ahead.row(0);
        let settled = (next - gain).norm() <= 1.0e-9 * next.norm();
        gain = next;
        if settled {
            break;
        }
    }
    let error = (Matrix2::identity() - gain * nalgebra::RowVector2::new(1.0, 0.0)) * f;
    let slowest = error
        .complex_eigenvalues()
        .iter()
        .fold(0.0f64, |most, value| most.max(value.norm()));
    let time_s = -period_s / slowest.clamp(1.0e-9, 1.0 - 1.0e-9).ln();
    // The noise of each reading moves the factor by its gain and is forgotten over the learning time.
    let jitter = gain[1].abs() * noise_m * (0.5 * time_s / period_s).max(1.0).sqrt();
    Learning {
        time_s,
        sigma: p[(1, 1)].max(0.0).sqrt(),
        jitter,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_integrator_with_dead_time_has_the_sensitivity_of_the_tight_simc_setting() {
        // Skogestad 2003, table 1 (from memory): first order with dead time under SIMC with closed-loop time equal to the dead
        // time has L = exp(-dead s) / (2 dead s) and Ms = 1.59. A lag a thousand times the dead time stands for the integrator.
        let dead_s = 1.0;
        let slow = 1000.0;
        let loop_ = Loop {
            gain: slow / (2.0 * dead_s),
            lags_s: [slow, 0.0],
            dead_s,
        };
        let found = loop_.sensitivity();
        assert!((found - 1.59).abs() < 0.01, "{found}");
    }

    #[test]
    fn a_loop_beyond_its_limit_is_called_unstable() {
        // exp(-s)/(T s) is at its limit at gain pi/2.
        let loop_ = |gain: f64| Loop {
            gain: 1000.0 * gain,
            lags_s: [1000.0, 0.0],
            dead_s: 1.0,
        };
        assert!(loop_(1.4).sensitivity().is_finite());
        assert!(loop_(1.7).sensitivity().is_infinite());
    }

    #[test]
    fn learning_is_slower_with_more_noise_and_quicker_when_factors_wander() {
        let of = |noise, walk| learning(1.0, 0.002, 0.05, (noise, 2.0e-5, walk));
        let usual = of(0.001, 3.0e-4);
        assert!(of(0.004, 3.0e-4).time_s > 1.3 * usual.time_s);
        assert!(of(0.001, 1.2e-3).time_s < usual.time_s);
        assert!((5.0..200.0).contains(&usual.time_s), "{usual:?}");
    }
}
