//! Dimensions, list of parts and scale of the side view.

use super::canvas::{Canvas, Pen, SMALL};
use super::places::{BOTTOM, RECEIVER, RISER, SOURCE, TUBE, half_width};
use super::sheet::Sheet;

/// Where dimensions and their words stand.
const CHAIN: f64 = 404.0;
const WHOLE: f64 = 546.0;
/// The list of parts.
const LIST: f64 = 830.0;

pub(super) fn dimensions(canvas: &mut Canvas, sheet: &Sheet) {
    let mm = |metres: f64| format!("{:.0}", 1000.0 * metres);
    let half = half_width(canvas, sheet);
    for height in [sheet.inlet_m, sheet.low_level_m, sheet.outlet_m] {
        let y = canvas.y(height);
        canvas.line((RISER + half + 4.0, y), (CHAIN + 84.0, y), Pen::dashed("#c9a3a3", 0.6));
    }
    let mut chain = vec![
        (0.0, sheet.clearance_m, format!("{} clearance", mm(sheet.clearance_m))),
        (
            sheet.clearance_m,
            sheet.inlet_m,
            format!("{} foot", mm(sheet.inlet_m - sheet.clearance_m)),
        ),
        (
            sheet.inlet_m,
            sheet.low_level_m,
            format!("{} deep", mm(sheet.low_level_m - sheet.inlet_m)),
        ),
    ];
    if sheet.outlet_m - sheet.low_level_m > 1e-3 {
        chain.push((
            sheet.low_level_m,
            sheet.outlet_m,
            format!("{} lift", mm(sheet.outlet_m - sheet.low_level_m)),
        ));
    }
    canvas.heights(CHAIN, &chain, CHAIN + 11.0);
    let foot = canvas.y(sheet.clearance_m);
    canvas.line(
        (RISER + half + 4.0, foot),
        (WHOLE + 6.0, foot),
        Pen::dashed("#c9a3a3", 0.6),
    );
    let (bottom, end) = (canvas.y(sheet.clearance_m), canvas.y(sheet.outlet_m));
    canvas.heights(
        WHOLE,
        &[(sheet.clearance_m, sheet.outlet_m, String::new())],
        WHOLE + 11.0,
    );
    canvas.text(
        (WHOLE + 9.0, bottom + 0.2 * (end - bottom)),
        "start",
        SMALL,
        false,
        &format!("{} riser", mm(sheet.riser_m)),
    );
    let top = canvas.y(sheet.loop_m);
    let x = RECEIVER.1 - 40.0;
    canvas.line((RISER, top), (x + 8.0, top), Pen::dashed("#c9a3a3", 0.6));
    let highest = sheet.outlet_m.max(sheet.high_level_m);
    canvas.heights(x, &[(highest, sheet.loop_m, mm(sheet.loop_m - highest))], x + 10.0);
    let words = TUBE + 0.025 * canvas.scale + 10.0;
    if sheet.high_level_m - sheet.low_level_m > 1e-3 {
        let y = canvas.y(sheet.high_level_m);
        canvas.text(
            (words, y - 4.0),
            "start",
            12.0,
            false,
            &format!("high {}", mm(sheet.high_level_m)),
        );
    }
    canvas.text(
        (words, canvas.y(sheet.low_level_m) + 15.0),
        "start",
        12.0,
        false,
        &format!("level {}", mm(sheet.low_level_m)),
    );
    canvas.text(
        (RECEIVER.0 + 60.0, canvas.y(sheet.outlet_m) + 16.0),
        "start",
        12.0,
        false,
        &format!("at most {}", mm(sheet.outlet_m)),
    );
    let y = canvas.y(sheet.outlet_m) - 2.0 * half - 18.0;
    canvas.text(
        (RISER + half + 8.0, y),
        "start",
        SMALL,
        false,
        &format!("bore {:.1}", sheet.candidate.pipe.bore_mm),
    );
}

pub(super) fn list(canvas: &mut Canvas, sheet: &Sheet) {
    let candidate = &sheet.candidate;
    let parts: [(&str, String); 10] = [
        (
            "Riser",
            format!("{}, bore {:.1} mm; plumb", candidate.pipe, candidate.pipe.bore_mm),
        ),
        ("Air inlet", "ring of holes or sleeve around the pipe".to_owned()),
        (
            "Guard",
            format!("{:.0} cm2 open or more, can be lifted out", 1e4 * sheet.guard_m2),
        ),
        ("Outlet", "free end; receiving level at most at its invert".to_owned()),
        (
            "First metre",
            format!("metal: air comes {:.0} K warmer", sheet.blower_rise_k),
        ),
        ("Air valve", "stands open without power".to_owned()),
        ("Check valve", "high and dry; test each month".to_owned()),
        ("Drain cock", "at the lowest point of manifold and line".to_owned()),
        (
            "Air line",
            format!(
                "bore {:.0} mm, up to {:.0} mm above the floor",
                candidate.air_line.bore_mm,
                1000.0 * sheet.loop_m
            ),
        ),
        ("Stilling tube", "50 mm, hole 5 mm, vented level sensor".to_owned()),
    ];
    let mut y = 116.0;
    for (number, (name, words)) in (1_u32..).zip(&parts) {
        canvas.dot((LIST + 10.0, y - 4.5), 10.0, "#fff", Pen::new("#1b1b1b", 1.2));
        canvas.text((LIST + 10.0, y), "middle", 12.0, true, &number.to_string());
        canvas.text((LIST + 28.0, y), "start", SMALL, true, name);
        canvas.text((LIST + 28.0, y + 16.0), "start", SMALL, false, words);
        y += 43.0;
    }
    y += 6.0;
    canvas.text((LIST, y), "start", SMALL, true, "Beware");
    let mut cautions = vec![
        "Electricity beside water: residual-current devices,",
        "drip loops, blower and panel above all water.",
        "Fish live on this air: backup blower, pressure alarm.",
        "Relief valve and a bleed that no software shuts.",
        "Local codes and licensed trades come first.",
    ];
    let gas = format!(
        "Total gas pressure up to {:.0} % at the inlet:",
        sheet.gas_at_inlet_percent
    );
    if sheet.gas_warning() {
        cautions.insert(0, "above 110 % fish get gas bubble disease: measure.");
        cautions.insert(0, &gas);
    }
    for words in cautions {
        y += 18.0;
        canvas.text((LIST, y), "start", SMALL, false, words);
    }
    y += 26.0;
    canvas.text(
        (LIST, y),
        "start",
        12.0,
        false,
        "Clearance, foot, loop, guard, check valve, drain:",
    );
    canvas.text(
        (LIST, y + 16.0),
        "start",
        12.0,
        false,
        "common practice. Depth, lift, air: computed.",
    );
}

/// A rule of half a metre or so, for reading the scale from a print of any size.
pub(super) fn rule(canvas: &mut Canvas) {
    let metres = if canvas.scale > 300.0 { 0.2 } else { 0.5 };
    let (x, y) = (SOURCE.0, BOTTOM + 26.0);
    let long = metres * canvas.scale;
    canvas.line((x, y), (x + long, y), Pen::new("#1b1b1b", 1.4));
    for at in [0.0, 0.5, 1.0] {
        canvas.line(
            (x + at * long, y - 5.0),
            (x + at * long, y + 5.0),
            Pen::new("#1b1b1b", 1.2),
        );
    }
    canvas.text(
        (x + long + 10.0, y + 4.5),
        "start",
        12.0,
        false,
        &format!("{:.0} mm", 1000.0 * metres),
    );
}
