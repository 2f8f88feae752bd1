//! The side view of a lift, to scale, as SVG.

use super::canvas::{Canvas, Pen, SMALL};
use super::labels::{dimensions, list, rule};
use super::places::{BOTTOM, RECEIVER, RISER, SOURCE, TUBE, half_width};
use super::sheet::Sheet;
use crate::size::L_MIN;
use svg::Document;
use svg::node::element::{Rectangle, Title};

/// Page, px.
const PAGE: (f64, f64) = (1240.0, 860.0);
/// Top of the drawing, px.
const TOP: f64 = 96.0;

const WALL: Pen = Pen::new("#4a4a4a", 3.0);
const PIPE: Pen = Pen::new("#1b1b1b", 1.6);
const AIR: Pen = Pen::new("#b36b00", 2.2);
const WATER: &str = "#dcecf7";
const SURFACE: Pen = Pen::new("#1f6fa8", 1.4);
const THIN: Pen = Pen::new("#999", 0.8);

/// The side view as a whole SVG file.
#[must_use]
pub fn drawing(sheet: &Sheet) -> String {
    let rim = sheet.high_level_m.max(sheet.outlet_m - 0.02) + 0.08;
    let highest = sheet.loop_m.max(rim) + 0.12;
    let scale = (BOTTOM - TOP - 60.0) / highest;
    let mut canvas = Canvas::new(scale, BOTTOM - 30.0);
    heading(&mut canvas, sheet);
    tanks(&mut canvas, sheet);
    riser(&mut canvas, sheet);
    air(&mut canvas, sheet);
    tube(&mut canvas, sheet);
    dimensions(&mut canvas, sheet);
    list(&mut canvas, sheet);
    rule(&mut canvas);
    let paper = Rectangle::new()
        .set("width", PAGE.0)
        .set("height", PAGE.1)
        .set("fill", "#fff");
    Document::new()
        .set("viewBox", (0, 0, PAGE.0, PAGE.1))
        .set("width", PAGE.0)
        .set("height", PAGE.1)
        .add(Title::new(format!("Mounting sheet, {}", sheet.candidate.pipe)))
        .add(paper)
        .add(canvas.into_group())
        .to_string()
}

fn heading(canvas: &mut Canvas, sheet: &Sheet) {
    let (candidate, request) = (&sheet.candidate, &sheet.request);
    canvas.text(
        (40.0, 40.0),
        "start",
        21.0,
        true,
        &format!(
            "Air lift, {}: {:.0} L/min with {:.1} L/min of free air at {:.1} kPa",
            candidate.pipe,
            request.water_m3_s.high * L_MIN,
            candidate.air_m3_s.unwrap_or(0.0) * L_MIN,
            candidate.valve_pa * 1e-3
        ),
    );
    canvas.text(
        (40.0, 64.0),
        "start",
        SMALL,
        false,
        &format!(
            "{}. Heights and pipes to scale, in mm; widths of tanks, blower and valves are free.",
            candidate.pipe.series.title()
        ),
    );
}

fn receiver_floor_m(sheet: &Sheet) -> f64 {
    (sheet.outlet_m - 0.35 * (sheet.outlet_m - sheet.clearance_m)).max(0.0)
}

