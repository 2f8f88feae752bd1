//! One outlet of every law, all with their crest, centre or end 0.4 m above the floor.

use risertrim::outlet::{Drain, Law, Outlet, TablePoint};

/// An outlet of this law that leads away.
#[must_use]
pub fn outlet(law: Law) -> Outlet {
    Outlet {
        to: Drain::Away,
        law,
        coefficient: 1.0,
    }
}

/// Flow through an outlet of this law, m3/s.
#[must_use]
pub fn flow(law: &Law, level_m: f32, downstream_m: Option<f32>) -> f64 {
    f64::from(outlet(law.clone()).at(level_m, downstream_m).flow_m3_s)
}

/// A notch of 90 degrees.
pub const NOTCH: Law = Law::VNotch {
    crest_m: 0.4,
    angle_deg: 90.0,
};
/// A full-width weir.
pub const WEIR: Law = Law::Rectangular {
    crest_m: 0.4,
    width_m: 0.3,
    channel_m: 0.3,
};
/// A sharp-edged hole.
pub const HOLE: Law = Law::Orifice {
    centre_m: 0.4,
    bore_m: 0.05,
    discharge: 0.61,
};
/// An upright overflow pipe.
pub const STANDPIPE: Law = Law::Standpipe {
    crest_m: 0.4,
    bore_m: 0.11,
};
/// A gravity pipe.
pub const PIPE: Law = Law::Pipe {
    end_m: 0.4,
    bore_m: 0.05,
    length_m: 2.0,
    minor_loss: 2.0,
};

/// Measured points.
///
/// # Panics
/// Never.
#[must_use]
pub fn table() -> Law {
    let mut points = heapless::Vec::new();
    for (level_m, flow_m3_s) in [(0.4, 0.0), (0.42, 2.0e-4), (0.47, 1.5e-3), (0.6, 6.0e-3)] {
        points.push(TablePoint { level_m, flow_m3_s }).unwrap();
    }
    Law::Table { points }
}

/// One of each.
#[must_use]
pub fn every_law() -> [Law; 6] {
    [NOTCH, WEIR, HOLE, STANDPIPE, PIPE, table()]
}
