//! Air valves as their sheets describe them, turned into sonic conductance C and critical pressure ratio b (ISO 6358).
//!
//! A sheet may give C and b, a liquid flow coefficient Kv, the bore of the seat, or measured flows. Both sides of this
//! program use C and b; the conversions here are exact at the drop where they are made and a few percent off elsewhere.

use crate::plant::{FREE_AIR_K, FREE_AIR_PA};

/// Density of air at the ISO 8778 reference (100 kPa, 20 C, 65 % humidity), kg/m3: the reference of a conductance.
pub const REFERENCE_KG_M3: f64 = 1.185;
/// Critical pressure ratio of a valve whose sheet gives none: usual for small needle and ball valves (common practice).
pub const USUAL_CRITICAL_RATIO: f64 = 0.3;

/// Pressure ratio above which the law is taken as straight.
const STRAIGHT_ABOVE: f64 = 0.995;
/// Molar mass of dry air, kg/kmol.
const AIR_KG_KMOL: f64 = 28.964_7;
/// Numerical constant of IEC 60534-2-1 for Q in m3/h at 0 C and 101.325 kPa, pressures in kPa absolute.
const IEC_N9: f64 = 24.6;
/// Pressure differential ratio factor of a globe-like valve without attached fittings (IEC 60534-2-1, typical).
const TERMINAL_RATIO: f64 = 0.7;
/// Ratio of specific heats of air over that of the standard's reference gas.
const HEAT_RATIO_FACTOR: f64 = 1.0;

/// What a valve's sheet says of the valve wide open.
#[derive(Clone, Debug, PartialEq)]
pub enum ValveData {
    /// C in dm3/(s bar) and b.
    Conductance {
        /// Sonic conductance, dm3/(s bar) at the ISO 8778 reference.
        c_dm3_s_bar: f64,
        /// Critical pressure ratio.
        critical_ratio: f64,
    },
    /// Flow coefficient Kv: m3/h of water at 1 bar.
    Kv(f64),
    /// Bore of the narrowest place, mm.
    BoreMm(f64),
    /// Measured points, wide open.
    Measured(Vec<Measured>),
}

/// A measured point of a valve wide open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Pressure before the valve, Pa absolute.
    pub before_pa: f64,
    /// Pressure behind it, Pa absolute.
    pub behind_pa: f64,
    /// Free air, m3/s at 100 kPa and 20 C.
    pub air_m3_s: f64,
}

/// C and b.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conductance {
    /// Sonic conductance, dm3/(s bar) at the ISO 8778 reference.
    pub c_dm3_s_bar: f64,
    /// Critical pressure ratio b.
    pub critical_ratio: f64,
    /// Largest relative miss of the measured points it was fitted to; 0 where there were none.
    pub misfit: f64,
}

/// Why a valve's data cannot be used.
#[derive(Clone, Debug, PartialEq)]
pub struct ValveDataError(String);

impl std::fmt::Display for ValveDataError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for ValveDataError {}

impl ValveData {
    /// C and b, made to agree with the data at a manifold of `before_pa` absolute and a drop of `drop_pa` across the valve.
    ///
    /// # Errors
    /// A value outside its range, or measured points that no valve has.
    pub fn conductance(&self, before_pa: f64, drop_pa: f64) -> Result<Conductance, ValveDataError> {
        let in_range = |what: &str, value: f64, low: f64, high: f64| {
            if (low..=high).contains(&value) {
                Ok(())
            } else {
                Err(ValveDataError(format!("{what} is {value}, allowed: {low} to {high}")))
            }
        };
        match self {
            Self::Conductance {
                c_dm3_s_bar,
                critical_ratio,
            } => {
                in_range("sonic conductance in dm3/(s bar)", *c_dm3_s_bar, 0.001, 1000.0)?;
                in_range("critical ratio", *critical_ratio, 0.05, 0.6)?;
                Ok(Conductance {
                    c_dm3_s_bar: *c_dm3_s_bar,
                    critical_ratio: *critical_ratio,
                    misfit: 0.0,
                })
            }
            Self::Kv(kv) => {
                in_range("Kv", *kv, 0.0002, 200.0)?;
                Ok(from_kv(*kv, before_pa, drop_pa))
            }
            Self::BoreMm(bore_mm) => {
                in_range("valve bore in mm", *bore_mm, 0.2, 150.0)?;
                Ok(from_bore(*bore_mm))
            }
            Self::Measured(points) => fit(points),
        }
    }
}