fn tanks(canvas: &mut Canvas, sheet: &Sheet) {
    let (floor, low, high) = (canvas.y(0.0), canvas.y(sheet.low_level_m), canvas.y(sheet.high_level_m));
    let rim = canvas.y(sheet.high_level_m.max(sheet.low_level_m + 0.05) + 0.06);
    canvas.area((SOURCE.0, low), (SOURCE.1, floor), WATER, Pen::new("none", 0.0));
    if low - high > 3.0 {
        canvas.area((SOURCE.0, high), (SOURCE.1, low), "#eef5fb", Pen::new("none", 0.0));
        canvas.level((SOURCE.0, SOURCE.1), sheet.high_level_m, Pen::dashed("#1f6fa8", 1.2));
    }
    canvas.level((SOURCE.0, SOURCE.1), sheet.low_level_m, SURFACE);
    canvas.path(
        &[(SOURCE.0, rim), (SOURCE.0, floor), (SOURCE.1, floor), (SOURCE.1, rim)],
        WALL,
    );

    let (bottom, most) = (canvas.y(receiver_floor_m(sheet)), canvas.y(sheet.outlet_m));
    canvas.area((RECEIVER.0, most), (RECEIVER.1, bottom), WATER, Pen::new("none", 0.0));
    canvas.level((RECEIVER.0 + 50.0, RECEIVER.1), sheet.outlet_m, SURFACE);
    let top = most - 0.05 * canvas.scale - 8.0;
    canvas.path(
        &[
            (RECEIVER.0, most + 4.0),
            (RECEIVER.0, bottom),
            (RECEIVER.1, bottom),
            (RECEIVER.1, top),
        ],
        WALL,
    );
    for x in [RECEIVER.0 + 76.0, RECEIVER.1 - 14.0] {
        canvas.line((x, bottom), (x, floor), Pen::new("#4a4a4a", 2.0));
    }
    canvas.line((SOURCE.0 - 20.0, floor + 2.0), (RECEIVER.1 + 10.0, floor + 2.0), THIN);
    canvas.text(
        (0.5 * (SOURCE.0 + SOURCE.1), floor + 20.0),
        "middle",
        SMALL,
        false,
        "source tank",
    );
    canvas.text(
        (0.5 * (RECEIVER.0 + RECEIVER.1), bottom - 12.0),
        "middle",
        SMALL,
        false,
        "receiving tank",
    );
}

fn riser(canvas: &mut Canvas, sheet: &Sheet) {
    let half = half_width(canvas, sheet);
    let (foot, invert) = (canvas.y(sheet.clearance_m), canvas.y(sheet.outlet_m));
    let crown = invert - 2.0 * half;
    let (left, right) = (RISER - half, RISER + half);
    let end = RECEIVER.0 + 34.0;
    canvas.area(
        (left, foot),
        (right, canvas.y(sheet.inlet_m)),
        "#cfe3f2",
        Pen::new("none", 0.0),
    );
    canvas.area(
        (left, canvas.y(sheet.inlet_m)),
        (right, crown),
        "#e3f1fb",
        Pen::new("none", 0.0),
    );
    canvas.area((right, crown), (end, invert), "#e3f1fb", Pen::new("none", 0.0));
    bubbles(canvas, sheet, half);
    canvas.path(&[(left, foot), (left, crown - 12.0)], PIPE);
    canvas.path(&[(right, foot), (right, invert), (end, invert)], PIPE);
    canvas.path(&[(right, crown - 12.0), (right, crown), (end, crown)], PIPE);
    // Guard around the foot.
    let out = (0.5 * half).max(6.0);
    let (low, high) = (canvas.y(0.0) - 2.0, foot - 0.5 * (foot - canvas.y(sheet.inlet_m)));
    canvas.area((left - out, high), (right + out, low), "none", Pen::new("#3d7a3d", 1.4));
    let mut y = high + 5.0;
    while y < low {
        for (from, to) in [(left - out, left), (right, right + out)] {
            canvas.line((from, y), (to, y), Pen::new("#3d7a3d", 0.8));
        }
        y += 6.0;
    }
    canvas.balloon(
        1,
        (RISER - half - 46.0, canvas.y(0.5 * (sheet.inlet_m + sheet.low_level_m))),
        (left, canvas.y(0.5 * (sheet.inlet_m + sheet.low_level_m)) + 14.0),
    );
    canvas.balloon(
        3,
        (RISER - half - out - 40.0, low - 16.0),
        (left - out, 0.5 * (low + high)),
    );
    canvas.balloon(4, (end + 30.0, crown - 26.0), (end - 4.0, crown));
}

/// A few bubbles, so that one sees where the air goes.
fn bubbles(canvas: &mut Canvas, sheet: &Sheet, half: f64) {
    let (low, high) = (canvas.y(sheet.inlet_m) - 6.0, canvas.y(sheet.outlet_m));
    let radius = (0.28 * half).clamp(1.0, 6.0);
    let mut y = low;
    let mut number = 0_u32;
    while y > high {
        let side = [-0.45, 0.3, -0.1, 0.5][(number % 4) as usize];
        canvas.dot((RISER + side * half, y), radius, "#fff", Pen::new("#7aa7c7", 0.8));
        y -= 4.0 * radius + 6.0;
        number += 1;
    }
}

