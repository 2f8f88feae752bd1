//! `risertrim size`: pipe, air and blower for a lift; the mounting sheet; several lifts on one blower.

use super::failure::Failure;
use super::outputs::{Kind, Outputs};
use super::place::write;
use super::print;
use clap::{Args, ValueEnum};
use risertrim_sim::mounting::{Sheet, drawing, sheet_json, sheet_text};
use risertrim_sim::oxygen::{Stock, WHOLE_SYSTEM_KG_KG};
use risertrim_sim::pipes::Series;
use risertrim_sim::scenario::Scenario;
use risertrim_sim::size::{
    Answer, Fish, Fittings, Refusal, Request, Span, answer_json, answer_text, series_text, several, several_json,
    several_text, size,
};
use std::path::PathBuf;

/// Litres a minute in one m3/s.
const L_MIN: f64 = 60_000.0;

/// A pipe series, as on the command line.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum Pipes {
    /// PVC-U soil and waste pipe, EN 1329-1
    SoilPvc,
    /// PP soil and waste pipe, EN 1451-1
    SoilPp,
    /// PVC-U drain pipe, EN 1401-1, SN 4
    DrainSn4,
    /// PVC-U drain pipe, EN 1401-1, SN 8
    DrainSn8,
    /// PVC-U pressure pipe, EN ISO 1452-2, PN 10
    PressurePn10,
    /// PVC-U pressure pipe, EN ISO 1452-2, PN 16
    PressurePn16,
    /// Inch pipe, Schedule 40
    #[value(name = "schedule-40")]
    Schedule40,
    /// All of these
    All,
}

/// Choose the pipe, the air and the blower of a lift, and draw how it is mounted
#[derive(Debug, Args)]
#[command(after_help = "\
A maker's curve is for sea level: multiply both its sides by the site's air pressure over 101.3 kPa.
Examples:
  risertrim size --flow-l-min 60 --depth-mm 1000 --lift-mm 100 --blower 0:26,350:13,700:0
  risertrim size --flow-l-min 40..60 --depth-mm 900..1000 --lift-mm 50..150 --sheet lift.svg
  risertrim size --installation default
