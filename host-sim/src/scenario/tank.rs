//! Reads `[[tank]]`.

use super::outlet;
use super::report::Kind;
use super::section::Section;
use super::units::{L_DAY, L_MIN, MM};
use crate::plant;
use crate::precision::narrow;
use risertrim::fault::Place;
use risertrim::level::{Scale, Sensor};
use risertrim::outlet::Outlet;
use risertrim::tank::{AREA_POINTS, AreaPoint, LevelLimits, OUTLETS, Stock, Tank};

const LEVEL_MM: std::ops::RangeInclusive<f64> = 0.0..=20_000.0;

/// A tank for both sides.
pub(super) struct Read {
    pub told: Tank,
    pub plant: plant::TankSpec,
}

/// Reads one tank. `start_needed` is false where only the installation is wanted.
pub(super) fn read(mut section: Section<'_>, index: u8, names: &[String], start_needed: bool) -> Read {
    let place = Place::Tank(index);
    let name = names.get(usize::from(index)).cloned().unwrap_or_default();
    section.belongs_to(place);
    section.text("name");
    section.part = format!("tank \"{name}\"");

    let area = area(&mut section);
    let floor_m = section.number_or("floor_height_mm", -50_000.0..=50_000.0, 0.0) * MM;
    let rim = section.number("rim_mm", 50.0..=20_000.0);
    let low_act = section.number("low_act_mm", LEVEL_MM);
    let low_warn = section.number("low_warn_mm", LEVEL_MM);
    let high_warn = section.number("high_warn_mm", LEVEL_MM);
    let high_act = section.number("high_act_mm", LEVEL_MM);
    in_order(
        &section,
        &[
            ("low_act_mm", low_act),
            ("low_warn_mm", low_warn),
            ("high_warn_mm", high_warn),
            ("high_act_mm", high_act),
            ("rim_mm", rim),
        ],
    );
    let start = match section.maybe_number("start_mm", LEVEL_MM) {
        Some(start) => start,
        None if start_needed => section.number("start_mm", LEVEL_MM),
        None => 0.5 * (low_warn + high_warn),
    };
    if start > rim {
        section.fault(
            Kind::Geometry,
            "start_mm",
            format!("start_mm {start} lies above rim_mm {rim}"),
            None,
        );
    } else if start > high_act || start < low_act {
        section.warning(
            Kind::Geometry,
            "start_mm",
            "start_mm lies outside the levels that act",
            None,
        );
    }
    let fish = section.flag_or("fish", false);
    let stock = Stock {
        fish_kg: narrow(section.number_or("fish_kg", 0.0..=1.0e6, 0.0)),
        oxygen_use_mg_kg_h: narrow(section.number_or(
            "oxygen_use_mg_kg_h",
            50.0..=2000.0,
            f64::from(Stock::UNTOLD.oxygen_use_mg_kg_h),
        )),
        least_oxygen_mg_l: narrow(section.number_or(
            "least_oxygen_mg_l",
            1.0..=8.0,
            f64::from(Stock::UNTOLD.least_oxygen_mg_l),
        )),
    };
    let inflow = section.number_or("inflow_l_min", 0.0..=100_000.0, 0.0) * L_MIN;
    let evaporation = section.number_or("evaporate_l_day", 0.0..=1_000_000.0, 0.0) * L_DAY;
    let dry_m = section.maybe_number("dry_mm", LEVEL_MM).map(|mm| mm * MM);
    let sensor = sensor(&mut section, &Levels { low_act, high_act, rim });
    let listed = section.tables("outlet");
    if listed.len() > OUTLETS {
        let message = format!("{} outlets, allowed: at most {OUTLETS}", listed.len());
        section.fault(Kind::Count, "outlet", message, None);
    }
    let mut outlets = heapless::Vec::<Outlet, OUTLETS>::new();
    let mut specs = Vec::new();
    for (number, of) in (0u8..).zip(listed) {
        let read = outlet::read(of, (index, number), &section.part, names, rim * MM);
        // A fourth outlet was noted above.
        if outlets.push(read.0).is_ok() {
            specs.push(read.1);
        }
    }
    section.end();
    let told_area = match &area {
        plant::Area::Constant(m2) => std::iter::once(AreaPoint {
            level_m: 0.0,
            area_m2: narrow(*m2),
        })
        .collect(),
        plant::Area::Table(points) => points
            .iter()
            .take(AREA_POINTS)
            .map(|(m, m2)| AreaPoint {
                level_m: narrow(*m),
                area_m2: narrow(*m2),
            })
            .collect(),
    };
    Read {
        told: Tank {
            floor_m: narrow(floor_m),
            area: told_area,
            outlets,
            sensor,
            rim_m: narrow(rim * MM),
            limits: LevelLimits {
                high_warn_m: narrow(high_warn * MM),
                high_act_m: narrow(high_act * MM),
                low_warn_m: narrow(low_warn * MM),
                low_act_m: narrow(low_act * MM),
            },
            fish,
            stock,
        },
        plant: plant::TankSpec {
            name,
            area,
            floor_m,
            rim_m: rim * MM,
            start_m: start * MM,
            dry_m,
            outlets: specs,
            inflow_m3_s: inflow,
            evaporation_m3_s: evaporation,
            sensor: Some(plant::SensorSpec {
                noise_m: f64::from(sensor.noise_m),
                resolution_m: f64::from(sensor.resolution_m),
                ..plant::SensorSpec::default()
            }),
        },
    }
}

