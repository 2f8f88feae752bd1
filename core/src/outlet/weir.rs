//! Thin-plate weirs, free and drowned.

use crate::math::{PI, ROOT_2G, larger, limit, pow, smaller, sqrt};

/// Thin-plate V-notch at a head in m. Ce and kh by angle: the polynomial fit of Shen's figures printed in USBR's Water
/// Measurement Manual practice (kh in feet there); 90 degrees gives Ce 0.578, kh 0.88 mm (ISO 1438: 0.578, 0.85 mm).
#[must_use]
pub fn v_notch_m3_s(head_m: f32, angle_deg: f32) -> f32 {
    if !(head_m > 0.0) {
        return 0.0;
    }
    let (discharge, extra_m) = v_notch(angle_deg);
    // The correction kh may not make water run at no head: let it in over the first millimetre.
    let h = head_m + extra_m * smaller(head_m / 0.001, 1.0);
    let tan = half_angle_tan(0.5 * limit(angle_deg, 20.0, 100.0) * PI / 180.0);
    8.0 / 15.0 * discharge * tan * ROOT_2G * h * h * sqrt(h)
}

/// Ce, and kh in m, of a V-notch of this angle.
pub(super) fn v_notch(angle_deg: f32) -> (f32, f32) {
    let t = limit(angle_deg, 20.0, 100.0);
    if (t - 90.0).abs() < 0.05 {
        return (0.578, 0.000_85);
    }
    let ce = 0.607_165_05 + t * (-0.000_874_466_96 + t * 6.103_933e-6);
    let kh_ft = 0.014_490_265 + t * (-0.000_339_555_35 + t * (3.298_19e-6 - t * 1.062_154_4e-8));
    (ce, kh_ft * 0.3048)
}

/// Tangent of up to 50 degrees (0.873 rad) within 2e-6: the continued fraction `x/(1 - x2/(3 - x2/(5 - x2/(7 - x2/9))))`.
pub(super) fn half_angle_tan(x: f32) -> f32 {
    let s = x * x;
    x / (1.0 - s / (3.0 - s / (5.0 - s / (7.0 - s / 9.0))))
}

/// Thin-plate rectangular weir at a head in m, Kindsvater-Carter; `crest_height_m` is the crest above the floor.
///
/// Coefficients by the ratio of crest to channel width (Kindsvater & Carter 1957, as tabulated in the EPA SWMM reference
/// manual, vol. II, table 6-2); kh 0.9 mm (0.003 ft, USBR); kb from 2.4 mm (narrow) to 4.2 mm and -0.9 mm (full width).
#[must_use]
pub fn rectangular_m3_s(head_m: f32, width_m: f32, channel_m: f32, crest_height_m: f32) -> f32 {
    if !(head_m > 0.0) {
        return 0.0;
    }
    let weir = RectangularWeir::of(width_m, channel_m);
    let over_height = limit(head_m / larger(crest_height_m, 1.0e-3), 0.0, MOST_OVER_HEIGHT);
    let discharge = weir.constant + weir.slope * over_height;
    let h = head_m + RECTANGULAR_EXTRA_M * smaller(head_m / 0.001, 1.0);
    2.0 / 3.0 * discharge * ROOT_2G * (width_m + weir.wider_m) * h * sqrt(h)
}

/// kh of a rectangular weir, m.
pub(super) const RECTANGULAR_EXTRA_M: f32 = 0.0009;
/// Head over crest height from which on the discharge coefficient of a rectangular weir grows no more.
pub(super) const MOST_OVER_HEIGHT: f32 = 2.5;

/// What the ratio of crest to channel width makes of a rectangular weir.
pub(super) struct RectangularWeir {
    /// Ce where the crest is high over the floor.
    pub constant: f32,
    /// Growth of Ce with head over crest height.
    pub slope: f32,
    /// kb, m.
    pub wider_m: f32,
}

impl RectangularWeir {
    pub fn of(width_m: f32, channel_m: f32) -> Self {
        /// Width ratio, constant and slope of Ce, kb in m.
        const BY_RATIO: &[(f32, f32, f32, f32); 8] = &[
            (0.2, 0.5894, -0.0016, 0.0024),
            (0.4, 0.5916, 0.0059, 0.0027),
            (0.5, 0.5933, 0.0114, 0.0030),
            (0.6, 0.5943, 0.0186, 0.0036),
            (0.7, 0.5950, 0.0300, 0.0041),
            (0.8, 0.5963, 0.0444, 0.0042),
            (0.9, 0.5993, 0.0645, 0.0035),
            (1.0, 0.6021, 0.0748, -0.0009),
        ];
        let ratio = limit(width_m / larger(channel_m, 1.0e-3), 0.0, 1.0);
        let mut left = &BY_RATIO[0];
        for right in BY_RATIO {
            if ratio <= right.0 {
                let width = right.0 - left.0;
                let share = if width > 0.0 { (ratio - left.0) / width } else { 1.0 };
                let between = |from: f32, to: f32| from + share * (to - from);
                return Self {
                    constant: between(left.1, right.1),
                    slope: between(left.2, right.2),
                    wider_m: between(left.3, right.3),
                };
            }
            left = right;
        }
        Self {
            constant: left.1,
            slope: left.2,
            wider_m: left.3,
        }
    }
}

/// Share of the free flow that a drowned weir still passes: Villemonte (1947), `(1 - (h2/h1)^n)^0.385`, n 1.5, or 2.5 for
/// a V-notch. Water that stands higher below than above runs no way here: weirs are not modelled backwards.
pub(super) fn drowning(head_m: f32, downstream_head_m: Option<f32>, v_notch: bool) -> f32 {
    match downstream_head_m {
        Some(down) if down > 0.0 && head_m > 0.0 => {
            let ratio = down / head_m;
            if ratio >= 1.0 {
                return 0.0;
            }
            let raised = if v_notch {
                ratio * ratio * sqrt(ratio)
            } else {
                ratio * sqrt(ratio)
            };
            pow(1.0 - raised, 0.385)
        }
        _ => 1.0,
    }
}
