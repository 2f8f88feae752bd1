//! From a points file to points: what each row says, fills of one bucket put together, and what cannot be.

use super::budget;
use super::columns::{Row, Sheet};
use super::fault::{PointFault, PointFaultKind as Kind, PointReport};
use super::place::NamedLift;
use super::plausible;
use super::point::Point;
use risertrim::units::{FREE_AIR_K, FREE_AIR_PA};

/// m3/s in 1 L/min.
const L_MIN: f64 = 1.0 / 60_000.0;
/// Standard deviation of an air meter's reading from point to point, share (common practice, no source).
const METER: f64 = 0.03;
/// The same for an air worked out from opening and pressure: resolution, backlash and a gauge's reading.
const VALVE: f64 = 0.06;
/// Standard deviation of a water flow given as such, share.
const WATER: f64 = 0.03;
/// Least standard deviation of a point where no water came, share of the lift's uncalibrated peak.
const DRY: f64 = 0.005;

/// Points of each lift, in the order of the installation, and what is doubtful about them.
#[derive(Clone, Debug)]
pub struct PointsRead {
    /// Name of the file.
    pub file: String,
    /// Points of each lift; empty for a lift that has none.
    pub of_lift: Vec<Vec<Point>>,
    /// What is doubtful.
    pub warnings: Vec<PointFault>,
}

/// One row before rows are put together.
struct Reading {
    lift: usize,
    line: u64,
    air_l_min: f64,
    air_sigma: f64,
    source_mm: f64,
    receiver_mm: Option<f64>,
    water: Water,
    sigma: Option<f64>,
}

enum Water {
    Flow(f64),
    Bucket(f64, f64),
    Rise { start_mm: f64, end_mm: f64, seconds: f64 },
}

/// Reads a points file. `only` is the lift that rows without a `lift` column are of.
///
/// Columns (the unit stands in the name): `lift`; air as `air_l_min` (free air at 100 kPa and 20 C unless `air_gauge_kpa` and
/// `air_c` tell the state it was measured in), or `opening_percent` with `manifold_kpa`; water as `water_l_min`, as `litres`
/// with `seconds`, or as `level_start_mm`, `level_end_mm` and `seconds` in the tank it fills, outlets shut;
/// `source_level_mm`, and `receiver_level_mm` where the outlet is drowned, each above its own tank's floor. Optional:
/// `sigma_air_percent`, `sigma_water_percent` (one standard deviation), `time_s`, `note`. Lines that begin with # are notes.
///
/// Rows that follow each other with the same lift, air and levels are fills of one bucket and make one point.
///
/// # Errors
/// A report of every mistake found.
pub fn read_points(
    file: &str,
    text: &str,
    lifts: &[NamedLift],
    only: Option<usize>,
) -> Result<PointsRead, PointReport> {
    let mut faults = Vec::new();
    let sheet = Sheet::read(text, &mut faults);
    let headless = faults
        .iter()
        .any(|fault| fault.kind == Kind::Missing || fault.kind == Kind::Unreadable);
    let mut readings = Vec::new();
    let mut before: Option<(f64, u64)> = None;
    for row in sheet.rows() {
        if let Some(time) = row.number("time_s", &mut faults) {
            match before {
                Some((last, line)) if time <= last => {
                    let message = format!("this does not come after {last} s on line {line}");
                    let fault =
                        PointFault::new(Kind::TimeRunsBack, row.line, message).about("time_s", time.to_string());
                    faults.push(fault.help("put the rows in the order they were measured in, with one clock for all"));
                }
                _ => before = Some((time, row.line)),
            }
        }
        if let Some(reading) = reading(&row, lifts, only, &mut faults) {
            readings.push(reading);
        }
    }
    let mut of_lift: Vec<Vec<Point>> = vec![Vec::new(); lifts.len()];
    if !headless {
        for group in groups(&readings) {
            let Some(first) = group.first() else { continue };
            if let (Some(lift), Some(points)) = (lifts.get(first.lift), of_lift.get_mut(first.lift)) {
                points.push(point(lift, group));
            }
        }
        for (lift, points) in lifts.iter().zip(&of_lift) {
            plausible::check(lift, points, &mut faults);
        }
    }
    if headless {
        // A column that is not there is told once, not again for every row.
        let head = faults
            .iter()
            .find(|fault| fault.kind == Kind::Missing)
            .map_or(0, |fault| fault.line);
        faults.retain(|fault| fault.kind != Kind::Missing || fault.line == head);
    }
    faults.sort_by_key(|fault| fault.line);
    if faults.iter().any(|fault| !fault.only_warns) {
        return Err(PointReport {
            file: file.to_owned(),
            faults,
        });
    }
    Ok(PointsRead {
        file: file.to_owned(),
        of_lift,
        warnings: faults,
    })
}

