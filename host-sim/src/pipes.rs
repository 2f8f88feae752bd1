//! Bores of common plastic pipes, by the published standards.
//!
//! The name of a pipe in a shop says little about its bore: the "DN" of drain pipe is its outside diameter, the "DN" of
//! pressure pipe is often near its bore (DN 50 is 63 mm outside). So every pipe here is named by its outside diameter and
//! its series. The bore is the outside diameter less twice the *least* wall of the standard; a real pipe is 0.1 to 0.8 mm
//! narrower, because walls are made a little thicker than the least.
//!
//! | series | standard | where the figures come from |
//! | --- | --- | --- |
//! | PVC-U drain SN 4, SN 8 | EN 1401-1 | a pipe maker's table of the standard |
//! | PVC-U soil and waste | EN 1329-1 | from memory; walls agree with the usual trade lists |
//! | PP soil and waste S 20 | EN 1451-1 | from memory; walls follow outside diameter / 41 (ISO 4065) above 75 mm |
//! | PVC-U pressure PN 10, PN 16 | EN ISO 1452-2 | from memory; walls follow outside diameter / SDR (ISO 4065) |
//! | NPS Schedule 40 | ASTM D1785 and ASME B36.10 sizes | the open library `fluids` 1.3.1, converted from inches |

use std::fmt;

/// A series of pipes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Series {
    /// PVC-U drain and sewer pipe, EN 1401-1, SN 4 (SDR 41): 110 mm and more.
    DrainSn4,
    /// PVC-U drain and sewer pipe, EN 1401-1, SN 8 (SDR 34): 110 mm and more.
    DrainSn8,
    /// PVC-U soil and waste pipe for buildings, EN 1329-1.
    SoilPvc,
    /// PP soil and waste pipe for buildings, EN 1451-1, S 20.
    SoilPp,
    /// PVC-U pressure pipe, EN ISO 1452-2, PN 10 (SDR 21 up to 90 mm, SDR 26 from 110 mm).
    PressurePn10,
    /// PVC-U pressure pipe, EN ISO 1452-2, PN 16 (SDR 13.6 up to 90 mm, SDR 17 from 110 mm).
    PressurePn16,
    /// Inch pipe, NPS, Schedule 40.
    Schedule40,
    /// A pipe of no series: its bore and outside diameter as somebody measured them.
    Measured,
}

/// Where the figures of a series come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Provenance {
    /// Read in a published table of the standard.
    Published,
    /// From memory, checked against the wall rule of the standard. Measure the pipe before cutting.
    Memory,
    /// From an open library's table, converted and rounded.
    Library,
    /// As told by who measured it.
    Told,
}

impl fmt::Display for Provenance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Published => "published table",
            Self::Memory => "from memory: measure the pipe",
            Self::Library => "library table",
            Self::Told => "as told",
        })
    }
}

/// A pipe: outside diameter, least wall, bore.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pipe {
    /// Its series.
    pub series: Series,
    /// Nominal size for inch pipes, inches as written (`1.5`); empty for metric ones, which go by their outside diameter.
    pub inches: &'static str,
    /// Outside diameter, mm.
    pub outside_mm: f64,
    /// Least wall of the standard, mm.
    pub wall_mm: f64,
    /// Bore, mm: outside diameter less two least walls.
    pub bore_mm: f64,
}

impl Pipe {
    /// Its outside diameter, as people say it: `OD 88.9`.
    #[must_use]
    pub fn short(&self) -> String {
        format!("OD {}", self.outside_mm)
    }

    /// The pipe of a series whose bore is nearest to this one, if one is within half a millimetre.
    #[must_use]
    pub fn of_bore(bore_mm: f64) -> Option<Self> {
        let off = |pipe: &Self| (pipe.bore_mm - bore_mm).abs();
        Series::ALL
            .into_iter()
            .flat_map(Series::pipes)
            .filter(|pipe| off(pipe) <= 0.5)
            .min_by(|a, b| off(a).total_cmp(&off(b)))
    }

    /// A pipe whose bore and outside diameter somebody measured.
    #[must_use]
    pub fn measured(bore_mm: f64, outside_mm: f64) -> Self {
        Self {
            series: Series::Measured,
            inches: "",
            outside_mm,
            wall_mm: 0.5 * (outside_mm - bore_mm),
            bore_mm,
        }
    }

