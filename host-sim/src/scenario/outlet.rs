//! Reads the outlets of a tank.

use super::report::Kind;
use super::section::Section;
use super::units::{L_MIN, MM};
use crate::plant::{OutletLaw, OutletSpec};
use crate::precision::narrow;
use risertrim::fault::Place;
use risertrim::outlet::{Drain, Law, Outlet, TABLE_POINTS, TablePoint};

const HEIGHT_MM: std::ops::RangeInclusive<f64> = 0.0..=20_000.0;
const LAWS: [&str; 6] = [
    "v_notch",
    "rectangular",
    "orifice",
    "standpipe",
    "pipe",
    "table_l_min_at_mm",
];
/// The word for water that leaves the system.
pub(super) const AWAY: &str = "away";

/// Reads one outlet: what the controller is told of it, and the same for the plant.
pub(super) fn read(
    mut section: Section<'_>,
    (own, number): (u8, u8),
    of: &str,
    tanks: &[String],
    rim_m: f64,
) -> (Outlet, OutletSpec) {
    section.belongs_to(Place::Outlet(own, number));
    section.part = format!("{of}, outlet {}", u16::from(number) + 1);
    let mut names = tanks.to_vec();
    names.push(AWAY.to_owned());
    let to = section.name_of("to", &names, "tank (or \"away\")");
    if to == Some(usize::from(own)) {
        section.fault(
            Kind::Geometry,
            "to",
            "an outlet cannot lead back into its own tank",
            None,
        );
    }
    let to = to.filter(|to| *to < tanks.len());
    let coefficient = section.number_or("coefficient", 0.1..=5.0, 1.0);

    let named: Vec<&'static str> = LAWS.into_iter().filter(|law| section.has(law)).collect();
    if named.len() != 1 {
        let message = match named.len() {
            0 => "no law tells how much water runs out".to_owned(),
            _ => format!("{} laws at once: {}", named.len(), named.join(", ")),
        };
        section.fault(
            Kind::Count,
            named.last().copied().unwrap_or(""),
            message,
            Some(format!("one of {}", LAWS.join(", "))),
        );
    }
    let mut laws: Vec<(Law, OutletLaw)> = LAWS
        .into_iter()
        .filter_map(|name| law(&mut section, name, rim_m))
        .collect();
    section.end();
    let (told, plant) = if laws.is_empty() {
        stand_in()
    } else {
        laws.swap_remove(0)
    };
    let drain = to.and_then(|to| u8::try_from(to).ok()).map_or(Drain::Away, Drain::Tank);
    (
        Outlet {
            to: drain,
            law: told,
            coefficient: narrow(coefficient),
        },
        OutletSpec {
            to,
            law: plant,
            coefficient,
        },
    )
}

/// Stands in for a law that could not be read; the file is refused anyway.
fn stand_in() -> (Law, OutletLaw) {
    (
        Law::Standpipe {
            crest_m: 0.0,
            bore_m: 0.1,
        },
        OutletLaw::Standpipe {
            crest_m: 0.0,
            bore_m: 0.1,
        },
    )
}

fn law(outlet: &mut Section<'_>, name: &'static str, rim_m: f64) -> Option<(Law, OutletLaw)> {
    if name == "table_l_min_at_mm" {
        return table(outlet);
    }
    let mut section = outlet.table(name)?;
    let laws = match name {
        "v_notch" => {
            let crest_m = height(&mut section, "crest_mm", rim_m);
            let angle_deg = section.number_or("angle_deg", 25.0..=100.0, 90.0);
            (
                Law::VNotch {
                    crest_m: narrow(crest_m),
                    angle_deg: narrow(angle_deg),
                },
                OutletLaw::VNotch { crest_m, angle_deg },
            )
        }
        "rectangular" => {
            let crest_m = height(&mut section, "crest_mm", rim_m);
            let width_mm = section.number("width_mm", 5.0..=20_000.0);
            let channel_mm = section.number("channel_mm", 5.0..=100_000.0);
            if channel_mm < width_mm {
                let message = format!("channel_mm {channel_mm} is narrower than the opening, width_mm {width_mm}");
                section.fault(Kind::Geometry, "channel_mm", message, None);
            }
            let (width_m, channel_m) = (width_mm * MM, channel_mm * MM);
            (
                Law::Rectangular {
                    crest_m: narrow(crest_m),
                    width_m: narrow(width_m),
                    channel_m: narrow(channel_m),
                },
                OutletLaw::Rectangular {
                    crest_m,
                    width_m,
                    channel_m,
                },
            )
        }
        "orifice" => {
            let centre_m = height(&mut section, "centre_mm", rim_m);
            let bore_m = section.number("bore_mm", 3.0..=1000.0) * MM;
            let cd = section.number_or("discharge", 0.3..=1.0, 0.61);
            (
                Law::Orifice {
                    centre_m: narrow(centre_m),
                    bore_m: narrow(bore_m),
                    discharge: narrow(cd),
                },
                OutletLaw::Hole { centre_m, bore_m, cd },
            )
        }
        "standpipe" => {
            let crest_m = height(&mut section, "crest_mm", rim_m);
            let bore_m = section.number("bore_mm", 8.0..=1000.0) * MM;
            (
                Law::Standpipe {
                    crest_m: narrow(crest_m),
                    bore_m: narrow(bore_m),
                },
                OutletLaw::Standpipe { crest_m, bore_m },
            )
        }
        _ => pipe(&mut section, rim_m),
    };
    section.end();
    Some(laws)
}

