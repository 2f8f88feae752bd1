//! The sheet of a lift that an installation file describes.

use super::sheet::{Heights, Sheet};
use crate::pipes::Pipe;
use crate::precision::narrow;
use crate::scenario::Named;
use crate::size::{AirLine, Candidate, Fittings, Request, Span};
use risertrim::air::Path;
use risertrim::lift::Curve;
use std::fmt;

/// Why a lift has no sheet.
#[derive(Clone, Debug, PartialEq)]
pub enum NoSheet {
    /// Its bore is that of no pipe we know, so its outside diameter must be told; mm.
    UnknownPipe {
        /// Bore, mm.
        bore_mm: f64,
    },
    /// The outside diameter told is not larger than the bore; both mm.
    Outside {
        /// Outside diameter, mm.
        outside_mm: f64,
        /// Bore, mm.
        bore_mm: f64,
    },
    /// It reaches its target at no air.
    OutOfReach,
}

impl fmt::Display for NoSheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownPipe { bore_mm } => write!(
                f,
                "riser_bore_mm is {bore_mm:.1}: no pipe of our series has that bore (see size --list-pipes)\nMeasure its outside diameter and give it by --outside-mm"
            ),
            Self::Outside { outside_mm, bore_mm } => {
                write!(f, "--outside-mm is {outside_mm}, allowed: {bore_mm:.1} (the bore) to {:.1}", 1.5 * bore_mm)
            }
            Self::OutOfReach => f.write_str(
                "no air brings the lift to its target with its source at the lowest of its band, so there is no sheet to draw\nSee risertrim curve for what it can do",
            ),
        }
    }
}

impl std::error::Error for NoSheet {}

/// The sheet of the lift at `index`, as the file has it: bore, heights, fittings, air line, diffuser and what was calibrated. The
/// outside diameter is not in the file: it is that of the pipe with this bore unless told.
///
/// # Errors
/// When the pipe is not known, or the target is out of reach.
pub fn existing(named: &Named, index: usize, outside_mm: Option<f64>) -> Result<Sheet, NoSheet> {
    let told = &named.told;
    let lift = told.lifts.get(index).ok_or(NoSheet::OutOfReach)?;
    let conditions = told.site.conditions();
    let bore_mm = 1000.0 * f64::from(lift.riser.bore_m);
    let pipe = match outside_mm {
        Some(outside) if outside > bore_mm && outside <= 1.5 * bore_mm => Pipe::measured(bore_mm, outside),
        Some(outside_mm) => return Err(NoSheet::Outside { outside_mm, bore_mm }),
        None => Pipe {
            bore_mm,
            ..Pipe::of_bore(bore_mm).ok_or(NoSheet::UnknownPipe { bore_mm })?
        },
    };
    let band = |tank: u8| {
        told.tanks.get(usize::from(tank)).map_or((0.0, 0.0), |tank| {
            (f64::from(tank.limits.low_warn_m), f64::from(tank.limits.high_warn_m))
        })
    };
    let (low, high) = band(lift.from);
    let injector = f64::from(lift.riser.injector_m);
    let outlet = f64::from(lift.riser.outlet_m);
    let between_floors = f64::from(told.receiver_above_source_floor_m(lift, 0.0));
    let (receiver_low, receiver_high) = band(lift.to);
    let top = outlet.max(between_floors + receiver_high);
    let least_top = outlet.max(between_floors + receiver_low);
    let request = Request {
        water_m3_s: Span::at(f64::from(lift.target.m3_s)),
        depth_m: Span {
            low: low - injector,
            high: high - injector,
        },
        lift_m: Span {
            low: (least_top - high).max(0.0),
            high: (top - low).max(0.0),
        },
        series: vec![pipe.series],
        water_c: f64::from(told.site.water_c),
        salinity_g_kg: f64::from(told.site.salinity_g_kg),
        altitude_m: f64::from(told.site.altitude_m),
        fittings: Fittings {
            entrance: f64::from(lift.riser.entrance_loss),
            outlet: f64::from(lift.riser.outlet_loss),
        },
        calibration: lift.calibration,
        air_line_m: f64::from(lift.line.length_m),
        diffuser_pa: f64::from(lift.diffuser.opening_pa),
        blower_efficiency: f64::from(told.air.efficiency),
        lifts: u32::try_from(told.lifts.len()).unwrap_or(u32::MAX),
        ..Request::default()
    };
    let mut candidate = Candidate::new(&request, pipe);
    let air = candidate.air_m3_s.ok_or(NoSheet::OutOfReach)?;
    // The line and the diffuser that are there, at the greatest depth.
    let deepest = Curve::new(&lift.riser, &lift.calibration, &conditions, narrow(high), None);
    let path = Path::new(
        &lift.line,
        &lift.diffuser,
        deepest.injector_pa(),
        conditions.atmosphere_pa,
    );
    let planned_pa = candidate.valve_pa;
    let of_line = Path::new(
        &lift.line,
        &risertrim::air::Diffuser {
            loss_pa: 0.0,
            ..lift.diffuser
        },
        deepest.injector_pa(),
        conditions.atmosphere_pa,
    );
    candidate.air_line = AirLine {
        bore_mm: 1000.0 * f64::from(lift.line.bore_m),
        loss_pa: f64::from(of_line.loss_pa_s2_m6) * air * air,
    };
    candidate.valve_pa = f64::from(path.behind_valve_pa(narrow(air)) - conditions.atmosphere_pa);
    candidate.blower_pa += candidate.valve_pa - planned_pa;
    Sheet::at(
        &request,
        &candidate,
        Heights::of_inlet(injector, 1e-3 * pipe.outside_mm, low, high, outlet),
    )
    .ok_or(NoSheet::OutOfReach)
}
