//! The performance curve of a lift at given levels: flow for an air, air for a flow, peak, onset and slopes.
//!
//! Void fraction by Zuber & Findlay (1965) with Nicklin's drift, losses in the manner of Stenning & Martin (1968, J. Eng.
//! Power 90:106), the air taken at the mean pressure of the riser. With `a1 = (K + 1)/(2g)`, `a2 = (Kt + 2)/(2g)` (K all
//! losses, Kt those of the two-phase part), `B = C0 jg + vd`, static lift `l`, length `L`, the head balance is a cubic in
//! the water's superficial velocity jl and a quadratic in the air's, jg:
//!
//! ```text
//! a1 C0 jl^3 + (a1 B + a2 C0 jg) jl^2 + (a2 jg B + l C0) jl + (l B - L jg) = 0
//! alpha jg^2 + beta jg + gamma = 0,   alpha = a2 C0 jl
//!     beta  = (a1 + a2) C0 jl^2 + a2 vd jl + l C0 - L
//!     gamma = a1 C0 jl^3 + a1 vd jl^2 + l C0 jl + l vd
//! ```
//!
//! The smaller root of the quadratic is the rising branch, the larger the falling one; they meet at the peak, where
//! `beta^2 = 4 alpha gamma`.

use super::drift::{DISTRIBUTION, drift_velocity_m_s};
use super::riser::{Calibration, Riser};
use crate::math::{GRAVITY_M_S2, PI, finite_or, larger, limit, seldom, smaller, sqrt};
use crate::site::Conditions;
use crate::units::{FreeAir, WaterFlow};

const C0: f32 = DISTRIBUTION;
/// Newton steps on the cubic. From its bound the iteration descends monotonically; ten steps reach f32 accuracy from
/// anywhere, most calls need three, from a root of a moment ago one or two.
const NEWTON_STEPS: usize = 16;
/// A step of this share is the last: Newton squares it.
const LAST_STEP: f32 = 1.0e-5;
/// A root guessed is no better than its bound when the first step from it is longer than this share of it.
const NEAR: f32 = 0.1;
/// Most steps of the search for the peak; it ends within 1e-5 after six to ten.
const PEAK_STEPS: usize = 24;

/// The curve of one lift at the levels of the moment.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Curve {
    /// Free air to superficial velocity at the mean riser pressure, 1/m2.
    air_to_jg: f32,
    area_m2: f32,
    a1: f32,
    a2: f32,
    drift_m_s: f32,
    /// Static lift, m: what the water must be raised by (negative when the source stands above the outlet).
    lift_m: f32,
    /// Submergence plus static lift, m.
    length_m: f32,
    submergence_m: f32,
    drowned: bool,
    density_kg_m3: f32,
}

/// A point on the curve with its slopes.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Point {
    /// Water delivered.
    pub flow: WaterFlow,
    /// Change of flow with free air, m3/s per m3/s; negative past the peak.
    pub per_air: f32,
    /// Change of flow with the source level, m3/s per m.
    pub per_source_m: f32,
    /// Change of flow with the receiving level, m3/s per m: zero unless the outlet is drowned.
    pub per_receiver_m: f32,
}

/// The most water a lift can move at the levels of the moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Peak {
    /// Most water.
    pub flow: WaterFlow,
    /// The air that gives it. More air gives less water.
    pub air: FreeAir,
}

impl Curve {
    /// The curve of `riser` with its source at `source_m` and its receiver at `receiver_m`, both above the source tank's
    /// floor (`receiver_m` is `None` when the outlet cannot drown).
    ///
    /// Water below the injector gives a curve that is zero everywhere.
    #[must_use]
    #[inline(never)]
    pub fn new(
        riser: &Riser,
        calibration: &Calibration,
        conditions: &Conditions,
        source_m: f32,
        receiver_m: Option<f32>,
    ) -> Self {
        let drift = drift_velocity_m_s(riser.bore_m, conditions.density_kg_m3, conditions.surface_tension_n_m);
        let drift = drift * calibration.slip;
        Self::with_slip(drift, riser, calibration, conditions, source_m, receiver_m)
    }

    /// The same with the drift velocity already worked out: it does not change with the levels and costs an exponential.
    #[must_use]
    pub fn with_drift(
        drift_m_s: f32,
        riser: &Riser,
        calibration: &Calibration,
        conditions: &Conditions,
        source_m: f32,
        receiver_m: Option<f32>,
    ) -> Self {
        let drift = drift_m_s * calibration.slip;
        Self::with_slip(drift, riser, calibration, conditions, source_m, receiver_m)
    }