fn area(section: &mut Section<'_>) -> plant::Area {
    let (one, many) = (section.has("area_m2"), section.has("area_m2_at_mm"));
    if one && many {
        section.fault(
            Kind::Count,
            "area_m2_at_mm",
            "area_m2 and area_m2_at_mm both tell the water surface: keep one",
            None,
        );
    }
    if !many {
        return plant::Area::Constant(section.number("area_m2", 0.01..=10_000.0));
    }
    section.maybe_number("area_m2", 0.01..=10_000.0);
    let points = section
        .pairs("area_m2_at_mm", 2..=AREA_POINTS, 0.0..=20_000.0, 0.01..=10_000.0)
        .unwrap_or_default();
    let rising = points.windows(2).all(|pair| pair[1].0 > pair[0].0);
    if !rising || points.first().is_some_and(|first| first.0 != 0.0) {
        section.fault(
            Kind::Geometry,
            "area_m2_at_mm",
            "area_m2_at_mm: levels must begin at 0 and rise from pair to pair",
            Some("each pair is [mm above the floor, m2 of water surface there]".to_owned()),
        );
    }
    plant::Area::Table(points.iter().map(|(mm, m2)| (mm * MM, *m2)).collect())
}

/// Each must be above the one before, and the last may not be missing.
fn in_order(section: &Section<'_>, levels: &[(&'static str, f64)]) {
    for pair in levels.windows(2) {
        let [(low, below), (high, above)] = [pair[0], pair[1]];
        if below >= above {
            section.fault(
                Kind::Geometry,
                low,
                format!("{low} {below} is not below {high} {above}: the levels are out of order"),
                Some("from the bottom: low_act_mm, low_warn_mm, high_warn_mm, high_act_mm, rim_mm".to_owned()),
            );
        }
    }
}

/// The levels of a tank that its sensor must be able to show, mm.
struct Levels {
    low_act: f64,
    high_act: f64,
    rim: f64,
}

/// A sensor that shows less than this share of the way from the floor to the rim shows it in another unit.
const FAR_TOO_LITTLE: f64 = 0.05;

