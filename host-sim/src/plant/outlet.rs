//! What leaves a tank at a level.

use super::orifice::{Hole, Standpipe};
use super::pipe::Pipe;
use super::place::Place;
use super::weir::{Rectangular, VNotch, drowned};

/// The kind of an outlet and its sizes. Heights are above the floor of the outlet's own tank, m.
#[derive(Clone, Debug, PartialEq)]
pub enum OutletLaw {
    /// Thin-plate V-notch (ISO 1438), point at `crest_m`.
    VNotch {
        /// Height of the notch's point, m.
        crest_m: f64,
        /// Full angle, degrees (25 to 100).
        angle_deg: f64,
    },
    /// Thin-plate rectangular weir; its height above the channel's floor is `crest_m`.
    Rectangular {
        /// Height of the sill, m.
        crest_m: f64,
        /// Width of the opening, m.
        width_m: f64,
        /// Width of the wall or channel it stands in, m.
        channel_m: f64,
    },
    /// Round hole in a wall.
    Hole {
        /// Height of its centre, m.
        centre_m: f64,
        /// Bore, m.
        bore_m: f64,
        /// Discharge coefficient (0.61 sharp-edged).
        cd: f64,
    },
    /// Upright open pipe.
    Standpipe {
        /// Height of the lip, m.
        crest_m: f64,
        /// Bore, m.
        bore_m: f64,
    },
    /// Gravity pipe running full.
    Pipe {
        /// Height of the invert at its entry, m.
        entry_m: f64,
        /// Height of its end, m.
        end_m: f64,
        /// Bore, m.
        bore_m: f64,
        /// Length, m.
        length_m: f64,
        /// Entrance and bends, velocity heads.
        minor_loss: f64,
    },
    /// Measured points of (head above the crest, flow), straight between them and beyond the last.
    Table {
        /// Height from which heads count, m.
        crest_m: f64,
        /// (head m, flow m3/s), heads rising, flows not falling.
        points: Vec<(f64, f64)>,
    },
}

/// An outlet of a tank.
#[derive(Clone, Debug, PartialEq)]
pub struct OutletSpec {
    /// The tank it leads to; `None`: out of the system.
    pub to: Option<usize>,
    /// Kind and sizes.
    pub law: OutletLaw,
    /// True flow over the law's (1: as the book says).
    pub coefficient: f64,
}

#[derive(Clone, Debug)]
enum Ready {
    VNotch(f64, VNotch),
    Rectangular(f64, Rectangular),
    Hole(Hole),
    Standpipe(Standpipe),
    Pipe(Pipe),
    Table(f64, Vec<(f64, f64)>),
}

/// An outlet ready to be asked for its flow.
#[derive(Clone, Debug)]
pub struct Outlet {
    ready: Ready,
    /// True flow over the law's.
    pub coefficient: f64,
    /// Share of the flow that dirt leaves (1 clean, 0 shut).
    pub clog: f64,
}

impl Outlet {
    /// Prepares an outlet; the sizes are those of a checked description.
    #[must_use]
    pub fn new(spec: &OutletSpec, place: &Place) -> Self {
        let ready = match &spec.law {
            OutletLaw::VNotch { crest_m, angle_deg } => Ready::VNotch(*crest_m, VNotch::new(*angle_deg)),
            OutletLaw::Rectangular {
                crest_m,
                width_m,
                channel_m,
            } => Ready::Rectangular(*crest_m, Rectangular::new(*width_m, *channel_m, *crest_m)),
            OutletLaw::Hole { centre_m, bore_m, cd } => Ready::Hole(Hole::new(*centre_m, *bore_m, *cd)),
            OutletLaw::Standpipe { crest_m, bore_m } => Ready::Standpipe(Standpipe::new(*crest_m, *bore_m)),
            OutletLaw::Pipe {
                entry_m,
                end_m,
                bore_m,
                length_m,
                minor_loss,
            } => Ready::Pipe(Pipe::new(*entry_m, *end_m, *bore_m, *length_m, *minor_loss, place)),
            OutletLaw::Table { crest_m, points } => Ready::Table(*crest_m, points.clone()),
        };
        Self {
            ready,
            coefficient: spec.coefficient,
            clog: 1.0,
        }
    }

    /// Flow, m3/s (never negative), at a level and a receiving level, both above the floor of the outlet's tank;
    /// a receiving level of minus infinity is free fall.
    #[must_use]
    pub fn flow_m3_s(&self, level_m: f64, receiving_m: f64) -> f64 {
        let law = match &self.ready {
            Ready::VNotch(crest, notch) => {
                let head = level_m - crest;
                notch.free_m3_s(head) * drowned(head, receiving_m - crest, 2.5)
            }
            Ready::Rectangular(crest, weir) => {
                let head = level_m - crest;
                weir.free_m3_s(head) * drowned(head, receiving_m - crest, 1.5)
            }
            Ready::Hole(hole) => hole.flow_m3_s(level_m, receiving_m),
            Ready::Standpipe(pipe) => pipe.flow_m3_s(level_m, receiving_m),
            Ready::Pipe(pipe) => pipe.flow_m3_s(level_m, receiving_m),
            Ready::Table(crest, points) => table(points, level_m - receiving_m.max(*crest)),
        };
        law * self.coefficient * self.clog
    }
}

/// Flow by measured points: straight between them, from nothing at no head, straight on beyond the last.
fn table(points: &[(f64, f64)], head_m: f64) -> f64 {
    if head_m <= 0.0 {
        return 0.0;
    }
    let (mut from, mut to) = ((0.0, 0.0), (0.0, 0.0));
    for point in points.iter().filter(|point| point.0 > 0.0) {
        from = to;
        to = *point;
        if head_m <= to.0 {
            break;
        }
    }
    let run = to.0 - from.0;
    if run > 0.0 {
        from.1 + (to.1 - from.1) * (head_m - from.0) / run
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_straight_between_and_beyond_its_points() {
        let points = [(0.0, 0.0), (0.02, 0.001), (0.05, 0.004)];
        assert!((table(&points, 0.01) - 0.0005).abs() < 1e-12);
        assert!((table(&points, 0.035) - 0.0025).abs() < 1e-12);
        assert!((table(&points, 0.06) - 0.005).abs() < 1e-12);
        assert_eq!(table(&points, -0.01), 0.0);
    }

    #[test]
    fn truth_and_dirt_scale_the_law() {
        let law = OutletLaw::VNotch {
            crest_m: 0.6,
            angle_deg: 90.0,
        };
        let mut outlet = Outlet::new(
            &OutletSpec {
                to: None,
                law,
                coefficient: 1.03,
            },
            &Place::new(0.0, 20.0, 0.0),
        );
        let free = outlet.flow_m3_s(0.7, f64::NEG_INFINITY);
        assert!((free * 1000.0 / (1.03 * 4.409_52) - 1.0).abs() < 1e-5);
        outlet.clog = 0.5;
        assert!((outlet.flow_m3_s(0.7, f64::NEG_INFINITY) / free - 0.5).abs() < 1e-12);
        // Villemonte with power 2.5 at nine tenths drowned: 0.56938.
        let drowned = outlet.flow_m3_s(0.7, 0.69) / outlet.flow_m3_s(0.7, 0.0);
        assert!((drowned - 0.569_38).abs() < 1e-4);
    }
}