fn reading(row: &Row<'_>, lifts: &[NamedLift], only: Option<usize>, faults: &mut Vec<PointFault>) -> Option<Reading> {
    let index = match row.text("lift") {
        Some(name) => match lifts.iter().position(|lift| lift.name == name) {
            Some(index) => index,
            None => {
                let names: Vec<&str> = lifts.iter().map(|lift| lift.name.as_str()).collect();
                let fault = PointFault::new(Kind::UnknownLift, row.line, "the installation has no such lift");
                faults.push(fault.about("lift", name).allowed(names.join(", ")));
                return None;
            }
        },
        None => match only {
            Some(index) => index,
            None => {
                let fault = PointFault::new(Kind::UnknownLift, row.line, "which lift is this of?").about("lift", "");
                faults.push(fault.help("add a column lift, or name the lift on the command line"));
                return None;
            }
        },
    };
    let lift = lifts.get(index)?;
    let source = row.needed("source_level_mm", "the level of the tank the lift draws from", faults);
    let receiver = row.number("receiver_level_mm", faults);
    let levels = source.filter(|mm| levels(row, lift, *mm, faults));
    let air = air(row, lift, source, faults);
    let water = water(row, faults);
    let sigma = row.number("sigma_water_percent", faults).map(|percent| 0.01 * percent);
    let (air_l_min, air_sigma) = air?;
    Some(Reading {
        lift: index,
        line: row.line,
        air_l_min,
        air_sigma,
        source_mm: levels?,
        receiver_mm: receiver,
        water: water?,
        sigma,
    })
}

/// Notes a source level from which this lift cannot draw.
fn levels(row: &Row<'_>, lift: &NamedLift, source_mm: f64, faults: &mut Vec<PointFault>) -> bool {
    let injector_mm = 1000.0 * f64::from(lift.lift.riser.injector_m);
    let outlet_mm = 1000.0 * f64::from(lift.lift.riser.outlet_m);
    let most_mm = outlet_mm + 1000.0;
    if source_mm > injector_mm && source_mm <= most_mm {
        return true;
    }
    let fault = PointFault::new(
        Kind::Levels,
        row.line,
        "at this level the lift cannot draw, or everything stands under water",
    )
    .about("source_level_mm", source_mm.to_string())
    .allowed(format!("above the air inlet at {injector_mm:.0}, up to {most_mm:.0}"));
    let unit = [("m", 1000.0), ("cm", 10.0), ("inches", 25.4)];
    let meant = unit
        .iter()
        .find(|(_, factor)| source_mm * factor > 0.3 * outlet_mm && source_mm * factor <= 1.1 * outlet_mm);
    faults.push(match meant {
        Some((unit, factor)) => fault.help(format!("if it is in {unit}, write {}", source_mm * factor)),
        None => fault.help("levels are above the floor of the tank the lift draws from"),
    });
    false
}

/// Free air, L/min, and its standard deviation as a share.
fn air(row: &Row<'_>, lift: &NamedLift, source_mm: Option<f64>, faults: &mut Vec<PointFault>) -> Option<(f64, f64)> {
    let sigma = row.number("sigma_air_percent", faults).map(|percent| 0.01 * percent);
    let gauge = row.number("air_gauge_kpa", faults);
    let celsius = row.number("air_c", faults);
    if row.text("air_l_min").is_some() {
        let read = row.number("air_l_min", faults)?;
        let at_pa = match gauge {
            Some(kpa) => f64::from(lift.conditions.atmosphere_pa) + 1000.0 * kpa,
            None => f64::from(FREE_AIR_PA),
        };
        let at_k = celsius.map_or(f64::from(FREE_AIR_K), |c| c + 273.15);
        let free = read * at_pa / f64::from(FREE_AIR_PA) * f64::from(FREE_AIR_K) / at_k;
        return Some((free, sigma.unwrap_or(METER)));
    }
    let (opening, kpa) = (
        row.number("opening_percent", faults),
        row.number("manifold_kpa", faults),
    );
    if row.text("opening_percent").is_none() || row.text("manifold_kpa").is_none() {
        let fault = PointFault::new(
            Kind::Missing,
            row.line,
            "the value is missing: nothing tells the air here",
        )
        .about("air_l_min", "");
        faults.push(fault.help("or give both opening_percent and manifold_kpa"));
        return None;
    }
    let m3_s = lift.air_through_valve_m3_s(0.01 * opening?, 1000.0 * kpa?, 0.001 * source_mm?);
    Some((m3_s / L_MIN, sigma.unwrap_or(VALVE)))
}

