//! Outlets: the laws that turn a level into a flow.
//!
//! Every law gives the range in which it can be trusted. Where a level lies outside, the flow is still given (continuous,
//! bounded) and marked doubtful, so that the estimator can lean on it less.

use crate::math::{GRAVITY_M_S2, PI, ROOT_2G, finite_or, interpolate, larger, limit, ln, pow, seldom, smaller, sqrt};
use serde::{Deserialize, Serialize};

/// Points a measured outlet table can hold.
pub const TABLE_POINTS: usize = 6;

/// Head over a crest up to which slopes are numerical, m.
const NEAR_CREST_M: f32 = 0.002;

/// Half the step of the numerical slopes, m. Wide enough for f32, narrow against any head that matters.
const SLOPE_STEP_M: f32 = 0.000_5;

/// Where an outlet leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Drain {
    /// Into another tank, by index.
    Tank(u8),
    /// Out of the system.
    Away,
}

/// One measured point of an outlet table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TablePoint {
    /// Level above the tank's floor, m.
    pub level_m: f32,
    /// Flow at that level, m3/s.
    pub flow_m3_s: f32,
}

/// The law of an outlet. Heights are above the floor of the tank it drains. `P` is where the points of a measured one are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Law<P = heapless::Vec<TablePoint, TABLE_POINTS>> {
    /// Thin-plate V-notch: ISO 1438, Kindsvater-Shen: `8/15 Ce tan(angle/2) sqrt(2g) (h + kh)^2.5`.
    VNotch {
        /// Height of the notch's point, m.
        crest_m: f32,
        /// Angle of the notch, degrees, 20 to 100.
        angle_deg: f32,
    },
    /// Thin-plate rectangular weir: Kindsvater-Carter: `2/3 Ce sqrt(2g) (b + kb) (h + kh)^1.5`.
    Rectangular {
        /// Height of the crest, m.
        crest_m: f32,
        /// Width of the crest, m.
        width_m: f32,
        /// Width of the channel or tank wall it stands in, m; at least the crest's.
        channel_m: f32,
    },
    /// Round hole in a wall, free or drowned: `Cd A sqrt(2 g dh)`.
    Orifice {
        /// Height of the hole's centre, m.
        centre_m: f32,
        /// Diameter, m.
        bore_m: f32,
        /// Discharge coefficient; 0.61 for a sharp edge, 0.8 for a short tube.
        discharge: f32,
    },
    /// Upright overflow pipe: weir over its lip, turning into an orifice.
    Standpipe {
        /// Height of the lip, m.
        crest_m: f32,
        /// Bore, m.
        bore_m: f32,
    },
    /// Pipe running full, by gravity: Darcy-Weisbach with minor losses. Runs both ways when drowned.
    Pipe {
        /// Height of the pipe's lower end, m above this tank's floor (may be negative).
        end_m: f32,
        /// Bore, m.
        bore_m: f32,
        /// Length, m.
        length_m: f32,
        /// Sum of the loss coefficients of entrance, bends and valves, without the 1 of the exit.
        minor_loss: f32,
    },
    /// Measured points, straight between them; rising levels.
    Table {
        /// The points.
        points: P,
    },
}

/// An outlet whose points are looked at where they are.
pub type OutletView<'a> = Outlet<&'a [TablePoint]>;

/// An outlet of a tank.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Outlet<P = heapless::Vec<TablePoint, TABLE_POINTS>> {
    /// Where it leads.
    pub to: Drain,
    /// Its law.
    pub law: Law<P>,
    /// Multiplier found by measuring this outlet; 1 for the law as published.
    pub coefficient: f32,
}

/// What an outlet passes at given levels.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Outflow {
    /// Flow, m3/s; negative when water comes in through it.
    pub flow_m3_s: f32,
    /// Change of flow with this tank's level, m2/s.
    pub per_level: f32,
    /// Change of flow with the level it drains into, m2/s; zero unless drowned.
    pub per_downstream: f32,
    /// True where the head is outside the range in which the law is to be trusted.
    pub doubtful: bool,
}