Exit code: 0 done (also when no pipe can be recommended), 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// Water each lift is to deliver (0.5 to 5000; a range: 40..60)
    #[arg(long, value_name = "L/MIN", value_parser = span, allow_negative_numbers = true, required_unless_present_any = ["installation", "list_pipes"])]
    flow_l_min: Option<Span>,
    /// Air inlet below the water it draws from (150 to 5000, or a range)
    #[arg(long, value_name = "MM", value_parser = span, allow_negative_numbers = true, required_unless_present_any = ["installation", "list_pipes"])]
    depth_mm: Option<Span>,
    /// Outlet, or receiving level if higher, above it (0 to 1500)
    #[arg(long, value_name = "MM", value_parser = span, allow_negative_numbers = true, required_unless_present_any = ["installation", "list_pipes"])]
    lift_mm: Option<Span>,
    /// Pipe series, parted by commas; see --list-pipes
    #[arg(
        long,
        value_name = "SERIES",
        value_enum,
        value_delimiter = ',',
        default_value = "soil-pvc",
        hide_possible_values = true
    )]
    pipes: Vec<Pipes>,
    /// Water temperature (0 to 40)
    #[arg(long, value_name = "C", default_value_t = 20.0, allow_negative_numbers = true)]
    water_c: f64,
    /// Salt (0 to 40)
    #[arg(long, value_name = "G/KG", default_value_t = 0.0, allow_negative_numbers = true)]
    salinity_g_kg: f64,
    /// Height above the sea (-400 to 5000)
    #[arg(long, value_name = "M", default_value_t = 0.0, allow_negative_numbers = true)]
    altitude_m: f64,
    /// Equal lifts on the blower
    #[arg(long, value_name = "N", default_value_t = 1)]
    lifts: u32,
    /// Its curve as it holds at the site: free L/min:kPa,..., air rising
    #[arg(long, value_name = "CURVE", value_parser = blower)]
    blower: Option<Curve>,
    /// Shaft to air (small: 10 to 40, common practice)
    #[arg(long, value_name = "%", default_value_t = 35.0)]
    blower_efficiency: f64,
    /// Entrance and mesh, velocity heads (0.5: plain end)
    #[arg(long, value_name = "K", default_value_t = 0.5)]
    entrance_loss: f64,
    /// Outlet bend (0: none; 0.4: swept; 1.2: sharp elbow)
    #[arg(long, value_name = "K", default_value_t = 0.0)]
    outlet_loss: f64,
    /// Length of the air line
    #[arg(long, value_name = "M", default_value_t = 5.0)]
    air_line_m: f64,
    /// Pressure the diffuser takes (0: open pipe)
    #[arg(long, value_name = "KPA", default_value_t = 0.5)]
    diffuser_kpa: f64,
    /// Least speed of the water: keeps solids moving
    #[arg(long, value_name = "M/S", default_value_t = 0.3)]
    least_speed_m_s: f64,
    /// Fish that live on the lifts' air, all together
    #[arg(long, value_name = "KG", requires = "feed_kg_day", help_heading = "Oxygen")]
    fish_kg: Option<f64>,
    /// Their feed, all together
    #[arg(long, value_name = "KG", requires = "fish_kg", help_heading = "Oxygen")]
    feed_kg_day: Option<f64>,
    /// Oxygen to be kept in the water
    #[arg(long, value_name = "MG/L", default_value_t = 6.0, help_heading = "Oxygen")]
    oxygen_mg_l: f64,
    /// Oxygen that comes from elsewhere
    #[arg(long, value_name = "G/H", default_value_t = 0.0, help_heading = "Oxygen")]
    other_oxygen_g_h: f64,
    /// Fish and filter: 0.4 to 0.6, common practice
    #[arg(long, value_name = "KG", default_value_t = WHOLE_SYSTEM_KG_KG, help_heading = "Oxygen")]
    oxygen_kg_per_kg_feed: f64,
    /// Draw the mounting sheet into FILE and print it in words
    #[arg(long, value_name = "FILE.svg", conflicts_with = "installation")]
    sheet: Option<PathBuf>,
    /// The sheet for this outside diameter, not the recommended one
    #[arg(long, value_name = "MM", requires = "sheet")]
    sheet_outside_mm: Option<f64>,
    /// All lifts of a scenario on its blower, and every valve open at once
    #[arg(long, value_name = "SCENARIO", conflicts_with_all = ["flow_l_min", "depth_mm", "lift_mm"])]
    installation: Option<String>,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
    /// List the pipe series with their bores and stop
    #[arg(long)]
    list_pipes: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    if arguments.list_pipes {
        return print(&series_text());
    }
    if let Some(name) = &arguments.installation {
        return installation(name, arguments.json);
    }
    let request = request(arguments)?;
    Outputs::of::<&str>([])
        .and("--sheet", arguments.sheet.as_deref(), Kind::Drawing)
        .check()?;
    let answer = size(&request).map_err(|refusals| bad_input(&refusals))?;
    let sheet = arguments
        .sheet
        .as_ref()
        .map(|path| sheet(arguments, &answer).map(|sheet| (path, sheet)))
        .transpose()?;
    if let Some((path, sheet)) = &sheet {
        write(path, &drawing(sheet))?;
    }
    if arguments.json {
        let mut json = answer_json(&answer);
        if let (Some((_, sheet)), Some(object)) = (&sheet, json.as_object_mut()) {
            object.insert("mounting".to_owned(), sheet_json(sheet));
        }
        return print(&pretty(&json)?);
    }
    let mut text = answer_text(&answer);
    if let Some((path, sheet)) = &sheet {
        text.push('\n');
        text.push_str(&sheet_text(sheet));
        text.push_str(&format!("\nDrawn to scale in {}\n", path.display()));
    }
    print(&text)
}

fn installation(name: &str, as_json: bool) -> Result<(), Failure> {
    let scenario = Scenario::by_name_or_path(name).map_err(|report| Failure::BadInput(report.to_string()))?;
    let several = several(&scenario).map_err(|error| Failure::BadInput(error.to_string()))?;
    if as_json {
        print(&pretty(&several_json(&several))?)
    } else {
        print(&several_text(&several))
    }
}

fn pretty(json: &serde_json::Value) -> Result<String, Failure> {
    serde_json::to_string_pretty(json)
        .map(|text| text + "\n")
        .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))
}

