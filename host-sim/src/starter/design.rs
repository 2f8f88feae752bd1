//! What suits a wish: a usual layout with a sump of a metre and tanks that stand half a metre higher.

use super::wish::{LiftWish, Wish, WishFault};
use crate::size::{Request, Span, size};
use std::fmt;

/// Litres a minute in one m3/s.
const L_MIN: f64 = 60_000.0;
/// Usual level of the sump above its floor, mm.
pub(super) const SUMP_MM: f64 = 1_050.0;
/// Air inlet above the sump's floor, mm.
pub(super) const INJECTOR_MM: f64 = 50.0;
/// Floor of the tanks above that of the sump, mm.
pub(super) const FLOOR_MM: f64 = 500.0;
/// Usual level of a tank above its floor, mm.
pub(super) const LEVEL_MM: f64 = 670.0;
/// Overflow above the usual level, mm.
const OVERFLOW_ABOVE_MM: f64 = 65.0;
/// Outlet of a riser above the usual level of its tank, mm.
const OUTLET_ABOVE_MM: f64 = 20.0;
/// Head over a notch to aim for, m: below 0.06 m it is outside its standard (ISO 1438).
const HEAD_M: f64 = 0.075;
/// Bores of overflow pipes to choose from, mm.
const OVERFLOWS_MM: [f64; 5] = [103.6, 119.2, 152.6, 190.6, 237.6];
/// Head that an overflow may take with every valve open, m.
const OVERFLOW_HEAD_M: f64 = 0.05;
/// Surface of a tank a L/min, m2: levels then settle within minutes (common practice: no source).
const AREA_M2_PER_L_MIN: f64 = 0.0075;
/// Fish that a tank bears easily, kg a m3 (common practice: no source).
const FISH_KG_M3: f64 = 5.0;
/// Sonic conductance a L/min of air, dm3/(s bar): the valve works near half its stroke.
const CONDUCTANCE_PER_L_MIN: f64 = 0.15;

/// One lift with its tank, as designed.
#[derive(Clone, Debug, PartialEq)]
pub struct LiftDesign {
    /// What was wished.
    pub wish: LiftWish,
    /// Bore of the riser, mm, and the pipe it is of.
    pub bore_mm: f64,
    /// Outside diameter of that pipe, mm.
    pub outside_mm: f64,
    /// Free air for the target, L/min.
    pub air_l_min: f64,
    /// Air floor, L/min.
    pub air_floor_l_min: f64,
    /// Bore of the air line, mm.
    pub air_line_mm: f64,
    /// Sonic conductance of the air valve, dm3/(s bar).
    pub conductance: f64,
    /// Angle of the notch, degrees.
    pub notch_deg: f64,
    /// Its crest above the tank's floor, mm.
    pub notch_mm: f64,
    /// Bore of the overflow, mm.
    pub overflow_bore_mm: f64,
    /// Crest of the overflow, mm.
    pub overflow_mm: f64,
    /// Rim of the tank, mm.
    pub rim_mm: f64,
    /// Outlet of the riser above the sump's floor, mm.
    pub outlet_mm: f64,
    /// Surface of the tank, m2.
    pub area_m2: f64,
    /// Mass of fish that the tank bears easily, kg.
    pub fish_kg: f64,
}

/// A whole place, as designed.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// What was wished.
    pub wish: Wish,
    /// The lifts.
    pub lifts: Vec<LiftDesign>,
    /// Surface of the sump, m2.
    pub sump_m2: f64,
    /// Blower: free air in L/min and pressure in kPa.
    pub blower: [(f64, f64); 3],
}

/// Why there is no design.
#[derive(Clone, Debug, PartialEq)]
pub enum DesignError {
    /// The wish itself.
    Wish(Vec<WishFault>),
    /// No pipe suits a lift.
    NoPipe {
        /// Its name.
        lift: String,
        /// What was asked of it, L/min.
        l_min: f64,
    },
}

impl fmt::Display for DesignError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Wish(faults) => {
                for (index, fault) in faults.iter().enumerate() {
                    if index > 0 {
                        f.write_str("\n")?;
                    }
                    write!(f, "{fault}")?;
                }
                Ok(())
            }
            Self::NoPipe { lift, l_min } => write!(
                f,
                "no pipe of the usual series delivers {l_min} L/min as lift {lift} from a depth of a metre: share the water \
                 between two lifts, or see `risertrim size`"
            ),
        }
    }
}

impl std::error::Error for DesignError {}

/// Designs the place.
///
/// # Errors
/// The wish is at fault, or no pipe suits it.
pub fn design(wish: &Wish) -> Result<Design, DesignError> {
    let faults = wish.faults();
    if !faults.is_empty() {
        return Err(DesignError::Wish(faults));
    }
    let lifts: Vec<LiftDesign> = wish
        .lifts
        .iter()
        .map(|lift| one(wish, lift))
        .collect::<Result<_, _>>()?;
    // What stands above the notches comes down when the air stops: the sump may rise by 70 mm for it.
    let above_m3: f64 = lifts
        .iter()
        .map(|lift| lift.area_m2 * 1e-3 * (LEVEL_MM - lift.notch_mm))
        .sum();
    let air: f64 = lifts.iter().map(|lift| lift.air_l_min).sum();
    Ok(Design {
        wish: wish.clone(),
        sump_m2: to_step((above_m3 / 0.07).max(1.0), 0.5),
        blower: [
            (0.0, 28.0),
            (to_step(2.1 * air, 10.0), 14.0),
            (to_step(4.2 * air, 10.0), 0.0),
        ],
        lifts,
    })
}