    /// The same with the drift velocity times the slip that was fitted: what [`Curve::drift_m_s`] gives.
    pub(crate) fn with_slip(
        drift_m_s: f32,
        riser: &Riser,
        calibration: &Calibration,
        conditions: &Conditions,
        source_m: f32,
        receiver_m: Option<f32>,
    ) -> Self {
        let bore = limit(riser.bore_m, 0.005, 1.0);
        let area = 0.25 * PI * bore * bore;
        let submergence = larger(finite_or(source_m - riser.injector_m, 0.0), 0.0);
        let receiver = receiver_m.map_or(riser.outlet_m, |level| finite_or(level, riser.outlet_m));
        let drowned = receiver > riser.outlet_m;
        let top = if drowned { receiver } else { riser.outlet_m };
        let lift = finite_or(top - source_m, 0.0);
        let length = larger(submergence + lift, 0.05);
        let wall = riser.darcy_friction * length / bore;
        let mean_pa = conditions.atmosphere_pa + 0.5 * conditions.density_kg_m3 * GRAVITY_M_S2 * submergence;
        Self {
            air_to_jg: FreeAir::from_m3_s(1.0).volume_m3_s(mean_pa, conditions.water_k) * calibration.air / area,
            area_m2: area,
            a1: (wall + calibration.losses * riser.entrance_loss + riser.outlet_loss + 1.0) / (2.0 * GRAVITY_M_S2),
            a2: (wall + riser.outlet_loss + 2.0) / (2.0 * GRAVITY_M_S2),
            drift_m_s,
            lift_m: lift,
            length_m: length,
            submergence_m: submergence,
            drowned,
            density_kg_m3: conditions.density_kg_m3,
        }
    }

    /// Velocity at which its bubbles rise through the water, the slip that was fitted included, m/s.
    #[must_use]
    pub fn drift_m_s(&self) -> f32 {
        self.drift_m_s
    }

    /// The curve of a riser that stands dry: no flow at any air.
    #[must_use]
    pub const fn nothing() -> Self {
        Self::dry(0.0)
    }

    /// The same of one in which bubbles would rise as fast as this, m/s.
    pub(crate) const fn dry(drift_m_s: f32) -> Self {
        Self {
            air_to_jg: 1.0,
            area_m2: 1.0,
            a1: 1.0,
            a2: 1.0,
            drift_m_s,
            lift_m: 0.0,
            length_m: 1.0,
            submergence_m: 0.0,
            drowned: false,
            density_kg_m3: 1000.0,
        }
    }

    /// Depth of the air inlet below the source level, m.
    #[must_use]
    pub fn submergence_m(&self) -> f32 {
        self.submergence_m
    }

    /// Height the water is raised by, m; negative when it would run by itself.
    #[must_use]
    pub fn lift_m(&self) -> f32 {
        self.lift_m
    }

    /// Pressure of the water at the air inlet, Pa above the atmosphere.
    #[must_use]
    pub fn injector_pa(&self) -> f32 {
        self.density_kg_m3 * GRAVITY_M_S2 * self.submergence_m
    }

    /// Water delivered at this air, with its slopes.
    ///
    /// Zero below the onset. With a drowned outlet and less air than the onset, water runs back and the flow is negative.
    #[must_use]
    pub fn at(&self, air: FreeAir) -> Point {
        self.at_near(air, 0.0)
    }