impl<P> Outlet<P> {
    /// The same with its points elsewhere.
    pub(crate) fn with<'a, Q>(&'a self, points: impl FnOnce(&'a P) -> Q) -> Outlet<Q> {
        Outlet {
            to: self.to,
            law: self.law.with(points),
            coefficient: self.coefficient,
        }
    }
}

impl<P: AsRef<[TablePoint]>> Outlet<P> {
    fn view(&self) -> OutletView<'_> {
        self.with(P::as_ref)
    }

    /// Flow and slopes at `level_m`, with the water it drains into at `downstream_m` (both above this tank's floor; `None`
    /// when it falls free).
    ///
    /// The slopes are those of the law; within 2 mm of a crest, and of drowned outlets, central differences over 1 mm, so that a crest
    /// is a bend and not a corner.
    #[must_use]
    pub fn at(&self, level_m: f32, downstream_m: Option<f32>) -> Outflow {
        self.view().flows(level_m, downstream_m)
    }

    /// Flow alone, m3/s: what [`Outlet::at`] gives without its slopes.
    #[must_use]
    pub fn flow_m3_s(&self, level_m: f32, downstream_m: Option<f32>) -> f32 {
        self.view().flows_m3_s(level_m, downstream_m)
    }
}

impl OutletView<'_> {
    /// See [`Outlet::at`]: there is one of it, for points wherever they are.
    pub(crate) fn flows(&self, level_m: f32, downstream_m: Option<f32>) -> Outflow {
        let level = finite_or(level_m, 0.0);
        let below = downstream_m.map(|down| finite_or(down, level - 10.0));
        let dry = self.law.is_dry_below_m();
        if level + SLOPE_STEP_M <= dry && below.is_none_or(|down| down <= dry) {
            return Outflow::default();
        }
        let flow = self.coefficient * self.law.flow_m3_s(level, below);
        if let Law::Pipe { end_m, .. } = &self.law {
            return self.through_pipe(flow, level, below, *end_m);
        }
        let drowned = below.is_some_and(|down| self.law.feels(down + SLOPE_STEP_M));
        if let Some(exponent) = self.law.exponent(level).filter(|_| !drowned) {
            return Outflow {
                flow_m3_s: finite_or(flow, 0.0),
                per_level: larger(finite_or(exponent * flow, 0.0), 0.0),
                per_downstream: 0.0,
                doubtful: self.law.doubtful(level),
            };
        }
        let difference = |up: f32, down: f32| self.coefficient * (up - down) / (2.0 * SLOPE_STEP_M);
        let per_level = difference(
            self.law.flow_m3_s(level + SLOPE_STEP_M, below),
            self.law.flow_m3_s(level - SLOPE_STEP_M, below),
        );
        let per_downstream = match below {
            Some(down) if drowned => difference(
                self.law.flow_m3_s(level, Some(down + SLOPE_STEP_M)),
                self.law.flow_m3_s(level, Some(down - SLOPE_STEP_M)),
            ),
            _ => 0.0,
        };
        Outflow {
            flow_m3_s: finite_or(flow, 0.0),
            per_level: larger(finite_or(per_level, 0.0), 0.0),
            per_downstream: smaller(finite_or(per_downstream, 0.0), 0.0),
            doubtful: self.law.doubtful(level),
        }
    }

    /// See [`Outlet::flow_m3_s`].
    #[inline(never)]
    pub(crate) fn flows_m3_s(&self, level_m: f32, downstream_m: Option<f32>) -> f32 {
        let level = finite_or(level_m, 0.0);
        let below = downstream_m.map(|down| finite_or(down, level - 10.0));
        finite_or(self.coefficient * self.law.flow_m3_s(level, below), 0.0)
    }

    /// A full pipe goes by its head to the power of 0.55 (0.5 for the losses, a little more for the friction factor that
    /// falls with speed): its slope needs no further root of the friction law.
    fn through_pipe(&self, flow: f32, level: f32, below: Option<f32>, end_m: f32) -> Outflow {
        let drowned = below.is_some_and(|down| down > end_m);
        let far = below.map_or(end_m, |down| seldom::larger(down, end_m));
        let head = seldom::larger((seldom::larger(level, end_m) - far).abs(), SLOPE_STEP_M);
        let slope = 0.55 * flow.abs() / head;
        Outflow {
            flow_m3_s: finite_or(flow, 0.0),
            per_level: if level > end_m { finite_or(slope, 0.0) } else { 0.0 },
            per_downstream: if drowned { -finite_or(slope, 0.0) } else { 0.0 },
            doubtful: self.law.doubtful(level),
        }
    }
}