fn one(wish: &Wish, lift: &LiftWish) -> Result<LiftDesign, DesignError> {
    let outlet_mm = FLOOR_MM + LEVEL_MM + OUTLET_ABOVE_MM;
    let none = || DesignError::NoPipe {
        lift: lift.name.clone(),
        l_min: lift.l_min,
    };
    let request = Request {
        // Room for a target a fifth higher.
        water_m3_s: Span {
            low: lift.l_min / L_MIN,
            high: 1.2 * lift.l_min / L_MIN,
        },
        depth_m: Span::at(1e-3 * (SUMP_MM - INJECTOR_MM)),
        lift_m: Span::at(1e-3 * (outlet_mm - SUMP_MM)),
        water_c: wish.water_c,
        altitude_m: wish.altitude_m,
        ..Request::default()
    };
    let answer = size(&request).map_err(|_| none())?;
    let picked = answer.pick.as_ref().map(|pick| pick.index);
    let workable = || answer.candidates.iter().find(|candidate| candidate.works());
    let candidate = picked
        .and_then(|index| answer.candidates.get(index))
        .or_else(workable)
        .ok_or_else(none)?;
    let air_l_min = L_MIN * candidate.least_air_m3_s.or(candidate.air_m3_s).ok_or_else(none)?;
    let onset = candidate.onset_air_m3_s.map_or(air_l_min, |air| L_MIN * air);
    let (notch_deg, head_m) = notch(lift.l_min / L_MIN);
    let area_m2 = to_step((AREA_M2_PER_L_MIN * lift.l_min).max(0.3), 0.1);
    let overflow_mm = LEVEL_MM + OVERFLOW_ABOVE_MM;
    let (overflow_bore_mm, overflow_head_m) = overflow(candidate.peak_m3_s);
    Ok(LiftDesign {
        wish: lift.clone(),
        bore_mm: candidate.pipe.bore_mm,
        outside_mm: candidate.pipe.outside_mm,
        air_l_min,
        air_floor_l_min: two_figures((0.08 * air_l_min).min(0.4 * onset)),
        air_line_mm: candidate.air_line.bore_mm,
        conductance: two_figures(CONDUCTANCE_PER_L_MIN * air_l_min),
        notch_deg,
        notch_mm: (LEVEL_MM - 1e3 * head_m).round(),
        overflow_bore_mm,
        overflow_mm,
        rim_mm: to_step(overflow_mm + 1.3e3 * overflow_head_m + 40.0, 10.0),
        outlet_mm,
        area_m2,
        fish_kg: two_figures(FISH_KG_M3 * area_m2 * 1e-3 * LEVEL_MM),
    })
}

/// Angle of the V-notch whose head is nearest to what is aimed for, and that head, m (ISO 1438: Q = 8/15 C sqrt(2 g) tan(a/2) h^2.5
/// with C = 0.58).
fn notch(water_m3_s: f64) -> (f64, f64) {
    let head = |angle_deg: f64| {
        let per = 8.0 / 15.0 * 0.58 * (2.0 * 9.81_f64).sqrt() * (0.5 * angle_deg.to_radians()).tan();
        (water_m3_s / per).powf(0.4)
    };
    let off = |angle: &f64| (head(*angle) - HEAD_M).abs();
    let angle = [28.0, 45.0, 60.0, 90.0]
        .into_iter()
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or(90.0);
    (angle, head(angle))
}

/// Bore of the overflow, mm, and the head over it, m, that carries the most a lift can move (weir all round the pipe, C = 0.56).
fn overflow(most_m3_s: f64) -> (f64, f64) {
    let head = |bore_mm: f64| {
        let per = 2.0 / 3.0 * 0.56 * (2.0 * 9.81_f64).sqrt() * std::f64::consts::PI * 1e-3 * bore_mm;
        (most_m3_s / per).powf(2.0 / 3.0)
    };
    let fits = OVERFLOWS_MM.into_iter().find(|bore| head(*bore) <= OVERFLOW_HEAD_M);
    let bore = fits.unwrap_or(237.6);
    (bore, head(bore))
}

fn to_step(value: f64, step: f64) -> f64 {
    let steps = (value / step).ceil();
    // Divided, not multiplied, where the step is a tenth: 0.3, not 0.30000000000000004.
    if step < 1.0 {
        steps / (1.0 / step).round()
    } else {
        steps * step
    }
}

/// To two figures, never to zero.
fn two_figures(value: f64) -> f64 {
    let size = 10_f64.powf(value.max(1e-3).log10().floor() - 1.0);
    let rounded = (value.max(1e-3) / size).round();
    if size < 1.0 {
        rounded / (1.0 / size).round()
    } else {
        rounded * size
    }
}