    /// Bore, m.
    #[must_use]
    pub fn bore_m(&self) -> f64 {
        self.bore_mm * 1e-3
    }
}

impl fmt::Display for Pipe {
    /// `OD 110`, or `3 in (OD 88.9)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.inches.is_empty() {
            write!(f, "OD {}", self.outside_mm)
        } else {
            write!(f, "{} in (OD {})", self.inches, self.outside_mm)
        }
    }
}

/// Outside diameter and least wall, mm.
type Size = (f64, f64);

const DRAIN_SN4: [Size; 4] = [(110.0, 3.2), (125.0, 3.2), (160.0, 4.0), (200.0, 4.9)];
const DRAIN_SN8: [Size; 4] = [(110.0, 3.2), (125.0, 3.7), (160.0, 4.7), (200.0, 5.9)];
const SOIL_PVC: [Size; 8] = [
    (32.0, 3.0),
    (40.0, 3.0),
    (50.0, 3.0),
    (75.0, 3.0),
    (90.0, 3.0),
    (110.0, 3.2),
    (125.0, 3.2),
    (160.0, 3.2),
];
const SOIL_PP: [Size; 8] = [
    (32.0, 1.8),
    (40.0, 1.8),
    (50.0, 1.8),
    (75.0, 1.9),
    (90.0, 2.2),
    (110.0, 2.7),
    (125.0, 3.1),
    (160.0, 3.9),
];
const PRESSURE_PN10: [Size; 11] = [
    (32.0, 1.6),
    (40.0, 1.9),
    (50.0, 2.4),
    (63.0, 3.0),
    (75.0, 3.6),
    (90.0, 4.3),
    (110.0, 4.2),
    (125.0, 4.8),
    (140.0, 5.4),
    (160.0, 6.2),
    (200.0, 7.7),
];
const PRESSURE_PN16: [Size; 11] = [
    (25.0, 1.9),
    (32.0, 2.4),
    (40.0, 3.0),
    (50.0, 3.7),
    (63.0, 4.7),
    (75.0, 5.6),
    (90.0, 6.7),
    (110.0, 6.6),
    (125.0, 7.4),
    (160.0, 9.5),
    (200.0, 11.9),
];
/// Nominal size in inches, outside diameter, wall and bore, mm: each rounded from inches on its own.
const SCHEDULE_40: [(&str, f64, f64, f64); 9] = [
    ("1", 33.4, 3.38, 26.64),
    ("1.25", 42.2, 3.56, 35.08),
    ("1.5", 48.3, 3.68, 40.94),
    ("2", 60.3, 3.91, 52.48),
    ("2.5", 73.0, 5.16, 62.68),
    ("3", 88.9, 5.49, 77.92),
    ("4", 114.3, 6.02, 102.26),
    ("6", 168.3, 7.11, 154.08),
    ("8", 219.1, 8.18, 202.74),
];

impl Series {
    /// All series of pipes to be bought.
    pub const ALL: [Self; 7] = [
        Self::SoilPvc,
        Self::SoilPp,
        Self::DrainSn4,
        Self::DrainSn8,
        Self::PressurePn10,
        Self::PressurePn16,
        Self::Schedule40,
    ];