/// Free air through a valve with this Kv, m3/s at 100 kPa and 20 C, both pressures absolute.
///
/// IEC 60534-2-1 for gases without attached fittings: `Q = 24.6 Kv P1 Y sqrt(x / (M T))`, `x = (P1 - P2)/P1`,
/// `Y = 1 - x/(3 Fg xT)` and not below 2/3; xT 0.7 and Fg 1 for air.
#[must_use]
pub fn air_by_kv_m3_s(kv: f64, before_pa: f64, behind_pa: f64) -> f64 {
    let choked = HEAT_RATIO_FACTOR * TERMINAL_RATIO;
    let x = ((before_pa - behind_pa) / before_pa).clamp(0.0, choked);
    let expansion = 1.0 - x / (3.0 * choked);
    let normal_m3_h = IEC_N9 * kv * before_pa * 1e-3 * expansion * (x / (AIR_KG_KMOL * FREE_AIR_K)).sqrt();
    normal_m3_h / 3600.0 * (101_325.0 / FREE_AIR_PA) * (FREE_AIR_K / 273.15)
}

/// Free air through a valve with this C and b, m3/s at 100 kPa and 20 C, air of 20 C, both pressures absolute (ISO 6358).
#[must_use]
pub fn air_by_conductance_m3_s(valve: &Conductance, before_pa: f64, behind_pa: f64) -> f64 {
    // C is a volume at 1.185 kg/m3; dry air of 100 kPa and 20 C has 1.18837 as an ideal gas.
    let free = REFERENCE_KG_M3 / crate::plant::Place::free_air_kg_m3();
    valve.c_dm3_s_bar * 1e-8 * before_pa * free * share_of_sonic(behind_pa / before_pa, valve.critical_ratio)
}

/// Share of the sonic flow at a pressure ratio: 1 below b, an ellipse above, straight above 0.995.
fn share_of_sonic(ratio: f64, b: f64) -> f64 {
    let ellipse = |r: f64| (1.0 - ((r - b) / (1.0 - b)).powi(2)).max(0.0).sqrt();
    if ratio <= b {
        1.0
    } else if ratio <= STRAIGHT_ABOVE {
        ellipse(ratio)
    } else {
        ellipse(STRAIGHT_ABOVE) * (1.0 - ratio).max(0.0) / (1.0 - STRAIGHT_ABOVE)
    }
}

/// C and b of a valve with this Kv: b is the usual one, C makes both laws give the same air at this pressure and drop.
///
/// With b 0.3, 1 dm3/(s bar) is a Kv of about 0.21 at a drop of 1 kPa.
#[must_use]
pub fn from_kv(kv: f64, before_pa: f64, drop_pa: f64) -> Conductance {
    let unit = Conductance {
        c_dm3_s_bar: 1.0,
        critical_ratio: USUAL_CRITICAL_RATIO,
        misfit: 0.0,
    };
    // Below the straight part of the law the two would be matched on its patch: match on the ellipse.
    let behind = before_pa - drop_pa.max((1.0 - STRAIGHT_ABOVE) * before_pa);
    let c = air_by_kv_m3_s(kv, before_pa, behind) / air_by_conductance_m3_s(&unit, before_pa, behind);
    Conductance { c_dm3_s_bar: c, ..unit }
}

