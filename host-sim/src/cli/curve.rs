//! `risertrim curve`: flow against air of the lifts.

use super::failure::Failure;
use super::outputs::{Kind, Outputs};
use super::place::{Place, write};
use super::print;
use clap::Args;
use risertrim_sim::calibrate::{NamedLift, read_points};
use risertrim_sim::curve::{COLUMNS, CurveTable, Levels, html, svg, tabulate, text};
use risertrim_sim::text_file;
use std::path::{Path, PathBuf};

/// Airs of a curve.
const AIRS: usize = 81;

/// Show water against air of a lift: onset, best efficiency, peak, band, measured points
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  risertrim curve
  risertrim curve my-farm.toml --lift filter --source-mm 980 --html filter.html
  risertrim curve my-farm.toml --lift filter --points filter.csv --svg filter.svg

Levels are above the floor of the tank they are of. Without them: half way between the warnings.
The band is the calibration's: entrance loss, slip and air as far as the points told them, 90 %.
Air is free air at 100 kPa and 20 C. Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// A shipped scenario, or the path of an installation
    #[arg(value_name = "INSTALLATION", default_value = "default")]
    installation: String,
    /// Only this lift
    #[arg(long, value_name = "NAME")]
    lift: Option<String>,
    /// Level of the tank the lift draws from
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    source_mm: Option<f64>,
    /// Level of the tank it fills
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    receiver_mm: Option<f64>,
    /// Show the curve up to this air instead of somewhat past the peak
    #[arg(long, value_name = "L/MIN")]
    most_air: Option<f64>,
    /// A points file, as calibrate takes it: its points are drawn
    #[arg(long, value_name = "FILE")]
    points: Option<PathBuf>,
    /// Write a drawing of one lift (name it with --lift)
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Write a page that needs nothing else
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write the curve of one lift as CSV (name it with --lift)
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Print JSON instead of plot and table
    #[arg(long)]
    json: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let place = Place::load(&arguments.installation)?;
    let inputs = arguments.points.iter().map(PathBuf::as_path);
    Outputs::of(inputs.chain([Path::new(&arguments.installation)]))
        .and("--svg", arguments.svg.as_deref(), Kind::Drawing)
        .and("--csv", arguments.csv.as_deref(), Kind::Table(COLUMNS))
        .and("--html", arguments.html.as_deref(), Kind::Page)
        .check()?;
    let lifts = place.lifts();
    let only = arguments.lift.as_deref().map(|name| place.lift(name)).transpose()?;
    let measured = match &arguments.points {
        None => vec![Vec::new(); lifts.len()],
        Some(path) => {
            let text = text_file::read(path)
                .map_err(|error| Failure::BadInput(format!("{} cannot be read: {error}", path.display())))?;
            let whose = only.or((lifts.len() == 1).then_some(0));
            let read = read_points(&path.display().to_string(), &text, &lifts, whose);
            read.map_err(|report| Failure::BadInput(report.to_string()))?.of_lift
        }
    };
    let mut tables = Vec::new();
    for (index, (lift, points)) in lifts.iter().zip(&measured).enumerate() {
        if only.is_some_and(|only| only != index) {
            continue;
        }
        let levels = levels(arguments, lift, &place)?;
        let (riser, calibration) = (&lift.lift.riser, &lift.lift.calibration);
        let mut table = tabulate(
            &lift.name,
            riser,
            calibration,
            &lift.conditions,
            levels,
            AIRS,
            arguments.most_air,
        );
        table.points = points
            .iter()
            .map(|p| (60_000.0 * p.air_m3_s, 60_000.0 * p.flow_m3_s, false))
            .collect();
        tables.push(table);
    }
    if let Some(path) = &arguments.svg {
        write(path, &svg(one(&tables)?))?;
    }
    if let Some(path) = &arguments.csv {
        write(path, &one(&tables)?.csv())?;
    }
    if let Some(path) = &arguments.html {
        write(path, &html(&tables))?;
    }
    if arguments.json {
        let json = serde_json::to_string_pretty(&tables);
        return print(&(json.map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))? + "\n"));
    }
    let all: Vec<String> = tables.iter().map(text).collect();
    print(&all.join("\n"))
}

/// The one curve that was asked for.
fn one(tables: &[CurveTable]) -> Result<&CurveTable, Failure> {
    match tables {
        [one] => Ok(one),
        _ => Err(Failure::BadInput(
            "--svg and --csv hold one lift: name it with --lift, or use --html or --json".to_owned(),
        )),
    }
}

/// The levels asked for, or half way between the warnings.
fn levels(arguments: &Arguments, lift: &NamedLift, place: &Place) -> Result<Levels, Failure> {
    for (option, value) in [
        ("--source-mm", arguments.source_mm),
        ("--receiver-mm", arguments.receiver_mm),
    ] {
        if let Some(mm) = value.filter(|mm| !(0.0..=20_000.0).contains(mm)) {
            return Err(Failure::BadInput(format!(
                "{option} {mm} is no level of a tank: 0 to 20000 mm above its floor"
            )));
        }
    }
    let usual_mm = |tank: u8| {
        place.named.told.tanks.get(usize::from(tank)).map_or(0.0, |tank| {
            500.0 * f64::from(tank.limits.low_warn_m + tank.limits.high_warn_m)
        })
    };
    let source_mm = arguments.source_mm.unwrap_or_else(|| usual_mm(lift.lift.from));
    let receiver_mm = arguments.receiver_mm.unwrap_or_else(|| usual_mm(lift.lift.to));
    Ok(Levels {
        source_m: 0.001 * source_mm,
        receiver_m: Some(0.001 * receiver_mm + lift.floor_rise_m),
    })
}
