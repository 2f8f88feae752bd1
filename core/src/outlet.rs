//! Outlets: the laws that turn a level into a flow.
//!
//! Every law gives the range in which it can be trusted. Where a level lies outside, the flow is still given (continuous,
//! bounded) and marked doubtful, so that the estimator can lean on it less.

use crate::math::{ROOT_2G, finite_or, interpolate, larger, seldom, smaller};
use serde::{Deserialize, Serialize};

mod conduit;
mod weir;

use conduit::orifice_m3_s;
pub use conduit::{pipe_m3_s, standpipe_m3_s};
use weir::{MOST_OVER_HEIGHT, RECTANGULAR_EXTRA_M, RectangularWeir, drowning, v_notch};
pub use weir::{rectangular_m3_s, v_notch_m3_s};

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
