//! Water in an air line whose check valve leaks.
//!
//! With the manifold's pressure below that of the water over the injector, water creeps up the line. Where the line rises above
//! the water (an air loop) it only fills; where it does not, the source runs out through it. When the pressure is back, the lift
//! has no air until the line has been pushed clear.

use super::GRAVITY_M_S2;

/// One lift's air line seen from the water.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Seep {
    /// What the check valve lets through at 1 m of head, m3/s; 0: tight.
    pub m3_s: f64,
    /// Highest point of the line above the source's floor, m.
    pub loop_m: f64,
    /// Water standing in the line, m3.
    pub in_line_m3: f64,
}

/// The levels and pressures of a moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Around {
    /// Source level above its floor, m.
    pub source_m: f64,
    /// Injector above the source's floor, m.
    pub injector_m: f64,
    /// Gauge pressure at the top of the line, Pa.
    pub gauge_pa: f64,
    /// Water density, kg/m3.
    pub water_kg_m3: f64,
    /// Volume of the line, m3.
    pub line_m3: f64,
}

impl Seep {
    /// Lets `h` s pass; returns the water that ran out through the line, m3/s.
    pub fn advance(&mut self, h: f64, around: &Around) -> f64 {
        let pressure_m = around.gauge_pa / (around.water_kg_m3 * GRAVITY_M_S2);
        let head = around.source_m - around.injector_m - pressure_m;
        if head <= 0.0 || self.m3_s <= 0.0 {
            // The air pushes the water back the way it came, at least as fast as through the leak at 1 m.
            let out = self.m3_s.max(1e-5) * (-head).max(0.0).sqrt().max(0.1);
            self.in_line_m3 = (self.in_line_m3 - h * out).max(0.0);
            return 0.0;
        }
        let reaches_m = around.source_m - pressure_m;
        let full = if reaches_m >= self.loop_m {
            around.line_m3
        } else {
            around.line_m3 * ((reaches_m - around.injector_m) / (self.loop_m - around.injector_m)).clamp(0.0, 1.0)
        };
        let through = self.m3_s * head.sqrt();
        self.in_line_m3 = (self.in_line_m3 + h * through).min(full.max(self.in_line_m3));
        if reaches_m > self.loop_m && self.in_line_m3 >= around.line_m3 {
            through.min(self.m3_s * (reaches_m - self.loop_m).sqrt())
        } else {
            0.0
        }
    }

    /// Water stands in the line: no air gets through.
    pub fn blocks(&self) -> bool {
        self.in_line_m3 > 0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STILL: Around = Around {
        source_m: 1.0,
        injector_m: 0.0,
        gauge_pa: 0.0,
        water_kg_m3: 1000.0,
        line_m3: 1e-3,
    };

    #[test]
    fn a_line_below_the_water_siphons_and_one_with_a_loop_above_it_only_fills() {
        let mut low = Seep {
            m3_s: 1e-4,
            loop_m: 0.2,
            in_line_m3: 0.0,
        };
        let lost: f64 = (0..100).map(|_| low.advance(1.0, &STILL)).sum();
        // Full after ten seconds, then 1e-4 m3/s at 1 m, less what the 0.8 m over the loop allow.
        assert!((lost / (90.0 * 1e-4 * 0.8_f64.sqrt()) - 1.0).abs() < 0.02, "{lost}");
        let mut high = Seep { loop_m: 1.3, ..low };
        high.in_line_m3 = 0.0;
        assert!((0..100).all(|_| high.advance(1.0, &STILL) == 0.0));
        assert!(high.blocks() && high.in_line_m3 < STILL.line_m3);
    }

    #[test]
    fn air_comes_back_only_after_the_line_is_clear() {
        let mut seep = Seep {
            m3_s: 1e-4,
            loop_m: 2.0,
            in_line_m3: 5e-4,
        };
        let blowing = Around {
            gauge_pa: 14_000.0,
            ..STILL
        };
        let clear = (0..60).find(|_| {
            seep.advance(1.0, &blowing);
            !seep.blocks()
        });
        assert!(clear.is_some_and(|s| (3..20).contains(&s)), "{clear:?}");
    }
}