impl<P> Law<P> {
    fn with<'a, Q>(&'a self, table: impl FnOnce(&'a P) -> Q) -> Law<Q> {
        match self {
            Self::VNotch { crest_m, angle_deg } => Law::VNotch {
                crest_m: *crest_m,
                angle_deg: *angle_deg,
            },
            Self::Rectangular {
                crest_m,
                width_m,
                channel_m,
            } => Law::Rectangular {
                crest_m: *crest_m,
                width_m: *width_m,
                channel_m: *channel_m,
            },
            Self::Orifice {
                centre_m,
                bore_m,
                discharge,
            } => Law::Orifice {
                centre_m: *centre_m,
                bore_m: *bore_m,
                discharge: *discharge,
            },
            Self::Standpipe { crest_m, bore_m } => Law::Standpipe {
                crest_m: *crest_m,
                bore_m: *bore_m,
            },
            Self::Pipe {
                end_m,
                bore_m,
                length_m,
                minor_loss,
            } => Law::Pipe {
                end_m: *end_m,
                bore_m: *bore_m,
                length_m: *length_m,
                minor_loss: *minor_loss,
            },
            Self::Table { points } => Law::Table { points: table(points) },
        }
    }

    /// How far the shape of the law may be from that of a well-made outlet of its kind, share of the flow, once its
    /// coefficient is fitted: thin plates keep their exponent (ISO 1438); a pipe's friction exponent is known less well; a
    /// standpipe turns from weir to hole somewhere between 0.45 and 1 of its radius (USBR drop-inlet practice, from memory).
    #[must_use]
    pub fn form_sigma(&self) -> f32 {
        match self {
            Self::VNotch { .. } | Self::Rectangular { .. } | Self::Orifice { .. } => 0.003,
            Self::Pipe { .. } => 0.005,
            Self::Standpipe { .. } => 0.012,
            Self::Table { .. } => 0.01,
        }
    }
}

impl<P: AsRef<[TablePoint]>> Law<P> {
    /// Level below which nothing can run out, m above the tank's floor.
    #[must_use]
    pub fn dry_below_m(&self) -> f32 {
        self.with(P::as_ref).is_dry_below_m()
    }
}

impl Law<&[TablePoint]> {
    /// See [`Law::dry_below_m`].
    pub(crate) fn is_dry_below_m(&self) -> f32 {
        match self {
            Self::VNotch { crest_m, .. } | Self::Rectangular { crest_m, .. } | Self::Standpipe { crest_m, .. } => {
                *crest_m
            }
            Self::Orifice { centre_m, bore_m, .. } => centre_m - 0.5 * bore_m,
            Self::Pipe { end_m, .. } => *end_m,
            Self::Table { points } => points
                .iter()
                .take_while(|p| p.flow_m3_s <= 0.0)
                .last()
                .map_or_else(|| points.first().map_or(f32::MAX, |p| p.level_m), |p| p.level_m),
        }
    }

    /// Change of a weir's flow with its level as a share of the flow, 1/m, falling free; `None` near the crest and for other laws.
    fn exponent(&self, level_m: f32) -> Option<f32> {
        let head = level_m - self.is_dry_below_m();
        if !(head > NEAR_CREST_M) {
            return None;
        }
        match self {
            Self::VNotch { angle_deg, .. } => Some(2.5 / (head + v_notch(*angle_deg).1)),
            Self::Rectangular {
                crest_m,
                width_m,
                channel_m,
            } => {
                let weir = RectangularWeir::of(*width_m, *channel_m);
                let by_height = weir.slope / larger(*crest_m, 1.0e-3);
                let over = head / larger(*crest_m, 1.0e-3);
                let discharge = if over < MOST_OVER_HEIGHT {
                    by_height / (weir.constant + weir.slope * over)
                } else {
                    0.0
                };
                Some(1.5 / (head + RECTANGULAR_EXTRA_M) + discharge)
            }
            // A weir up to where the hole is the narrower: 1.8385 pi D h = 0.6 pi/4 D2 sqrt(2g).
            Self::Standpipe { bore_m, .. } => {
                let turns_at = 0.6 * 0.25 * ROOT_2G / 1.8385 * bore_m;
                Some(if head < turns_at { 1.5 } else { 0.5 } / head)
            }
            _ => None,
        }
    }