fn air(canvas: &mut Canvas, sheet: &Sheet) {
    let half = half_width(canvas, sheet);
    let (top, inlet) = (canvas.y(sheet.loop_m), canvas.y(sheet.inlet_m));
    let down = RISER - half - 14.0;
    let blower = (SOURCE.0 - 10.0, SOURCE.0 + 44.0);
    canvas.area(
        (blower.0, top - 18.0),
        (blower.1, top + 18.0),
        "#f3e6cf",
        Pen::new("#7a4a00", 1.6),
    );
    canvas.text(
        (0.5 * (blower.0 + blower.1), top + 4.5),
        "middle",
        12.0,
        false,
        "blower",
    );
    let hot = blower.1 + 46.0;
    canvas.line((blower.1, top), (hot, top), Pen::new("#c22", 4.0));
    canvas.line((hot, top), (down, top), AIR);
    canvas.path(&[(down, top), (down, inlet), (RISER - half, inlet)], AIR);
    canvas.line((RISER - half - 4.0, inlet), (RISER + half + 4.0, inlet), AIR);
    // Valve, check valve, drain.
    let valve = hot + 22.0;
    canvas.path(
        &[
            (valve - 8.0, top - 7.0),
            (valve + 8.0, top + 7.0),
            (valve + 8.0, top - 7.0),
            (valve - 8.0, top + 7.0),
            (valve - 8.0, top - 7.0),
        ],
        Pen::new("#7a4a00", 1.6),
    );
    let check = valve + 26.0;
    canvas.path(
        &[
            (check - 7.0, top - 7.0),
            (check + 6.0, top),
            (check - 7.0, top + 7.0),
            (check - 7.0, top - 7.0),
        ],
        Pen::new("#7a4a00", 1.6),
    );
    canvas.line(
        (check + 7.0, top - 8.0),
        (check + 7.0, top + 8.0),
        Pen::new("#7a4a00", 1.8),
    );
    let drain = hot - 8.0;
    canvas.line((drain, top), (drain, top + 20.0), AIR);
    canvas.dot((drain, top + 23.0), 4.0, "#fff", Pen::new("#7a4a00", 1.4));
    canvas.balloon(2, (down - 40.0, inlet - 26.0), (down, inlet));
    canvas.balloon(5, (blower.1 + 22.0, top - 26.0), (blower.1 + 22.0, top - 1.0));
    canvas.balloon(6, (valve, top - 30.0), (valve, top - 5.0));
    canvas.balloon(7, (check + 2.0, top + 32.0), (check, top + 4.0));
    canvas.balloon(8, (drain - 24.0, top + 40.0), (drain - 4.0, top + 24.0));
    canvas.balloon(9, (down + 34.0, top - 14.0), (down, top));
}

fn tube(canvas: &mut Canvas, sheet: &Sheet) {
    let (left, right) = (TUBE - 0.025 * canvas.scale, TUBE + 0.025 * canvas.scale);
    let (foot, top) = (
        canvas.y(0.05_f64.min(sheet.clearance_m)),
        canvas.y(sheet.high_level_m.max(sheet.low_level_m + 0.05) + 0.06),
    );
    canvas.area(
        (left, canvas.y(sheet.low_level_m)),
        (right, foot),
        "#cfe3f2",
        Pen::new("none", 0.0),
    );
    canvas.path(&[(left, top), (left, foot), (right, foot), (right, top)], PIPE);
    let cell = foot - 0.03 * canvas.scale - 4.0;
    canvas.area(
        (TUBE - 3.0, cell - 8.0),
        (TUBE + 3.0, cell + 4.0),
        "#555",
        Pen::new("#333", 1.0),
    );
    canvas.line((TUBE, cell - 8.0), (TUBE, top - 8.0), Pen::new("#333", 1.0));
    canvas.dot((right, foot - 16.0), 2.2, "#fff", Pen::new("#1b1b1b", 1.0));
    canvas.balloon(10, (right + 34.0, foot - 46.0), (right + 1.0, foot - 17.0));
}
