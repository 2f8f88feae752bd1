//! The curve as an SVG drawing.

use super::chart::Axis;
use super::table::{CurveRow, CurveTable, Mark};
use super::terminal::axes;
use std::fmt::Write;

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 456.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 20.0;
const TOP: f64 = 60.0;
const BOTTOM: f64 = 58.0;

/// Where values lie on the drawing.
struct Frame {
    air: Axis,
    water: Axis,
}

impl Frame {
    fn x(&self, air: f64) -> f64 {
        LEFT + (WIDTH - LEFT - RIGHT) * self.air.share(air)
    }

    fn y(&self, water: f64) -> f64 {
        HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * self.water.share(water)
    }

    fn at(&self, air: f64, water: f64) -> String {
        format!("{:.1},{:.1}", self.x(air), self.y(water))
    }
}

/// The curve as an SVG drawing of its own: band, curve, measured points, landmarks.
#[must_use]
pub fn svg(table: &CurveTable) -> String {
    let (air, water) = axes(table);
    let frame = Frame { air, water };
    // Writing into a String does not fail.
    let mut out = String::new();
    let _ = writeln!(
        out,
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" role="img" font-family="system-ui, sans-serif" font-size="13">"##
    );
    let _ = writeln!(out, "<title>Water against air of lift {}</title>", escaped(&table.lift));
    let _ = writeln!(out, r##"<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>"##);
    let _ = writeln!(
        out,
        r##"<text x="{LEFT}" y="24" font-size="16" fill="#1b2a33">Lift {}: water against air</text>"##,
        escaped(&table.lift)
    );
    grid(&mut out, &frame);
    band(&mut out, &frame, table);
    curve(&mut out, &frame, table);
    for (x, y, set_aside) in &table.points {
        point(&mut out, &frame, *x, *y, *set_aside);
    }
    landmarks(&mut out, &frame, table);
    legend(&mut out, table);
    out.push_str("</svg>\n");
    out
}

fn grid(out: &mut String, frame: &Frame) {
    let (left, right, top, bottom) = (LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM);
    for mark in frame.air.marks() {
        let x = frame.x(mark);
        let _ = writeln!(out, r##"<path d="M{x:.1} {top}V{bottom}" stroke="#e3e8eb"/>"##);
        let label = frame.air.label(mark);
        let _ = writeln!(
            out,
            r##"<text x="{x:.1}" y="{:.1}" text-anchor="middle" fill="#44545e">{label}</text>"##,
            bottom + 18.0
        );
    }
    for mark in frame.water.marks() {
        let y = frame.y(mark);
        let _ = writeln!(out, r##"<path d="M{left} {y:.1}H{right}" stroke="#e3e8eb"/>"##);
        let label = frame.water.label(mark);
        let _ = writeln!(
            out,
            r##"<text x="{:.1}" y="{:.1}" text-anchor="end" fill="#44545e">{label}</text>"##,
            left - 8.0,
            y + 4.0
        );
    }
    let _ = writeln!(
        out,
        r##"<path d="M{left} {top}V{bottom}H{right}" fill="none" stroke="#44545e"/>"##
    );
    let middle = 0.5 * (left + right);
    let _ = writeln!(
        out,
        r##"<text x="{middle:.1}" y="{:.1}" text-anchor="middle" fill="#1b2a33">air, L/min (100 kPa, 20 C)</text>"##,
        HEIGHT - 16.0
    );
    let middle = 0.5 * (top + bottom);
    let _ = writeln!(
        out,
        r##"<text x="18" y="{middle:.1}" text-anchor="middle" fill="#1b2a33" transform="rotate(-90 18 {middle:.1})">water, L/min</text>"##
    );
}

fn band(out: &mut String, frame: &Frame, table: &CurveTable) {
    let ends: Vec<(&CurveRow, f64, f64)> = table
        .rows
        .iter()
        .filter_map(|row| Some((row, row.low_l_min?, row.high_l_min?)))
        .collect();
    if ends.len() < 2 {
        return;
    }
    let upper = ends.iter().map(|(row, _, high)| frame.at(row.air_l_min, *high));
    let lower = ends.iter().rev().map(|(row, low, _)| frame.at(row.air_l_min, *low));
    let all: Vec<String> = upper.chain(lower).collect();
    let _ = writeln!(
        out,
        r##"<polygon points="{}" fill="#2a7f9e" fill-opacity="0.18"/>"##,
        all.join(" ")
    );
}

fn curve(out: &mut String, frame: &Frame, table: &CurveTable) {
    let all: Vec<String> = table
        .rows
        .iter()
        .map(|row| frame.at(row.air_l_min, row.water_l_min))
        .collect();
    let dashes = if table.calibrated {
        ""
    } else {
        r##" stroke-dasharray="7 4""##
    };
    let _ = writeln!(
        out,
        r##"<polyline points="{}" fill="none" stroke="#1d6a86" stroke-width="2.4"{dashes}/>"##,
        all.join(" ")
    );
}

fn point(out: &mut String, frame: &Frame, air: f64, water: f64, set_aside: bool) {
    let (x, y) = (frame.x(air), frame.y(water));
    let _ = if set_aside {
        writeln!(
            out,
            r##"<path d="M{:.1} {:.1}l10 10m0 -10l-10 10" stroke="#b3361b" stroke-width="2.2"/>"##,
            x - 5.0,
            y - 5.0
        )
    } else {
        writeln!(
            out,
            r##"<circle cx="{x:.1}" cy="{y:.1}" r="4.5" fill="#ffffff" stroke="#1b2a33" stroke-width="1.8"/>"##
        )
    };
}

fn landmarks(out: &mut String, frame: &Frame, table: &CurveTable) {
    for landmark in &table.landmarks {
        let (x, y) = (frame.x(landmark.at.air_l_min), frame.y(landmark.at.water_l_min));
        let _ = writeln!(
            out,
            r##"<rect x="{:.1}" y="{:.1}" width="8" height="8" fill="#c77700"/>"##,
            x - 4.0,
            y - 4.0
        );
        let near_right = x > WIDTH - 180.0;
        let (dx, dy, anchor) = match landmark.mark {
            Mark::Onset => (8.0, -10.0, "start"),
            Mark::BestEfficiency => (10.0, 20.0, "start"),
            Mark::Peak => (0.0, 24.0, if near_right { "end" } else { "middle" }),
        };
        let _ = writeln!(
            out,
            r##"<text x="{:.1}" y="{:.1}" text-anchor="{anchor}" fill="#7a4900" stroke="#ffffff" stroke-width="3" paint-order="stroke">{} at {:.1} L/min</text>"##,
            x + dx,
            y + dy,
            landmark.mark.words(),
            landmark.at.air_l_min
        );
    }
}

fn legend(out: &mut String, table: &CurveTable) {
    let mut words = vec![if table.calibrated {
        "line: calibrated curve"
    } else {
        "dashes: curve, not calibrated"
    }];
    if table.calibrated {
        words.push("shade: 90 % band");
    }
    if table.points.iter().any(|point| !point.2) {
        words.push("circles: measured");
    }
    if table.points.iter().any(|point| point.2) {
        words.push("crosses: set aside");
    }
    let _ = writeln!(
        out,
        r##"<text x="{LEFT}" y="44" font-size="12" fill="#44545e">{}</text>"##,
        words.join("; ")
    );
}

/// Text that may stand in XML.
pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