    /// The word for it on the command line.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::DrainSn4 => "drain-sn4",
            Self::DrainSn8 => "drain-sn8",
            Self::SoilPvc => "soil-pvc",
            Self::SoilPp => "soil-pp",
            Self::PressurePn10 => "pressure-pn10",
            Self::PressurePn16 => "pressure-pn16",
            Self::Schedule40 => "schedule-40",
            Self::Measured => "measured",
        }
    }

    /// Material, standard and series, in full.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::DrainSn4 => "PVC-U drain pipe, EN 1401-1, SN 4 (SDR 41)",
            Self::DrainSn8 => "PVC-U drain pipe, EN 1401-1, SN 8 (SDR 34)",
            Self::SoilPvc => "PVC-U soil and waste pipe, EN 1329-1",
            Self::SoilPp => "PP soil and waste pipe, EN 1451-1, S 20",
            Self::PressurePn10 => "PVC-U pressure pipe, EN ISO 1452-2, PN 10",
            Self::PressurePn16 => "PVC-U pressure pipe, EN ISO 1452-2, PN 16",
            Self::Schedule40 => "inch pipe, NPS Schedule 40",
            Self::Measured => "pipe as measured",
        }
    }

    /// Where the figures come from.
    #[must_use]
    pub const fn provenance(self) -> Provenance {
        match self {
            Self::DrainSn4 | Self::DrainSn8 => Provenance::Published,
            Self::SoilPvc | Self::SoilPp | Self::PressurePn10 | Self::PressurePn16 => Provenance::Memory,
            Self::Schedule40 => Provenance::Library,
            Self::Measured => Provenance::Told,
        }
    }

    /// The pipes of the series, from narrow to wide.
    #[must_use]
    pub fn pipes(self) -> Vec<Pipe> {
        let metric = |sizes: &[Size]| {
            sizes
                .iter()
                .map(|&(outside_mm, wall_mm)| Pipe {
                    series: self,
                    inches: "",
                    outside_mm,
                    wall_mm,
                    bore_mm: outside_mm - 2.0 * wall_mm,
                })
                .collect()
        };
        match self {
            Self::DrainSn4 => metric(&DRAIN_SN4),
            Self::DrainSn8 => metric(&DRAIN_SN8),
            Self::SoilPvc => metric(&SOIL_PVC),
            Self::SoilPp => metric(&SOIL_PP),
            Self::PressurePn10 => metric(&PRESSURE_PN10),
            Self::PressurePn16 => metric(&PRESSURE_PN16),
            Self::Schedule40 => SCHEDULE_40
                .iter()
                .map(|&(inches, outside_mm, wall_mm, bore_mm)| Pipe {
                    series: self,
                    inches,
                    outside_mm,
                    wall_mm,
                    bore_mm,
                })
                .collect(),
            Self::Measured => Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bore(series: Series, outside_mm: f64) -> f64 {
        series
            .pipes()
            .iter()
            .find(|pipe| pipe.outside_mm == outside_mm)
            .map_or(f64::NAN, |pipe| pipe.bore_mm)
    }

    #[test]
    fn bores_are_those_of_the_standards() {
        for (series, outside, expected) in [
            (Series::DrainSn4, 110.0, 103.6),
            (Series::DrainSn8, 160.0, 150.6),
            (Series::SoilPvc, 50.0, 44.0),
            (Series::SoilPp, 75.0, 71.2),
            (Series::PressurePn10, 63.0, 57.0),
            (Series::PressurePn16, 110.0, 96.8),
            (Series::Schedule40, 48.3, 40.94),
        ] {
            assert!(
                (bore(series, outside) - expected).abs() < 0.011,
                "{series:?} {outside}: {}",
                bore(series, outside)
            );
        }
    }

    #[test]
    fn a_bore_finds_its_pipe_or_none() {
        let found = Pipe::of_bore(103.6).expect("a drain pipe of 110 mm");
        assert!((found.outside_mm - 110.0).abs() < 1e-9, "{found}");
        assert_eq!(Pipe::of_bore(46.6).map(|pipe| pipe.outside_mm), Some(50.0));
        // Between the 75 and the 90 mm pipes of any series.
        assert_eq!(Pipe::of_bore(80.3), None);
    }

    #[test]
    fn pressure_pipe_walls_follow_their_sdr() {
        // ISO 4065: wall = OD / SDR, rounded up; small sizes have a least wall of 1.5 mm and more.
        for (series, sdr_small, sdr_large) in [(Series::PressurePn10, 21.0, 26.0), (Series::PressurePn16, 13.6, 17.0)] {
            for pipe in series.pipes() {
                let sdr = if pipe.outside_mm > 90.5 { sdr_large } else { sdr_small };
                let wall = pipe.outside_mm / sdr;
                assert!(
                    (pipe.wall_mm - wall).abs() <= 0.2,
                    "{pipe} {series:?}: {} not {wall}",
                    pipe.wall_mm
                );
            }
        }
    }

    #[test]
    fn every_series_rises_and_every_bore_fits_its_walls() {
        for series in Series::ALL {
            let pipes = series.pipes();
            assert!(
                pipes.windows(2).all(|pair| pair[1].bore_mm > pair[0].bore_mm),
                "{series:?}"
            );
            for pipe in pipes {
                assert!(
                    (pipe.outside_mm - 2.0 * pipe.wall_mm - pipe.bore_mm).abs() < 0.05,
                    "{pipe} of {series:?}"
                );
            }
        }
    }
}