/// Holds what a sensor shows at the two readings told to the levels that must be seen.
fn shows_enough(section: &Section<'_>, points: [(f64, f64); 2], zero_mm: f64, levels: &Levels) {
    const KEY: &str = "level_mm_at_reading";
    let Levels { low_act, high_act, rim } = *levels;
    if ![low_act, high_act, rim, zero_mm].iter().all(|level| level.is_finite()) {
        return;
    }
    let [first, second] = points.map(|(reading, mm)| (reading, mm + zero_mm));
    let (low, high) = if first.1 < second.1 {
        (first, second)
    } else {
        (second, first)
    };
    let plain = super::hint::plain;
    let reads = |(reading, mm): (f64, f64)| format!("at {} it reads {} mm", plain(reading), plain(mm));
    let pairs = |[a, b]: [(f64, f64); 2]| {
        let pair = |(reading, mm): (f64, f64)| format!("[{}, {}]", plain(reading), plain(mm));
        format!("write [{}, {}]", pair(a), pair(b))
    };
    let covers = |from: f64, to: f64| from.min(to) <= low_act && from.max(to) >= high_act;
    if high.1 - low.1 < FAR_TOO_LITTLE * rim {
        let in_metres = points.map(|(reading, level)| (reading, 1000.0 * level));
        let swapped = points.map(|(reading, level)| (level, reading));
        let hint = if covers(swapped[0].1, swapped[1].1) {
            format!("each pair is [reading, mm]: {}", pairs(swapped))
        } else if covers(in_metres[0].1, in_metres[1].1) {
            format!("if the levels are in m, {}", pairs(in_metres))
        } else {
            "each pair is [reading, mm above the floor of the tank]".to_owned()
        };
        let message = format!(
            "level_mm_at_reading shows {} mm of a tank {} mm high: {}, {}; the tank acts at {} and {}",
            plain(high.1 - low.1),
            plain(rim),
            reads(low),
            reads(high),
            plain(low_act),
            plain(high_act)
        );
        section.fault(Kind::Geometry, KEY, message, Some(hint));
        return;
    }
    let mut short = Vec::new();
    if high.1 < high_act {
        short.push(format!("{}; the tank acts at {}", reads(high), plain(high_act)));
    }
    if low.1 > low_act {
        short.push(format!("{}; the tank acts at {}", reads(low), plain(low_act)));
    }
    if !short.is_empty() {
        let hint = "where the sensor ends there the controller never sees that level: take one that reaches further, or other levels to act at";
        let message = format!("level_mm_at_reading: {}", short.join("; "));
        section.warning(Kind::Geometry, KEY, message, Some(hint.to_owned()));
    }
}

fn sensor(section: &mut Section<'_>, levels: &Levels) -> Sensor {
    let mut told = Sensor {
        scale: Scale::METRES,
        zero_m: 0.0,
        noise_m: 0.001,
        resolution_m: 0.001,
    };
    let Some(mut section) = section.table("sensor") else {
        return told;
    };
    told.noise_m = narrow(section.number_or("noise_mm", 0.1..=100.0, 1.0) * MM);
    told.resolution_m = narrow(section.number_or("resolution_mm", 0.0..=50.0, 1.0) * MM);
    told.zero_m = narrow(section.number_or("zero_mm", -1000.0..=1000.0, 0.0) * MM);
    if let Some(points) = section.pairs("level_mm_at_reading", 2..=2, -1.0e9..=1.0e9, -20_000.0..=20_000.0)
        && let [(raw_low, low), (raw_high, high)] = points[..]
    {
        if (raw_high - raw_low).abs() < 1.0e-6 || (high - low).abs() < 0.1 {
            section.fault(
                Kind::Geometry,
                "level_mm_at_reading",
                "level_mm_at_reading: the two points must differ in reading and in level",
                Some("for a 4-20 mA sensor of 1.5 m: [[4, 0], [20, 1500]]".to_owned()),
            );
        } else {
            let zero_mm = f64::from(told.zero_m) / MM;
            shows_enough(&section, [(raw_low, low), (raw_high, high)], zero_mm, levels);
        }
        told.scale = Scale {
            raw_low: narrow(raw_low),
            raw_high: narrow(raw_high),
            level_low_m: narrow(low * MM),
            level_high_m: narrow(high * MM),
        };
    }
    section.end();
    told
}
