//! `risertrim calibrate`: from measured points to a calibrated installation.

use super::failure::Failure;
use super::outputs::{Kind, Outputs};
use super::place::{Place, write};
use super::print;
use clap::Args;
use risertrim_sim::calibrate::{CalibrationReport, Fitted, Judgement, NamedLift, Point, Prior};
use risertrim_sim::calibrate::{calibrated, fit, judge, read_points, report};
use risertrim_sim::curve::{CurveTable, Levels, html, tabulate};
use risertrim_sim::text_file;
use std::path::PathBuf;

/// Fit the curves of lifts to water measured by bucket and stopwatch or a rising level
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim calibrate points.csv --installation my-farm.toml --write my-farm.toml
  risertrim calibrate filter.csv --installation my-farm.toml --lift filter --html filter.html

The first line of POINTS names the columns, units in the names:
  lift                             which lift; leave it out with --lift
  air_l_min                        free air (100 kPa, 20 C), or as read, with air_gauge_kpa, air_c,
    or opening_percent, manifold_kpa
  litres, seconds                  a bucket filled; one row a fill, rows at one air make one point,
    or water_l_min                 the flow itself,
    or level_start_mm, level_end_mm, seconds     a rise in the tank it fills, outlets shut
  source_level_mm                  above the floor of the tank the lift draws from
  receiver_level_mm                only where the outlet is under water
  sigma_air_percent, sigma_water_percent, time_s, note       not needed
Five or six airs from just above the onset to near the peak, two fills each, tell the most.
Fitted are three multipliers: on entrance_loss (mesh, guard, foot), on the slip and on the air.

Exit code: 0 done, 1 something failed, 2 bad input (nothing is written then).")]
pub struct Arguments {
    /// CSV of measured points
    #[arg(value_name = "POINTS")]
    points: PathBuf,
    /// Installation or scenario file the lifts are of
    #[arg(long, short, value_name = "FILE", default_value = "default")]
    installation: String,
    /// Only this lift; rows without a lift column are of it
    #[arg(long, value_name = "NAME")]
    lift: Option<String>,
    /// Write the calibrated installation (may be the same file)
    #[arg(long, short, value_name = "FILE")]
    write: Option<PathBuf>,
    /// Write a page with curves, bands and points
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Print JSON instead of tables
    #[arg(long)]
    json: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let place = Place::load(&arguments.installation)?;
    Outputs::of([arguments.installation.as_ref(), arguments.points.as_path()])
        .anew(
            "--write",
            arguments.write.as_deref(),
            Kind::Place,
            &arguments.installation,
        )
        .and("--html", arguments.html.as_deref(), Kind::Page)
        .check()?;
    let lifts = place.lifts();
    let only = arguments.lift.as_deref().map(|name| place.lift(name)).transpose()?;
    let file = arguments.points.display().to_string();
    let text = text_file::read(&arguments.points)
        .map_err(|error| Failure::BadInput(format!("{file} cannot be read: {error}")))?;
    let whose = only.or((lifts.len() == 1).then_some(0));
    let read = read_points(&file, &text, &lifts, whose).map_err(|report| Failure::BadInput(report.to_string()))?;
    for warning in &read.warnings {
        eprintln!("warning: {file}: {warning}");
    }
    let mut installation = place.text.clone();
    let mut reports: Vec<CalibrationReport> = Vec::new();
    let mut curves: Vec<CurveTable> = Vec::new();
    for (index, (lift, points)) in lifts.iter().zip(&read.of_lift).enumerate() {
        if points.is_empty() || only.is_some_and(|only| only != index) {
            continue;
        }
        if lift.lift.riser.entrance_loss == 0.0 {
            eprintln!(
                "warning: entrance_loss of \"{}\" is 0: no multiple of it tells a mesh or guard; write 0.5 for a plain pipe end",
                lift.name
            );
        }
        let measured = lift.measured();
        let fitted = fit(&measured, points, &Prior::default())
            .map_err(|error| Failure::BadInput(format!("{file}, lift \"{}\": {error}", lift.name)))?;
        let judgement = judge(&measured, points, &fitted);
        if let Some(times) = fitted.beyond_belief().filter(|_| arguments.write.is_some()) {
            return Err(Failure::BadInput(format!(
                "{file}, lift \"{}\": these points fit only with {times:.0} times its entrance_loss of {}, which no mesh or foot has; \
                 nothing was written\nLook at the air of the points (free air, L/min), at their water and source_level_mm, and at \
                 riser_bore_mm, injector_mm and outlet_mm of the lift; if all are right its foot is clogged: clean it and measure again",
                lift.name, lift.lift.riser.entrance_loss
            )));
        }
        reports.push(report(&lift.name, points, &fitted, &judgement));
        curves.push(curve(lift, points, &fitted, &judgement));
        installation = calibrated(&installation, &lift.name, &fitted, &judgement)
            .map_err(|error| Failure::BadInput(error.to_string()))?;
    }
    if reports.is_empty() {
        return Err(Failure::BadInput(format!("{file} has no point of this lift")));
    }
    if let Some(path) = &arguments.html {
        write(path, &html(&curves))?;
    }
    if let Some(path) = &arguments.write {
        write(path, &installation)?;
    }
    if arguments.json {
        let json = serde_json::to_string_pretty(&reports);
        return print(&(json.map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"));
    }
    let mut out: Vec<String> = reports.iter().map(CalibrationReport::text).collect();
    out.push(match &arguments.write {
        Some(path) => format!("Written to {}.\n", path.display()),
        None => "Nothing was written: give --write FILE to keep it.\n".to_owned(),
    });
    print(&out.join("\n"))
}

/// The fitted curve at the levels of the first point, with all points.
fn curve(lift: &NamedLift, points: &[Point], fitted: &Fitted, judgement: &Judgement) -> CurveTable {
    let first = points.first();
    let levels = Levels {
        source_m: first.map_or(0.0, |point| point.source_m),
        receiver_m: first.and_then(|point| point.receiver_m),
    };
    let calibration = fitted.calibration(judgement.widening);
    let mut table = tabulate(
        &lift.name,
        &lift.lift.riser,
        &calibration,
        &lift.conditions,
        levels,
        81,
        None,
    );
    let drawn = |(point, beside): (&Point, &risertrim_sim::calibrate::Beside)| {
        (60_000.0 * point.air_m3_s, 60_000.0 * point.flow_m3_s, beside.bad)
    };
    table.points = points.iter().zip(&fitted.points).map(drawn).collect();
    table
}
