//! A gravity pipe running full.

use super::GRAVITY_M_S2 as G;
use super::friction::darcy;
use super::place::Place;
use std::f64::consts::FRAC_PI_4;

/// Roughness of drawn plastic, m (from memory: 1.5 um).
const ROUGH_M: f64 = 1.5e-6;

/// A pipe that drains a tank by the head between its level and the pipe's end or the receiving level.
///
/// `dh = (f L/D + K + 1) V^2/(2g)`, f by Colebrook (White 1939). One velocity head is lost at the end. No flow back.
/// With the level below the crown at the entry the flow is scaled down smoothly to nothing at the invert: rough, since
/// a partly filled pipe swallows air, but continuous.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pipe {
    end_m: f64,
    entry_m: f64,
    bore_m: f64,
    length_ratio: f64,
    minor: f64,
    re_of: f64,
    bore_m2: f64,
}

impl Pipe {
    /// A pipe from an invert `entry_m` above the floor to an end at `end_m`, of `bore_m`, `length_m` and `minor_loss`
    /// velocity heads at entrance and bends.
    #[must_use]
    pub fn new(entry_m: f64, end_m: f64, bore_m: f64, length_m: f64, minor_loss: f64, place: &Place) -> Self {
        Self {
            end_m,
            entry_m,
            bore_m,
            length_ratio: length_m / bore_m,
            minor: minor_loss + 1.0,
            re_of: place.water_kg_m3 * bore_m / place.water_pa_s,
            bore_m2: FRAC_PI_4 * bore_m * bore_m,
        }
    }

    /// Flow, m3/s.
    #[must_use]
    pub fn flow_m3_s(&self, level_m: f64, receiving_m: f64) -> f64 {
        let head = level_m - receiving_m.max(self.end_m);
        let cover = ((level_m - self.entry_m) / self.bore_m).min(1.0);
        if head <= 0.0 || cover <= 0.0 {
            return 0.0;
        }
        cover * cover * (3.0 - 2.0 * cover) * self.bore_m2 * self.speed_m_s(head)
    }

    /// Mean speed running full under `head_m`, m/s, to 1e-7.
    fn speed_m_s(&self, head_m: f64) -> f64 {
        let drive = 2.0 * G * head_m;
        let mut speed = (drive / (0.02 * self.length_ratio + self.minor)).sqrt();
        // 1/sqrt(f) carried through, so that Colebrook's equation and the speed settle together.
        let mut inverse = 7.0;
        for _ in 0..60 {
            let re = self.re_of * speed;
            // How the friction head goes with speed, for a Newton step on the speed.
            let (factor, slope) = if re > 4000.0 {
                let inside = ROUGH_M / self.bore_m / 3.7 + 2.51 * inverse / re;
                inverse = -2.0 * std::f64::consts::LOG10_E * inside.ln();
                (1.0 / (inverse * inverse), -0.2)
            } else {
                let friction = darcy(re, 0.0);
                (friction.factor, friction.slope.max(-1.0))
            };
            let wall = factor * self.length_ratio;
            let miss = (wall + self.minor) * speed * speed - drive;
            let rise = ((2.0 + slope) * wall + 2.0 * self.minor) * speed;
            let next = (speed - miss / rise).clamp(0.2 * speed, 3.0 * speed);
            if (next - speed).abs() < 1e-6 * next {
                return next;
            }
            speed = next;
        }
        speed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_pipe_has_the_flow_of_colebrooks_friction() {
        // Darcy-Weisbach with Colebrook, nu 1.0034e-6 m2/s, roughness 1.5 um, exit loss 1: bore, length, K, head, L/s
        // (computed with a general hydraulics library).
        let place = Place {
            water_kg_m3: 998.2,
            water_pa_s: 998.2 * 1.0034e-6,
            ..Place::new(0.0, 20.0, 0.0)
        };
        for (bore, length, k, head, q) in [
            (0.05, 2.0, 2.0, 0.02, 0.606_805),
            (0.05, 2.0, 2.0, 0.2, 1.984_873),
            (0.075, 4.0, 2.0, 0.05, 2.134_046),
            (0.11, 6.0, 3.0, 0.1, 5.912_198),
        ] {
            let pipe = Pipe::new(0.0, 0.1, bore, length, k, &place);
            let got = pipe.flow_m3_s(0.4 + head, 0.4) * 1000.0;
            assert!((got / q - 1.0).abs() < 3e-4, "{bore} {head}: {got} not {q}");
        }
    }

    #[test]
    fn a_pipe_at_a_crawl_runs_laminar() {
        let place = Place::new(0.0, 20.0, 0.0);
        let pipe = Pipe::new(0.0, 0.0, 0.02, 10.0, 0.0, &place);
        let v = pipe.speed_m_s(1e-3);
        let head = 32.0 * place.water_pa_s * 10.0 * v / (place.water_kg_m3 * G * 4e-4) + v * v / (2.0 * G);
        assert!((head / 1e-3 - 1.0).abs() < 1e-5);
    }

    #[test]
    fn the_flow_is_continuous_rises_with_the_level_and_never_runs_back() {
        let pipe = Pipe::new(0.45, 0.40, 0.0712, 2.0, 0.9, &Place::new(0.0, 22.0, 0.0));
        let mut last = 0.0;
        for k in 0..6000 {
            let q = pipe.flow_m3_s(0.4 + f64::from(k) * 1e-4, 0.3);
            assert!(q >= last && q - last < 2e-5, "{k}: {last} {q}");
            last = q;
        }
        assert_eq!(pipe.flow_m3_s(0.6, 0.7), 0.0);
        assert_eq!(pipe.flow_m3_s(0.44, 0.0), 0.0);
    }
}