fn request(arguments: &Arguments) -> Result<Request, Failure> {
    let (Some(flow), Some(depth), Some(lift)) = (arguments.flow_l_min, arguments.depth_mm, arguments.lift_mm) else {
        // The command line asks for all three.
        return Err(Failure::BadInput(
            "--flow-l-min, --depth-mm and --lift-mm are needed".to_owned(),
        ));
    };
    let fish = arguments
        .fish_kg
        .zip(arguments.feed_kg_day)
        .map(|(fish_kg, feed_kg_day)| Fish {
            stock: Stock {
                fish_kg,
                feed_kg_day,
                oxygen_kg_kg: arguments.oxygen_kg_per_kg_feed,
            },
            dissolved_mg_l: arguments.oxygen_mg_l,
            other_g_h: arguments.other_oxygen_g_h,
        });
    Ok(Request {
        water_m3_s: flow.times(1.0 / L_MIN),
        depth_m: depth.times(1e-3),
        lift_m: lift.times(1e-3),
        series: chosen(&arguments.pipes),
        water_c: arguments.water_c,
        salinity_g_kg: arguments.salinity_g_kg,
        altitude_m: arguments.altitude_m,
        fittings: Fittings {
            entrance: arguments.entrance_loss,
            outlet: arguments.outlet_loss,
        },
        calibration: risertrim::lift::Calibration::default(),
        air_line_m: arguments.air_line_m,
        diffuser_pa: arguments.diffuser_kpa * 1000.0,
        least_speed_m_s: arguments.least_speed_m_s,
        blower: arguments.blower.as_ref().map(|curve| curve.0.clone()),
        blower_efficiency: arguments.blower_efficiency / 100.0,
        lifts: arguments.lifts,
        fish,
    })
}

fn chosen(pipes: &[Pipes]) -> Vec<Series> {
    let mut series: Vec<Series> = pipes
        .iter()
        .flat_map(|pipes| match pipes {
            Pipes::SoilPvc => vec![Series::SoilPvc],
            Pipes::SoilPp => vec![Series::SoilPp],
            Pipes::DrainSn4 => vec![Series::DrainSn4],
            Pipes::DrainSn8 => vec![Series::DrainSn8],
            Pipes::PressurePn10 => vec![Series::PressurePn10],
            Pipes::PressurePn16 => vec![Series::PressurePn16],
            Pipes::Schedule40 => vec![Series::Schedule40],
            Pipes::All => Series::ALL.to_vec(),
        })
        .collect();
    series.sort_unstable();
    series.dedup();
    series
}

/// The sheet for the recommended pipe, or for the one asked for.
fn sheet(arguments: &Arguments, answer: &Answer) -> Result<Sheet, Failure> {
    let candidate = match arguments.sheet_outside_mm {
        None => answer.pick.as_ref().and_then(|pick| answer.candidates.get(pick.index)).ok_or_else(|| {
            Failure::BadInput(
                "no pipe can be recommended, so there is no sheet to draw\nName a pipe by --sheet-outside-mm to draw it all the same"
                    .to_owned(),
            )
        })?,
        Some(wanted) => {
            answer.candidates.iter().find(|c| (c.pipe.outside_mm - wanted).abs() < 0.5).ok_or_else(|| {
                let known: Vec<String> = answer.candidates.iter().map(|c| c.pipe.outside_mm.to_string()).collect();
                Failure::BadInput(format!("--sheet-outside-mm is {wanted}, allowed: {}", known.join(", ")))
            })?
        }
    };
    Sheet::new(&answer.request, candidate).ok_or_else(|| {
        Failure::BadInput(format!(
            "{} cannot do this task at any air, so there is no sheet to draw",
            candidate.pipe
        ))
    })
}

fn bad_input(refusals: &[Refusal]) -> Failure {
    Failure::BadInput(refusals.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
}

/// `60` or `40..60`.
fn span(text: &str) -> Result<Span, String> {
    let number = |text: &str| {
        let parsed = text.trim().parse::<f64>().ok().filter(|value| value.is_finite());
        parsed.ok_or_else(|| {
            format!("{text:?} is no number; give one like 60, or both ends like 40..60, without the unit")
        })
    };
    match text.split_once("..") {
        Some((low, high)) => Ok(Span {
            low: number(low)?,
            high: number(high)?,
        }),
        None => number(text).map(Span::at),
    }
}

/// A blower's curve: free air m3/s, pressure Pa.
#[derive(Clone, Debug)]
struct Curve(Vec<(f64, f64)>);

/// `0:26,350:13,700:0`.
fn blower(text: &str) -> Result<Curve, String> {
    let point = |part: &str| {
        let (air, pressure) = part.split_once(':')?;
        let (air, pressure) = (air.trim().parse::<f64>().ok()?, pressure.trim().parse::<f64>().ok()?);
        Some((air / L_MIN, pressure * 1000.0))
    };
    let points: Option<Vec<(f64, f64)>> = text.split(',').map(point).collect();
    points
        .map(Curve)
        .ok_or_else(|| "give pairs of L/min and kPa, like 0:26,350:13,700:0".to_owned())
}
