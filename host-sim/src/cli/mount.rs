//! `risertrim mount`: the mounting sheet of a lift that an installation file describes.

use super::failure::Failure;
use super::outputs::{Kind, Outputs};
use super::place::{Place, write};
use super::print;
use clap::Args;
use risertrim_sim::mounting::{drawing, existing, sheet_json, sheet_text};
use std::path::PathBuf;

/// Show how a lift of an installation is mounted: heights, air line, cautions; draw it
#[derive(Debug, Args)]
#[command(after_help = "\
The bore, heights, air line and calibration are the file's; levels lie between its low and high warning.
For a lift that is still to be chosen, see risertrim size.
Examples:
  risertrim mount default --lift beds
  risertrim mount my.toml --lift fry --sheet fry.svg
Exit code: 0 done, 1 something failed, 2 bad input.")]
pub struct Arguments {
    /// A shipped scenario, or the path of an installation
    #[arg(value_name = "INSTALLATION", default_value = "default")]
    installation: String,
    /// Which lift; needed where there are several
    #[arg(long, value_name = "NAME")]
    lift: Option<String>,
    /// Outside diameter of the riser, for a bore of no pipe that we know
    #[arg(long, value_name = "MM")]
    outside_mm: Option<f64>,
    /// Draw the side view to scale
    #[arg(long, value_name = "FILE.svg")]
    sheet: Option<PathBuf>,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// Does it.
pub fn run(arguments: &Arguments) -> Result<(), Failure> {
    let name = &arguments.installation;
    let place = Place::load(name)?;
    Outputs::of([name])
        .and("--sheet", arguments.sheet.as_deref(), Kind::Drawing)
        .check()?;
    let index = match (&arguments.lift, place.named.lift_names.len()) {
        (Some(lift), _) => place.lift(lift)?,
        (None, 1) => 0,
        (None, _) => {
            return Err(Failure::BadInput(format!(
                "a sheet is for one lift: name it by --lift; {name} has: {}",
                place.named.lift_names.join(", ")
            )));
        }
    };
    let sheet = existing(&place.named, index, arguments.outside_mm).map_err(|why| {
        let lift = place.named.lift_names.get(index).map_or("", String::as_str);
        Failure::BadInput(format!("{name}, lift \"{lift}\": {why}"))
    })?;
    if let Some(path) = &arguments.sheet {
        write(path, &drawing(&sheet))?;
    }
    if arguments.json {
        let json = serde_json::to_string_pretty(&sheet_json(&sheet))
            .map_err(|error| Failure::Internal(format!("cannot write JSON: {error}")))?;
        return print(&(json + "\n"));
    }
    let mut text = sheet_text(&sheet);
    if let Some(path) = &arguments.sheet {
        text.push_str(&format!("\nDrawn to scale in {}\n", path.display()));
    }
    print(&text)
}