fn water(row: &Row<'_>, faults: &mut Vec<PointFault>) -> Option<Water> {
    if row.text("water_l_min").is_some() {
        return row.number("water_l_min", faults).map(Water::Flow);
    }
    let bucket = row.text("litres").is_some();
    let rise = row.text("level_start_mm").is_some() || row.text("level_end_mm").is_some();
    if !bucket && !rise {
        let fault = PointFault::new(
            Kind::Missing,
            row.line,
            "the value is missing: nothing tells the water here",
        );
        faults.push(
            fault
                .about("water_l_min", "")
                .help("or litres and seconds, or two levels and seconds"),
        );
        return None;
    }
    let litres = row.number("litres", faults);
    let seconds = row.needed("seconds", "a flow needs the time it took", faults);
    if bucket {
        return Some(Water::Bucket(litres?, seconds?));
    }
    let start_mm = row.needed("level_start_mm", "a rise needs both levels", faults);
    let end_mm = row.needed("level_end_mm", "a rise needs both levels", faults);
    let (start_mm, end_mm) = (start_mm?, end_mm?);
    if end_mm < start_mm {
        let message = format!("the level falls from {start_mm} mm: that is a negative flow");
        let fault = PointFault::new(Kind::NegativeFlow, row.line, message).about("level_end_mm", end_mm.to_string());
        faults.push(fault.help("shut the tank's outlets while it fills; are start and end swapped?"));
        return None;
    }
    Some(Water::Rise {
        start_mm,
        end_mm,
        seconds: seconds?,
    })
}

/// Rows in the order of the file, fills of one bucket at one air and one pair of levels together.
fn groups(readings: &[Reading]) -> impl Iterator<Item = &[Reading]> {
    readings.chunk_by(|a, b| {
        let buckets = matches!((&a.water, &b.water), (Water::Bucket(..), Water::Bucket(..)));
        let same = |a: f64, b: f64| (a - b).abs() < 1.0e-9;
        let receivers = match (a.receiver_mm, b.receiver_mm) {
            (Some(a), Some(b)) => same(a, b),
            (None, None) => true,
            _ => false,
        };
        buckets && a.lift == b.lift && same(a.air_l_min, b.air_l_min) && same(a.source_mm, b.source_mm) && receivers
    })
}

fn point(lift: &NamedLift, group: &[Reading]) -> Point {
    let fills: Vec<(f64, f64)> = group
        .iter()
        .filter_map(|reading| {
            if let Water::Bucket(litres, seconds) = reading.water {
                Some((litres, seconds))
            } else {
                None
            }
        })
        .collect();
    let first = &group[0];
    let (flow, sigma) = match first.water {
        Water::Bucket(..) => budget::bucket(&fills),
        Water::Flow(l_min) => (l_min, WATER * l_min),
        Water::Rise {
            start_mm,
            end_mm,
            seconds,
        } => {
            #[allow(clippy::cast_possible_truncation)]
            let area = f64::from(lift.receiver.area_m2((0.0005 * (start_mm + end_mm)) as f32));
            budget::level_rise(area, end_mm - start_mm, seconds)
        }
    };
    let sigma = first.sigma.map_or(sigma, |share| share * flow);
    let source_m = 0.001 * first.source_mm;
    let peak = lift
        .measured()
        .curve(&super::Logs::zeros(), source_m, None)
        .peak()
        .flow
        .m3_s;
    Point {
        lines: group.iter().map(|reading| reading.line).collect(),
        air_m3_s: first.air_l_min * L_MIN,
        air_sigma: first.air_sigma,
        flow_m3_s: flow * L_MIN,
        flow_sigma_m3_s: if flow > 0.0 {
            sigma * L_MIN
        } else {
            DRY * f64::from(peak)
        }
        .max(1.0e-9),
        source_m,
        receiver_m: first.receiver_mm.map(|mm| 0.001 * mm + lift.floor_rise_m),
    }
}
