//! Level and volume of a tank.

/// A tank's water surface by level.
#[derive(Clone, Debug, PartialEq)]
pub enum Area {
    /// The same at every level, m2.
    Constant(f64),
    /// (level m, area m2), levels rising from 0; straight between, level beyond the last.
    Table(Vec<(f64, f64)>),
}

/// The vessel: turns volume into level and back.
#[derive(Clone, Debug)]
pub struct Basin {
    area: Area,
    /// Volume below each level of the table, m3.
    below_m3: Vec<f64>,
}

impl Basin {
    /// A vessel of a checked description.
    #[must_use]
    pub fn new(area: Area) -> Self {
        let mut below_m3 = Vec::new();
        if let Area::Table(points) = &area {
            let mut sum = 0.0;
            let mut last: Option<(f64, f64)> = None;
            for &(z, a) in points {
                if let Some((z0, a0)) = last {
                    sum += (z - z0) * 0.5 * (a + a0);
                }
                below_m3.push(sum);
                last = Some((z, a));
            }
        }
        Self { area, below_m3 }
    }

    /// Volume of water at a level above the floor, m3.
    #[must_use]
    pub fn volume_m3(&self, level_m: f64) -> f64 {
        match &self.area {
            Area::Constant(area) => area * level_m,
            Area::Table(points) => {
                let i = points.iter().rposition(|p| p.0 <= level_m).unwrap_or(0);
                let (z, a) = points[i];
                let slope = self.slope(points, i);
                let rise = level_m - z;
                self.below_m3[i] + rise * (a + 0.5 * slope * rise)
            }
        }
    }

    /// Level above the floor at a volume, m.
    #[must_use]
    pub fn level_m(&self, volume_m3: f64) -> f64 {
        match &self.area {
            Area::Constant(area) => volume_m3 / area,
            Area::Table(points) => {
                let i = self.below_m3.iter().rposition(|v| *v <= volume_m3).unwrap_or(0);
                let (z, a) = points[i];
                let slope = self.slope(points, i);
                let more = volume_m3 - self.below_m3[i];
                let root = (a * a + 2.0 * slope * more).max(0.0).sqrt();
                z + 2.0 * more / (a + root)
            }
        }
    }

    /// Water surface at a level, m2.
    #[must_use]
    pub fn area_m2(&self, level_m: f64) -> f64 {
        match &self.area {
            Area::Constant(area) => *area,
            Area::Table(points) => {
                let i = points.iter().rposition(|p| p.0 <= level_m).unwrap_or(0);
                points[i].1 + self.slope(points, i) * (level_m - points[i].0)
            }
        }
    }

    fn slope(&self, points: &[(f64, f64)], i: usize) -> f64 {
        points
            .get(i + 1)
            .map_or(0.0, |next| (next.1 - points[i].1) / (next.0 - points[i].0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cone_has_its_volume_and_gives_its_level_back() {
        // Straight walls in area: a wedge of 1 m2 at the floor and 3 m2 at 0.5 m, upright above.
        let tank = Basin::new(Area::Table(vec![(0.0, 1.0), (0.5, 3.0)]));
        assert!((tank.volume_m3(0.5) - 1.0).abs() < 1e-12);
        assert!((tank.volume_m3(0.25) - (0.25 + 0.25 * 0.5)).abs() < 1e-12);
        assert!((tank.volume_m3(0.7) - 1.6).abs() < 1e-12);
        assert!((tank.area_m2(0.25) - 2.0).abs() < 1e-12);
        for k in 0..100 {
            let level = f64::from(k) * 0.01;
            assert!((tank.level_m(tank.volume_m3(level)) - level).abs() < 1e-12);
        }
    }
}