    /// The same, quicker when the flow is near `near_m3_s`, as it was a moment ago.
    #[must_use]
    pub fn at_near(&self, air: FreeAir, near_m3_s: f32) -> Point {
        if self.submergence_m <= 0.0 {
            return Point::default();
        }
        let jg = limit(air.m3_s * self.air_to_jg, 0.0, 20.0);
        let b = C0 * jg + self.drift_m_s;
        let constant = self.lift_m * b - self.length_m * jg;
        if constant >= 0.0 {
            return if self.drowned {
                self.running_back(jg, b, constant / seldom::larger(b, 1.0e-6))
            } else {
                Point::default()
            };
        }
        let cubic = self.a1 * C0;
        let square = self.a1 * b + self.a2 * C0 * jg;
        let linear = self.a2 * jg * b + self.lift_m * C0;
        let jl = root_of_cubic([cubic, square, linear, constant], near_m3_s / self.area_m2);

        let by_jl = (3.0 * cubic * jl + 2.0 * square) * jl + linear;
        let steep = larger(by_jl, 1.0e-9);
        let by_jg = ((self.a1 + self.a2) * C0 * jl + self.a2 * (b + C0 * jg)) * jl + self.lift_m * C0 - self.length_m;
        // Raising the source by dh changes the lift by -dh at unchanged length; raising a drowned receiver changes both.
        let by_lift = C0 * jl + b;
        Point {
            flow: WaterFlow::from_m3_s(self.area_m2 * jl),
            per_air: -by_jg / steep * self.area_m2 * self.air_to_jg,
            per_source_m: by_lift / steep * self.area_m2,
            per_receiver_m: if self.drowned {
                (jg - by_lift) / steep * self.area_m2
            } else {
                0.0
            },
        }
    }

    /// Water running back from a drowned outlet: the level difference, less what the air in the riser holds up, against the
    /// losses of water alone. Nothing at the onset, most without air.
    fn running_back(&self, jg: f32, b: f32, head_m: f32) -> Point {
        let speed = sqrt(head_m / self.a1);
        let per_head = -0.5 * self.area_m2 * speed / seldom::larger(head_m, 1.0e-4);
        let head_per_jg = -self.length_m * self.drift_m_s / seldom::larger(b * b, 1.0e-9);
        Point {
            flow: WaterFlow::from_m3_s(-self.area_m2 * speed),
            per_air: per_head * head_per_jg * self.air_to_jg,
            per_source_m: -per_head,
            per_receiver_m: per_head * (1.0 - jg / seldom::larger(b, 1.0e-6)),
        }
    }

    /// Water delivered at this air.
    #[must_use]
    pub fn flow(&self, air: FreeAir) -> WaterFlow {
        self.at(air).flow
    }

    /// Least air that gives this flow, on the rising branch. `None` when the lift cannot reach it at these levels.
    ///
    /// Zero when the water runs that fast without air. Round trip with [`Curve::flow`] within 1e-4.
    #[must_use]
    pub fn air_for(&self, flow: WaterFlow) -> Option<FreeAir> {
        if self.submergence_m <= 0.0 || !flow.m3_s.is_finite() {
            return None;
        }
        let jl = larger(flow.m3_s, 0.0) / self.area_m2;
        let (alpha, beta, gamma) = self.quadratic(jl);
        if gamma <= 0.0 {
            return Some(FreeAir::ZERO);
        }
        let inside = beta * beta - 4.0 * alpha * gamma;
        if beta >= 0.0 || inside < 0.0 {
            return None;
        }
        let jg = 2.0 * gamma / (sqrt(inside) - beta);
        Some(FreeAir::from_m3_s(jg / self.air_to_jg))
    }

    /// The most water this lift can move at these levels, and the air for it. Zero when it can move none.
    #[must_use]
    pub fn peak(&self) -> Peak {
        let reach = self.length_m - self.lift_m * C0;
        if self.submergence_m <= 0.0 || !(reach > 0.0) {
            return Peak::default();
        }
        // beta is zero at most at this jl: its quadratic term alone reaches the constant there.
        let top = sqrt(reach / ((self.a1 + self.a2) * C0));
        // Bracketed secant (Illinois): the end that stays has its value halved, so both ends close in.
        let (mut low, mut low_by) = (0.0f32, reach);
        let (mut high, mut high_by) = (top, seldom::smaller(self.short_of_peak_by(top), -1.0e-9));
        for _ in 0..PEAK_STEPS {
            let at = seldom::limit(low + (high - low) * low_by / (low_by - high_by), low, high);
            let by = self.short_of_peak_by(at);
            if by > 0.0 {
                (low, low_by) = (at, by);
                high_by *= 0.5;
            } else {
                (high, high_by) = (at, by);
                low_by *= 0.5;
            }
            if high - low <= 1.0e-5 * high || by.abs() <= 1.0e-6 * reach {
                break;
            }
        }
        self.peak_at(if low > 0.0 { low } else { high })
    }