fn pipe(section: &mut Section<'_>, rim_m: f64) -> (Law, OutletLaw) {
    let end_mm = section.number("end_mm", -20_000.0..=20_000.0);
    let entry_mm = section.number_or("entry_mm", HEIGHT_MM, end_mm.max(0.0));
    let bore_mm = section.number("bore_mm", 8.0..=1000.0);
    let length_mm = section.number("length_mm", 20.0..=500_000.0);
    let minor_loss = section.number_or("minor_loss", 0.0..=100.0, 0.5);
    let key = if section.has("entry_mm") { "entry_mm" } else { "end_mm" };
    below_rim(section, key, entry_mm * MM, rim_m);
    let (end_m, bore_m, length_m) = (end_mm * MM, bore_mm * MM, length_mm * MM);
    (
        Law::Pipe {
            end_m: narrow(end_m),
            bore_m: narrow(bore_m),
            length_m: narrow(length_m),
            minor_loss: narrow(minor_loss),
        },
        OutletLaw::Pipe {
            entry_m: entry_mm * MM,
            end_m,
            bore_m,
            length_m,
            minor_loss,
        },
    )
}

fn table(outlet: &mut Section<'_>) -> Option<(Law, OutletLaw)> {
    const KEY: &str = "table_l_min_at_mm";
    if !outlet.has(KEY) {
        // So that the key is known.
        outlet.pairs(KEY, 2..=TABLE_POINTS, HEIGHT_MM, 0.0..=60_000.0);
        return None;
    }
    let points = outlet.pairs(KEY, 2..=TABLE_POINTS, HEIGHT_MM, 0.0..=60_000.0)?;
    let rising = points
        .windows(2)
        .all(|pair| pair[1].0 > pair[0].0 && pair[1].1 >= pair[0].1);
    if !rising || points.first().is_some_and(|first| first.1 != 0.0) {
        outlet.fault(
            Kind::Geometry,
            KEY,
            format!("{KEY}: levels must rise, flows may not fall, and the first flow must be 0"),
            Some("each pair is [mm above the floor, L/min]".to_owned()),
        );
    }
    let told = points
        .iter()
        .take(TABLE_POINTS)
        .map(|(mm, l_min)| TablePoint {
            level_m: narrow(mm * MM),
            flow_m3_s: narrow(l_min * L_MIN),
        })
        .collect();
    let plant = points.iter().map(|(mm, l_min)| (mm * MM, l_min * L_MIN)).collect();
    Some((
        Law::Table { points: told },
        OutletLaw::Table {
            crest_m: 0.0,
            points: plant,
        },
    ))
}

/// A crest: above the floor and below the rim. In m.
fn height(section: &mut Section<'_>, key: &'static str, rim_m: f64) -> f64 {
    let mm = section.number(key, -20_000.0..=20_000.0);
    if mm < 0.0 {
        section.fault(
            Kind::Geometry,
            key,
            format!("{key} {mm} lies below the tank's floor"),
            Some("heights of outlets are above the floor of the tank they drain".to_owned()),
        );
        return f64::NAN;
    }
    below_rim(section, key, mm * MM, rim_m);
    mm * MM
}

fn below_rim(section: &Section<'_>, key: &str, height_m: f64, rim_m: f64) {
    if height_m >= rim_m {
        section.fault(
            Kind::Geometry,
            key,
            format!(
                "{key} {} lies above the tank's rim, {}: water would run over first",
                height_m / MM,
                rim_m / MM
            ),
            None,
        );
    }
}