/// C and b of a valve known by its narrowest bore alone: a short hole with a flow coefficient of 0.7 and the usual b.
///
/// Sonic flow of an ideal nozzle for air of 20 C is 19.9 dm3/(s bar) for each cm2 (isentropic flow, k = 1.4). The 0.7 is
/// common practice for seats and drilled holes: expect the true figure within a fifth, and calibrate.
#[must_use]
pub fn from_bore(bore_mm: f64) -> Conductance {
    const COEFFICIENT: f64 = 0.7;
    let area_m2 = std::f64::consts::FRAC_PI_4 * (bore_mm * 1e-3).powi(2);
    let k = 1.4_f64;
    let sonic = k.sqrt() * (2.0 / (k + 1.0)).powf(0.5 * (k + 1.0) / (k - 1.0));
    let kg_s_pa = COEFFICIENT * area_m2 * sonic / (crate::plant::AIR_J_KG_K * FREE_AIR_K).sqrt();
    Conductance {
        c_dm3_s_bar: kg_s_pa / REFERENCE_KG_M3 * 1e8,
        critical_ratio: USUAL_CRITICAL_RATIO,
        misfit: 0.0,
    }
}

/// The C and b that fit measured points best, by least squares of the relative misses; b between 0.05 and 0.6.
///
/// With one point, or points all at drops so small that b cannot show, b is the usual one.
///
/// # Errors
/// No point, or a point whose pressures or air no flow has.
pub fn fit(points: &[Measured]) -> Result<Conductance, ValveDataError> {
    if points.is_empty() {
        return Err(ValveDataError("there is no measured point of the valve".to_owned()));
    }
    for (number, point) in points.iter().enumerate() {
        let Measured {
            before_pa,
            behind_pa,
            air_m3_s,
        } = *point;
        if !(before_pa > behind_pa && behind_pa > 20_000.0 && before_pa < 2e6 && air_m3_s > 0.0 && air_m3_s.is_finite())
        {
            return Err(ValveDataError(format!(
                "measured point {} of the valve ({:.1} kPa before, {:.1} kPa behind, {:.2} L/min): pressures are absolute, \
                 the one before the valve is higher, and some air flows",
                number + 1,
                before_pa * 1e-3,
                behind_pa * 1e-3,
                air_m3_s * 60_000.0
            )));
        }
    }
    // For a given b the best C is a weighted mean: only b needs a search.
    let best_c = |b: f64| {
        let unit = Conductance {
            c_dm3_s_bar: 1.0,
            critical_ratio: b,
            misfit: 0.0,
        };
        let ratios: Vec<f64> = points
            .iter()
            .map(|p| air_by_conductance_m3_s(&unit, p.before_pa, p.behind_pa) / p.air_m3_s)
            .collect();
        let c = ratios.iter().sum::<f64>() / ratios.iter().map(|r| r * r).sum::<f64>();
        let squares: f64 = ratios.iter().map(|r| (c * r - 1.0).powi(2)).sum();
        let worst = ratios.iter().fold(0.0_f64, |worst, r| worst.max((c * r - 1.0).abs()));
        (
            squares,
            Conductance {
                c_dm3_s_bar: c,
                critical_ratio: b,
                misfit: worst,
            },
        )
    };
    let widest = points
        .iter()
        .map(|p| p.behind_pa / p.before_pa)
        .fold(f64::MAX, f64::min);
    let narrowest = points.iter().map(|p| p.behind_pa / p.before_pa).fold(0.0, f64::max);
    if points.len() < 3 || narrowest - widest < 0.1 {
        return Ok(best_c(USUAL_CRITICAL_RATIO).1);
    }
    let mut best = best_c(USUAL_CRITICAL_RATIO);
    for step in 0..=110 {
        let trial = best_c(0.05 + 0.005 * f64::from(step));
        if trial.0 < best.0 {
            best = trial;
        }
    }
    Ok(best.1)
}

#[cfg(test)]
mod tests;