    /// True when a downstream level at this height changes the flow.
    fn feels(&self, downstream_m: f32) -> bool {
        !matches!(self, Self::Table { .. }) && downstream_m > self.is_dry_below_m()
    }

    /// True where the level is outside the law's range of validity.
    fn doubtful(&self, level_m: f32) -> bool {
        match self {
            // ISO 1438 / USBR: at least 60 mm (0.2 ft) of head over a V-notch, 30 mm over a rectangular crest.
            Self::VNotch { crest_m, .. } => level_m - crest_m < 0.06,
            Self::Rectangular { crest_m, .. } => level_m - crest_m < 0.03,
            // A lip is rarely level to better than a few millimetres.
            Self::Standpipe { crest_m, .. } => level_m - crest_m < 0.01,
            Self::Orifice { centre_m, bore_m, .. } => level_m - centre_m < 0.5 * bore_m,
            Self::Pipe { end_m, bore_m, .. } => level_m - end_m < 0.5 * bore_m,
            Self::Table { points } => {
                points.first().is_none_or(|p| level_m < p.level_m) || points.last().is_none_or(|p| level_m > p.level_m)
            }
        }
    }

    fn flow_m3_s(&self, level_m: f32, downstream_m: Option<f32>) -> f32 {
        match self {
            Self::VNotch { crest_m, angle_deg } => {
                let head = level_m - crest_m;
                v_notch_m3_s(head, *angle_deg) * drowning(head, downstream_m.map(|d| d - crest_m), true)
            }
            Self::Rectangular {
                crest_m,
                width_m,
                channel_m,
            } => {
                let head = level_m - crest_m;
                rectangular_m3_s(head, *width_m, *channel_m, *crest_m)
                    * drowning(head, downstream_m.map(|d| d - crest_m), false)
            }
            Self::Orifice {
                centre_m,
                bore_m,
                discharge,
            } => orifice_m3_s(
                level_m - centre_m,
                downstream_m.map(|d| d - centre_m),
                *bore_m,
                *discharge,
            ),
            Self::Standpipe { crest_m, bore_m } => {
                let head = level_m - crest_m;
                standpipe_m3_s(head, *bore_m) * drowning(head, downstream_m.map(|d| d - crest_m), false)
            }
            Self::Pipe {
                end_m,
                bore_m,
                length_m,
                minor_loss,
            } => {
                let far = downstream_m.map_or(*end_m, |down| seldom::larger(down, *end_m));
                let near = seldom::larger(level_m, *end_m);
                let flow = pipe_m3_s((near - far).abs(), *bore_m, *length_m, *minor_loss);
                if near >= far { flow } else { -flow }
            }
            Self::Table { points } => interpolate(points, level_m, |p| p.level_m, |p| p.flow_m3_s).unwrap_or(0.0),
        }
    }
}

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
fn v_notch(angle_deg: f32) -> (f32, f32) {
    let t = limit(angle_deg, 20.0, 100.0);
    if (t - 90.0).abs() < 0.05 {
        return (0.578, 0.000_85);
    }
    let ce = 0.607_165_05 + t * (-0.000_874_466_96 + t * 6.103_933e-6);
    let kh_ft = 0.014_490_265 + t * (-0.000_339_555_35 + t * (3.298_19e-6 - t * 1.062_154_4e-8));
    (ce, kh_ft * 0.3048)
}

