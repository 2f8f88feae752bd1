//! Flow against air at given levels, with onset, best efficiency and peak.

use risertrim::installation::Conditions;
use risertrim::lift::{Calibration, Curve, Riser, relative_sigma};
use risertrim::units::FreeAir;
use serde::Serialize;

/// Standard normal deviate of a 90 % band.
const NINETY: f64 = 1.644_854;
/// L/min in 1 m3/s.
const L_MIN: f64 = 60_000.0;
/// Less water than this is none, L/min: at the onset itself rounding decides.
const LEAST_WATER_L_MIN: f64 = 0.01;
/// How far beyond the peak the table goes, share of the air at the peak.
const BEYOND_PEAK: f64 = 1.4;

/// First line of a curve as CSV.
pub const COLUMNS: &str = "air_l_min,water_l_min,low_l_min,high_l_min,gas_to_water,efficiency_percent,slope,landmark";

/// Levels that a curve is asked for at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Levels {
    /// Level of the source above its floor, m.
    pub source_m: f64,
    /// Level of the receiver above the source's floor, m; `None` when it is not to drown the outlet.
    pub receiver_m: Option<f64>,
}

/// One air of the curve. Air is free air at 100 kPa and 20 C.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurveRow {
    /// Free air, L/min.
    pub air_l_min: f64,
    /// Water, L/min.
    pub water_l_min: f64,
    /// Lower end of the 90 % band, L/min; absent for a lift that was never measured.
    pub low_l_min: Option<f64>,
    /// Upper end of the 90 % band, L/min.
    pub high_l_min: Option<f64>,
    /// Litres of free air a litre of water; absent where there is no water.
    pub gas_to_water: Option<f64>,
    /// Work on the water as a share of the air's isothermal work (Nicklin 1963); absent without static lift.
    pub efficiency: Option<f64>,
    /// More water for more air, L/min a L/min.
    pub slope: f64,
}

/// What a landmark is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// The air at which water first moves.
    Onset,
    /// Most work on the water for the air's work.
    BestEfficiency,
    /// Most water.
    Peak,
}

impl Mark {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Onset => "onset",
            Self::BestEfficiency => "best efficiency",
            Self::Peak => "peak",
        }
    }
}

/// A landmark of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Landmark {
    /// What it is.
    pub mark: Mark,
    /// The curve there.
    pub at: CurveRow,
}

/// The curve of one lift.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CurveTable {
    /// Name of the lift.
    pub lift: String,
    /// The levels.
    pub levels: Levels,
    /// Depth of the air inlet under the source level, m.
    pub submergence_m: f64,
    /// Height the water is raised by, m.
    pub static_lift_m: f64,
    /// True when multipliers fitted on site are in it.
    pub calibrated: bool,
    /// Range of airs the calibration was measured over, L/min.
    pub measured_air_l_min: Option<(f64, f64)>,
    /// Airs in rising order.
    pub rows: Vec<CurveRow>,
    /// Landmarks in order of air.
    pub landmarks: Vec<Landmark>,
    /// Measured points to draw beside it: free air and water, L/min, and true for one set aside.
    pub points: Vec<(f64, f64, bool)>,
}

/// Tabulates the curve of a riser at `count` airs (at least 8), from nothing to beyond the peak or to `most_air_l_min`.
#[must_use]
pub fn tabulate(
    lift: &str,
    riser: &Riser,
    calibration: &Calibration,
    conditions: &Conditions,
    levels: Levels,
    count: usize,
    most_air_l_min: Option<f64>,
) -> CurveTable {
    let maker = Maker {
        riser,
        calibration,
        conditions,
        levels,
    };
    let curve = maker.curve();
    let peak = L_MIN * f64::from(curve.peak().air.m3_s);
    let most = most_air_l_min.unwrap_or(if peak > 0.0 { BEYOND_PEAK * peak } else { 100.0 });
    let count = count.max(8);
    // Airs lie closer together at the low end, where the curve bends: even steps of the square root.
    #[allow(clippy::cast_precision_loss)]
    let airs = (0..count).map(|step| most * (step as f64 / (count - 1) as f64).powi(2));
    let rows: Vec<CurveRow> = airs.map(|air| maker.row(&curve, air)).collect();
    let fit = calibration.fit;
    CurveTable {
        lift: lift.to_owned(),
        levels,
        submergence_m: f64::from(curve.submergence_m()),
        static_lift_m: f64::from(curve.lift_m()),
        calibrated: fit.is_some(),
        measured_air_l_min: fit.map(|fit| {
            (
                L_MIN * f64::from(fit.air_low_m3_s),
                L_MIN * f64::from(fit.air_high_m3_s),
            )
        }),
        landmarks: maker.landmarks(&curve, peak),
        rows,
        points: Vec::new(),
    }
}

