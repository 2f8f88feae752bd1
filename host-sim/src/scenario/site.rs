//! Reads `[place]` and `[air]`.

use super::section::Section;
use super::units::{DM3_S_BAR, L_MIN, PA, PERCENT};
use crate::plant;
use crate::precision::narrow;
use risertrim::air::{AirSupply, BLOWER_POINTS, Backup, Bleed, BlowerPoint, Drive};
use risertrim::fault::Place;
use risertrim::installation::Site;

/// Water and air: what the controller is told, and the same for the plant.
pub(super) fn place(top: &mut Section<'_>) -> (String, Site, plant::Place) {
    let (mut name, mut altitude_m, mut water_c, mut salinity) = ("a place without a name".to_owned(), 0.0, 20.0, 0.0);
    if let Some(mut section) = top.table("place") {
        section.belongs_to(Place::Site);
        if let Some(text) = section.maybe_text("name") {
            name = text.to_owned();
        }
        altitude_m = section.number_or("altitude_m", -400.0..=5000.0, altitude_m);
        water_c = section.number_or("water_c", 0.0..=40.0, water_c);
        salinity = section.number_or("salinity_g_kg", 0.0..=42.0, salinity);
        section.end();
    }
    let site = Site {
        altitude_m: narrow(altitude_m),
        water_c: narrow(water_c),
        salinity_g_kg: narrow(salinity),
    };
    (name, site, plant::Place::new(altitude_m, water_c, salinity))
}

/// Blower, bleed and gauge, for both sides.
pub(super) struct Air {
    pub supply: AirSupply,
    pub blower: plant::BlowerSpec,
    pub bleed: Option<plant::BleedSpec>,
    pub gauge: Option<plant::GaugeSpec>,
}

/// Reads `[air]`; `None` when it is missing, which is noted.
pub(super) fn air(top: &mut Section<'_>, place: &plant::Place) -> Option<Air> {
    let Some(mut section) = top.table("air") else {
        if !top.has("air") {
            top.fault(
                super::report::Kind::MissingKey,
                "air",
                "there is no [air]: the blower must be told",
                Some("add [air] with blower_l_min_kpa = [[0, 26], [350, 13], [700, 0]]".to_owned()),
            );
        }
        return None;
    };
    section.belongs_to(Place::Air);
    if !section.has("blower_l_min_kpa") {
        section.fault(
            super::report::Kind::MissingKey,
            "blower_l_min_kpa",
            "blower_l_min_kpa is missing: the blower's curve, pairs of free air and the pressure held at it",
            Some("for example blower_l_min_kpa = [[0, 26], [350, 13], [700, 0]]".to_owned()),
        );
    }
    let points = section
        .pairs("blower_l_min_kpa", 2..=BLOWER_POINTS, 0.0..=100_000.0, 0.0..=300.0)
        .unwrap_or_default();
    if points
        .windows(2)
        .any(|pair| pair[1].0 <= pair[0].0 || pair[1].1 >= pair[0].1)
    {
        section.fault(
            super::report::Kind::Geometry,
            "blower_l_min_kpa",
            "blower_l_min_kpa: air must rise and pressure fall from point to point",
            Some("each pair is [L/min of free air, kPa held at it]".to_owned()),
        );
    }
    let least_air = section.number_or("least_air_l_min", 0.0..=100_000.0, 0.0);
    let efficiency = section.number_or("efficiency_percent", 1.0..=100.0, 35.0);
    let gauge_noise = section.maybe_number("gauge_noise_kpa", 0.0001..=5.0);
    let drive = drive(&mut section);
    let backup = section.table("backup").map(|mut section| {
        let backup = Backup {
            energy_wh: narrow(section.number("energy_wh", 1.0..=1.0e6)),
            wanted_h: narrow(section.number_or("wanted_h", 0.1..=240.0, 4.0)),
        };
        section.end();
        backup
    });
    let bleed = section.table("bleed").map(|mut section| {
        let conductance = section.number("sonic_conductance_dm3_s_bar", 0.0..=1000.0) * DM3_S_BAR;
        let ratio = section.number_or("critical_ratio", 0.05..=0.6, 0.3);
        section.end();
        (conductance, ratio)
    });
    section.end();
    let curve = points
        .iter()
        .map(|(l_min, kpa)| BlowerPoint {
            air_m3_s: narrow(l_min * L_MIN),
            pressure_pa: narrow(kpa * PA),
        })
        .take(BLOWER_POINTS)
        .collect();
    Some(Air {
        supply: AirSupply {
            curve,
            least_air_m3_s: narrow(least_air * L_MIN),
            bleed: bleed.map(|(conductance, ratio)| Bleed {
                conductance_m3_s_pa: narrow(conductance),
                critical_ratio: narrow(ratio),
            }),
            gauge_noise_pa: gauge_noise.map(|kpa| narrow(kpa * PA)),
            drive,
            efficiency: narrow(efficiency / 100.0),
            backup,
        },
        blower: plant::BlowerSpec {
            points: points.iter().map(|(l_min, kpa)| (l_min * L_MIN, kpa * PA)).collect(),
            // The curve is told as it holds at the site.
            curve_at_pa: place.p_atm_pa,
            efficiency: efficiency / 100.0,
            flow_multiplier: 1.0,
            pressure_multiplier: 1.0,
        },
        bleed: bleed.map(|(sonic_m3_s_pa, critical_ratio)| plant::BleedSpec {
            sonic_m3_s_pa,
            critical_ratio,
        }),
        gauge: gauge_noise.map(|kpa| plant::GaugeSpec {
            noise_pa: kpa * PA,
            resolution_pa: 0.0,
            zero_pa: 0.0,
            gain: 1.0,
        }),
    })
}

/// How the blower can be set: a bank of equal units on relays, or variable speed; neither: it runs.
fn drive(section: &mut Section<'_>) -> Drive {
    let units = section.maybe_number("relay_units", 1.0..=8.0);
    let start_gap_s = section.number_or("start_gap_s", 1.0..=600.0, 20.0);
    let least = section.maybe_number("least_speed_percent", 20.0..=100.0);
    if units.is_some() && least.is_some() {
        section.fault(
            super::report::Kind::Count,
            "least_speed_percent",
            "relay_units and least_speed_percent both say how the blower is set: keep one",
            None,
        );
    }
    match (units, least) {
        (Some(units), _) => {
            if units.fract() != 0.0 {
                section.fault(
                    super::report::Kind::OutOfRange,
                    "relay_units",
                    format!("relay_units {units} is not a whole number"),
                    None,
                );
            }
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 1 to 8, 1 to 600
            let drive = Drive::Relays {
                units: units as u8,
                start_gap_s: start_gap_s as u16,
            };
            drive
        }
        (None, Some(least)) => Drive::Speed {
            least: narrow(least * PERCENT),
        },
        (None, None) => Drive::Fixed,
    }
}
