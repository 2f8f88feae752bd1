//! Holes and standpipes.

use super::GRAVITY_M_S2 as G;
use super::weir::drowned;
use std::f64::consts::{FRAC_PI_4, PI};

/// A round hole in a wall, free or drowned.
///
/// Covered: `Q = Cd A sqrt(2 g dh)`, dh from the level to the hole's centre or, when higher, to the receiving level.
/// With the level below the top edge it is a weir, `Q = Cd A sqrt(g)/Y H^1.5` (H above the lower edge, Y the bore), which
/// meets the first law at the top edge (EPA SWMM reference manual, volume II); drowned, its head shrinks in the same manner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hole {
    centre_m: f64,
    bore_m: f64,
    cd_m2: f64,
}

impl Hole {
    /// A hole of `bore_m` with its centre `centre_m` above the floor and discharge coefficient `cd` (0.61 sharp).
    #[must_use]
    pub fn new(centre_m: f64, bore_m: f64, cd: f64) -> Self {
        Self {
            centre_m,
            bore_m,
            cd_m2: cd * FRAC_PI_4 * bore_m * bore_m,
        }
    }

    /// Flow, m3/s.
    #[must_use]
    pub fn flow_m3_s(&self, level_m: f64, receiving_m: f64) -> f64 {
        let edge = self.centre_m - 0.5 * self.bore_m;
        let above = level_m - edge;
        if above <= 0.0 {
            return 0.0;
        }
        if above >= self.bore_m {
            let dh = level_m - receiving_m.max(self.centre_m);
            return if dh > 0.0 {
                self.cd_m2 * (2.0 * G * dh).sqrt()
            } else {
                0.0
            };
        }
        let half = 0.5 * above;
        let dh = above - (receiving_m - edge).max(half);
        if dh <= 0.0 {
            return 0.0;
        }
        self.cd_m2 * G.sqrt() / self.bore_m * above * above.sqrt() * (dh / half).sqrt()
    }
}

/// An upright open pipe with its lip above the floor: a round weir that turns into a hole.
///
/// Weir `1.8385 pi D H^1.5`, hole `0.6 A sqrt(2 g H)`; the smaller, with a round-off of at most 5 % where they cross.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standpipe {
    crest_m: f64,
    weir: f64,
    hole: f64,
}

impl Standpipe {
    /// A pipe of `bore_m` with its lip `crest_m` above the floor.
    #[must_use]
    pub fn new(crest_m: f64, bore_m: f64) -> Self {
        Self {
            crest_m,
            weir: 1.8385 * PI * bore_m,
            hole: 0.6 * FRAC_PI_4 * bore_m * bore_m * (2.0 * G).sqrt(),
        }
    }

    /// Flow, m3/s.
    #[must_use]
    pub fn flow_m3_s(&self, level_m: f64, receiving_m: f64) -> f64 {
        let head = level_m - self.crest_m;
        if head <= 0.0 {
            return 0.0;
        }
        let down = receiving_m - self.crest_m;
        let weir = self.weir * head * head.sqrt() * drowned(head, down, 1.5);
        let hole = self.hole * (head - down.max(0.0)).max(0.0).sqrt();
        let band = 0.1 * (weir + hole);
        let near = (band - (weir - hole).abs()).max(0.0);
        if near > 0.0 {
            weir.min(hole) - 0.25 * near * near / band
        } else {
            weir.min(hole)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_free_hole_has_the_textbook_flow() {
        // Cd 0.61, 25 mm, heads to the centre; and the strip integral when just covered (0.8 % lower).
        let hole = Hole::new(0.1, 0.025, 0.61);
        for (h, q) in [(0.05, 0.296_524), (0.2, 0.593_048), (0.5, 0.937_692)] {
            assert!((hole.flow_m3_s(0.1 + h, -1.0) * 1000.0 / q - 1.0).abs() < 1e-5);
        }
        assert!((hole.flow_m3_s(0.125, -1.0) * 1000.0 / 0.207_966 - 1.0).abs() < 0.01);
    }

    #[test]
    fn a_hole_is_continuous_through_its_edges() {
        let hole = Hole::new(0.1, 0.04, 0.61);
        for receiving in [-1.0, 0.085, 0.095, 0.11, 0.119, 0.14] {
            for level in (700..2000).map(|k| f64::from(k) * 1e-4) {
                let jump = hole.flow_m3_s(level + 1e-9, receiving) - hole.flow_m3_s(level, receiving);
                assert!(jump.abs() < 5e-7, "{level} {receiving}");
            }
        }
    }

    #[test]
    fn a_standpipe_is_a_weir_and_then_a_hole() {
        // 50 mm: weir 0.10210 L/s at 5 mm, hole 1.16665 L/s at 50 mm; 110 mm: 1.16716 L/s at 15 mm.
        for (bore, h, q) in [(0.05, 0.005, 0.102_10), (0.05, 0.05, 1.166_65), (0.11, 0.015, 1.167_16)] {
            let got = Standpipe::new(0.6, bore).flow_m3_s(0.6 + h, -1.0) * 1000.0;
            assert!((got / q - 1.0).abs() < 1e-4, "{bore} {h}: {got}");
        }
        // Where weir and hole cross (0.3613 D), the round-off is 5 %.
        let at = 0.361_34 * 0.11;
        let got = Standpipe::new(0.0, 0.11).flow_m3_s(at, -1.0);
        let plain = 0.6 * FRAC_PI_4 * 0.0121 * (2.0 * G * at).sqrt();
        assert!(got < plain && got > 0.94 * plain);
    }

    #[test]
    fn a_standpipe_rises_with_its_level_and_stops_when_drowned() {
        let pipe = Standpipe::new(0.6, 0.0464);
        let mut last = 0.0;
        for k in 1..3000 {
            let q = pipe.flow_m3_s(0.6 + f64::from(k) * 1e-4, -1.0);
            assert!(q > last);
            last = q;
        }
        assert!(pipe.flow_m3_s(0.65, 0.62) < pipe.flow_m3_s(0.65, 0.0));
        assert_eq!(pipe.flow_m3_s(0.65, 0.66), 0.0);
    }
}