/// Tangent of up to 50 degrees (0.873 rad) within 2e-6: the continued fraction `x/(1 - x2/(3 - x2/(5 - x2/(7 - x2/9))))`.
fn half_angle_tan(x: f32) -> f32 {
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
const RECTANGULAR_EXTRA_M: f32 = 0.0009;
/// Head over crest height from which on the discharge coefficient of a rectangular weir grows no more.
const MOST_OVER_HEIGHT: f32 = 2.5;

/// What the ratio of crest to channel width makes of a rectangular weir.
struct RectangularWeir {
    /// Ce where the crest is high over the floor.
    constant: f32,
    /// Growth of Ce with head over crest height.
    slope: f32,
    /// kb, m.
    wider_m: f32,
}

impl RectangularWeir {
    fn of(width_m: f32, channel_m: f32) -> Self {
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

/// Round hole with heads in m above its centre: `Cd A sqrt(2 g dh)`.
///
/// A hole that is not covered up to share `p` of its bore counts as one under a smaller head, `D/2 p^4 (1.4 - 0.4 p)^2`: free,
/// that lies within 2 % of the sum of its strips up to nine tenths covered and 4 % above it at the brim. Both sides count
/// their heads so, so that the flow passes through zero where the levels meet, and is continuous as either side covers it.
fn orifice_m3_s(head_m: f32, downstream_head_m: Option<f32>, bore_m: f32, discharge: f32) -> f32 {
    let radius = 0.5 * bore_m;
    let full = discharge * PI * radius * radius * ROOT_2G;
    let counted = |head: f32| {
        if head >= radius {
            return head;
        }
        let p = seldom::limit((head + radius) / bore_m, 0.0, 1.0);
        let share = p * p * (1.4 - 0.4 * p);
        radius * share * share
    };
    let drop = counted(head_m) - downstream_head_m.map_or(0.0, counted);
    let flow = full * sqrt(drop.abs());
    if drop >= 0.0 { flow } else { -flow }
}

/// Upright overflow pipe at a head in m over its lip: a weir along the lip, `1.8385 pi D h^1.5`, turning into a hole,
/// `0.6 A sqrt(2 g h)` (EPA SWMM reference manual, vol. II, 6.2.3; 3.33 ft^0.5/s), the smaller of the two. A real lip is
/// within 20 % of this until it is measured.
#[must_use]
pub fn standpipe_m3_s(head_m: f32, bore_m: f32) -> f32 {
    if !(head_m > 0.0) {
        return 0.0;
    }
    let root = sqrt(head_m);
    let weir = 1.8385 * PI * bore_m * head_m * root;
    let hole = 0.6 * 0.25 * PI * bore_m * bore_m * ROOT_2G * root;
    seldom::smaller(weir, hole)
}

/// Pipe running full under `head_m`: `h = (f L/D + K + 1) V^2/2g`, f by Haaland (1983) for smooth pipe and water at 20 C,
/// three passes from f = 0.025. Within 0.3 % of Colebrook's law for drawn plastic (roughness 1.5 um).
#[must_use]
pub fn pipe_m3_s(head_m: f32, bore_m: f32, length_m: f32, minor_loss: f32) -> f32 {
    if !(head_m > 1.0e-6) || !(bore_m > 0.0) {
        return 0.0;
    }
    let mut friction = 0.025f32;
    let mut speed = 0.0f32;
    for _ in 0..3 {
        speed = sqrt(2.0 * GRAVITY_M_S2 * head_m / (friction * length_m / bore_m + minor_loss + 1.0));
        friction = smooth_pipe_friction(speed * bore_m / 1.0034e-6);
    }
    speed * 0.25 * PI * bore_m * bore_m
}

/// Darcy friction factor of smooth pipe by Haaland (1983); laminar `64/Re` below Re 2300 where that is larger.
fn smooth_pipe_friction(reynolds: f32) -> f32 {
    let re = seldom::larger(reynolds, 200.0);
    let root = 1.8 / core::f32::consts::LN_10 * ln(re / 6.9);
    let turbulent = 1.0 / seldom::larger(root * root, 1.0);
    if re < 2300.0 {
        seldom::larger(turbulent, 64.0 / re)
    } else {
        turbulent
    }
}

/// Share of the free flow that a drowned weir still passes: Villemonte (1947), `(1 - (h2/h1)^n)^0.385`, n 1.5, or 2.5 for
/// a V-notch. Water that stands higher below than above runs no way here: weirs are not modelled backwards.
fn drowning(head_m: f32, downstream_head_m: Option<f32>, v_notch: bool) -> f32 {
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