struct Maker<'a> {
    riser: &'a Riser,
    calibration: &'a Calibration,
    conditions: &'a Conditions,
    levels: Levels,
}

#[allow(clippy::cast_possible_truncation)] // the curve is f32
impl Maker<'_> {
    fn receiver_m(&self) -> Option<f32> {
        self.levels.receiver_m.map(|level| level as f32)
    }

    fn curve(&self) -> Curve {
        Curve::new(
            self.riser,
            self.calibration,
            self.conditions,
            self.levels.source_m as f32,
            self.receiver_m(),
        )
    }

    fn row(&self, curve: &Curve, air_l_min: f64) -> CurveRow {
        let air = FreeAir::from_m3_s((air_l_min / L_MIN) as f32);
        let point = curve.at(air);
        let water = f64::from(point.flow.l_min());
        let source = self.levels.source_m as f32;
        let sigma = relative_sigma(
            self.riser,
            self.calibration,
            self.conditions,
            source,
            self.receiver_m(),
            air,
        );
        let end = |sign: f64| sigma.map(|sigma| (water * (1.0 + sign * NINETY * f64::from(sigma))).max(0.0));
        CurveRow {
            air_l_min,
            water_l_min: water,
            low_l_min: end(-1.0),
            high_l_min: end(1.0),
            gas_to_water: (water > LEAST_WATER_L_MIN).then(|| air_l_min / water),
            efficiency: self.efficiency(curve, air, f64::from(point.flow.m3_s)),
            slope: f64::from(point.per_air),
        }
    }

    /// `rho g Q l / (p_atm Qa ln(p_in / p_atm))`, the air taken from the atmosphere to the pressure of its inlet at constant
    /// temperature (Nicklin 1963, Trans. Instn Chem. Engrs 41:29).
    fn efficiency(&self, curve: &Curve, air: FreeAir, water_m3_s: f64) -> Option<f64> {
        let lift = f64::from(curve.lift_m());
        let atmosphere = f64::from(self.conditions.atmosphere_pa);
        let inlet = atmosphere + f64::from(curve.injector_pa());
        let volume = f64::from(air.volume_m3_s(self.conditions.atmosphere_pa, self.conditions.water_k));
        let work = atmosphere * volume * (inlet / atmosphere).ln();
        let weight = f64::from(self.conditions.density_kg_m3) * f64::from(risertrim::math::GRAVITY_M_S2);
        (lift > 0.0 && work > 0.0 && L_MIN * water_m3_s > LEAST_WATER_L_MIN).then(|| weight * water_m3_s * lift / work)
    }

    fn landmarks(&self, curve: &Curve, peak_l_min: f64) -> Vec<Landmark> {
        let mut marks = Vec::new();
        let onset = curve.onset().map(|air| f64::from(air.l_min()));
        if let Some(onset) = onset.filter(|onset| *onset > 0.0) {
            marks.push(Landmark {
                mark: Mark::Onset,
                at: self.row(curve, onset),
            });
        }
        if peak_l_min <= 0.0 {
            return marks;
        }
        let from = onset.unwrap_or(0.0);
        let efficiency = |row: &CurveRow| row.efficiency.unwrap_or(0.0);
        let tried = (1..=400).map(|step| self.row(curve, from + (peak_l_min - from) * f64::from(step) / 400.0));
        let best = tried.max_by(|a, b| efficiency(a).total_cmp(&efficiency(b)));
        if let Some(at) = best.filter(|at| at.efficiency.is_some()) {
            marks.push(Landmark {
                mark: Mark::BestEfficiency,
                at,
            });
        }
        marks.push(Landmark {
            mark: Mark::Peak,
            at: self.row(curve, peak_l_min),
        });
        marks
    }
}

impl CurveTable {
    /// The curve as CSV: one line an air, landmarks named in the last column.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut lines: Vec<(CurveRow, &str)> = self.rows.iter().map(|row| (*row, "")).collect();
        lines.extend(
            self.landmarks
                .iter()
                .map(|landmark| (landmark.at, landmark.mark.words())),
        );
        lines.sort_by(|a, b| a.0.air_l_min.total_cmp(&b.0.air_l_min));
        let mut text = format!("{COLUMNS}\n");
        let maybe = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:.4}"));
        for (row, mark) in lines {
            text.push_str(&format!(
                "{:.4},{:.4},{},{},{},{},{:.4},{mark}\n",
                row.air_l_min,
                row.water_l_min,
                maybe(row.low_l_min),
                maybe(row.high_l_min),
                maybe(row.gas_to_water),
                maybe(row.efficiency.map(|share| 100.0 * share)),
                row.slope
            ));
        }
        text
    }
}