    /// The same, quicker when the peak has moved by less than half a percent since `last`: then one Newton step from it is within
    /// 1e-5.
    #[must_use]
    pub fn peak_near(&self, last: &Peak) -> Peak {
        let jl = last.flow.m3_s / self.area_m2;
        let (alpha, beta, gamma) = self.quadratic(jl);
        let root = sqrt(alpha * gamma);
        let (a, c) = (self.a1 * C0, self.lift_m * C0);
        let beta_slope = 2.0 * (a + self.a2 * C0) * jl + self.a2 * self.drift_m_s;
        let gamma_slope = (3.0 * a * jl + 2.0 * self.a1 * self.drift_m_s) * jl + c;
        // By how much -beta - 2 sqrt(alpha gamma) falls with jl, times the root.
        let falls = beta_slope * root + self.a2 * C0 * gamma + alpha * gamma_slope;
        let step = (-beta - 2.0 * root) * root / larger(falls, 1.0e-9);
        if jl > 0.0 && root > 0.0 && self.submergence_m > 0.0 && falls > 0.0 && step.abs() < 0.005 * jl {
            self.peak_at(jl + step)
        } else {
            self.peak()
        }
    }

    /// On the peak -beta = 2 sqrt(alpha gamma). The difference falls with jl: positive at rest (if any air can lift the
    /// water at all), negative where beta has reached zero.
    fn short_of_peak_by(&self, jl: f32) -> f32 {
        let (alpha, beta, gamma) = self.quadratic(jl);
        -beta - 2.0 * sqrt(alpha * gamma)
    }

    fn peak_at(&self, jl: f32) -> Peak {
        let (alpha, beta) = self.air_terms(jl);
        let jg = if alpha > 0.0 { -beta / (2.0 * alpha) } else { 0.0 };
        Peak {
            flow: WaterFlow::from_m3_s(jl * self.area_m2),
            air: FreeAir::from_m3_s(limit(jg, 0.0, 20.0) / self.air_to_jg),
        }
    }

    /// The air at which water first moves: `jg = l vd / (L - C0 l)`. Zero when water runs without air; `None` when no
    /// air can raise the water this high.
    #[must_use]
    pub fn onset(&self) -> Option<FreeAir> {
        let reach = self.length_m - C0 * self.lift_m;
        if self.submergence_m <= 0.0 || reach <= 0.0 {
            return None;
        }
        let jg = seldom::positive(self.lift_m) * self.drift_m_s / reach;
        Some(FreeAir::from_m3_s(jg / self.air_to_jg))
    }

    /// Of the quadratic what belongs to the air: alpha and beta.
    fn air_terms(&self, jl: f32) -> (f32, f32) {
        let alpha = self.a2 * C0 * jl;
        let beta = ((self.a1 + self.a2) * C0 * jl + self.a2 * self.drift_m_s) * jl + self.lift_m * C0 - self.length_m;
        (alpha, beta)
    }

    fn quadratic(&self, jl: f32) -> (f32, f32, f32) {
        let (alpha, beta) = self.air_terms(jl);
        let gamma = ((self.a1 * C0 * jl + self.a1 * self.drift_m_s) * jl + self.lift_m * C0) * jl
            + self.lift_m * self.drift_m_s;
        (alpha, beta, gamma)
    }
}

/// The one positive root of `cubic x^3 + square x^2 + linear x + constant` with cubic, square > 0 > constant; `near` is a guess, 0 for
/// none.
///
/// Right of zero the cubic is convex, so Newton from an upper bound of the root falls onto it without overshoot. Each bound is what
/// the root would be if the other positive terms were not there. From a guess to the left of it the first step lands right of it.
fn root_of_cubic([cubic, square, linear, constant]: [f32; 4], near: f32) -> f32 {
    let newton = |x: f32| {
        let value = ((cubic * x + square) * x + linear) * x + constant;
        let slope = (3.0 * cubic * x + 2.0 * square) * x + linear;
        if slope > 0.0 { value / slope } else { f32::INFINITY }
    };
    let first = newton(near);
    let mut x = if near > 0.0 && first.abs() < NEAR * near {
        if first.abs() <= LAST_STEP * near {
            return near - first;
        }
        near - first
    } else {
        let pull = -constant;
        let by_square = sqrt(pull / square);
        if linear > 0.0 {
            smaller(by_square, pull / linear)
        } else {
            by_square - linear / square
        }
    };
    for _ in 0..NEWTON_STEPS {
        let step = newton(x);
        if step == f32::INFINITY {
            break;
        }
        x = larger(x - step, 0.0);
        if step.abs() <= LAST_STEP * x {
            break;
        }
    }
    finite_or(x, 0.0)
}
