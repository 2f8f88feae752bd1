//! The curve in a terminal: a plot in plain characters and a table.

use super::chart::Axis;
use super::table::{CurveRow, CurveTable, Mark};
use std::fmt::Write;

const WIDTH: usize = 76;
const HEIGHT: usize = 18;

/// The curve drawn in characters: `*` curve, `:` 90 % band, `o` measured, `x` set aside, `B` best efficiency, `P` peak.
#[must_use]
pub fn plot(table: &CurveTable) -> String {
    let (air, water) = axes(table);
    let mut grid = vec![vec![' '; WIDTH]; HEIGHT];
    let column = |x: f64| cell(air.share(x), WIDTH);
    let row = |y: f64| HEIGHT - 1 - cell(water.share(y), HEIGHT);
    for place in 0..WIDTH {
        #[allow(clippy::cast_precision_loss)]
        let x = air.end * place as f64 / (WIDTH - 1) as f64;
        let Some(at) = between(&table.rows, x) else { continue };
        if let (Some(low), Some(high)) = (at.low_l_min, at.high_l_min) {
            for line in &mut grid[row(high)..=row(low)] {
                line[place] = ':';
            }
        }
        grid[row(at.water_l_min)][place] = '*';
    }
    for landmark in &table.landmarks {
        let sign = match landmark.mark {
            Mark::Onset => continue,
            Mark::BestEfficiency => 'B',
            Mark::Peak => 'P',
        };
        grid[row(landmark.at.water_l_min)][column(landmark.at.air_l_min)] = sign;
    }
    for (x, y, set_aside) in &table.points {
        grid[row(*y)][column(*x)] = if *set_aside { 'x' } else { 'o' };
    }
    let marks: Vec<(usize, String)> = water.marks().map(|mark| (row(mark), water.label(mark))).collect();
    let mut text = String::from("water L/min\n");
    for (place, line) in grid.iter().enumerate() {
        let label = marks.iter().find(|(at, _)| *at == place).map_or("", |(_, label)| label);
        let line: String = line.iter().collect();
        let _ = writeln!(text, "{label:>7} |{}", line.trim_end());
    }
    let _ = writeln!(text, "{:>7} +{}", "", "-".repeat(WIDTH));
    let mut below = vec![' '; WIDTH + 6];
    for mark in air.marks() {
        let at = column(mark);
        for (place, sign) in air.label(mark).chars().enumerate() {
            if let Some(cell) = below.get_mut(at + place) {
                *cell = sign;
            }
        }
    }
    let below: String = below.iter().collect();
    let _ = writeln!(text, "{:>7}  {}", "", below.trim_end());
    let _ = writeln!(text, "{:>7}  air L/min (100 kPa, 20 C)", "");
    let mut signs = String::from("* curve");
    for (sign, there) in [
        (", : 90 % band", table.calibrated),
        (
            ", B best efficiency",
            table
                .landmarks
                .iter()
                .any(|landmark| landmark.mark == Mark::BestEfficiency),
        ),
        (", P peak", true),
        (", o measured", table.points.iter().any(|point| !point.2)),
        (", x set aside", table.points.iter().any(|point| point.2)),
    ] {
        if there {
            signs.push_str(sign);
        }
    }
    let _ = writeln!(text, "{:>7}  {signs}", "");
    text
}

/// The whole curve for people: heading, plot, table.
#[must_use]
pub fn text(table: &CurveTable) -> String {
    let mut text = heading(table);
    text.push('\n');
    text.push_str(&plot(table));
    let _ = write!(
        text,
        "\n{:>9} {:>9} {:>17} {:>8} {:>6} {:>8}\n{:>9} {:>9} {:>17} {:>8} {:>6} {:>8}\n",
        "air",
        "water",
        "90 % band",
        "air per",
        "effi-",
        "more per",
        "L/min",
        "L/min",
        "L/min",
        "water",
        "ciency",
        "more air"
    );
    let mut lines: Vec<(CurveRow, &str)> = table.rows.iter().step_by(5).map(|row| (*row, "")).collect();
    lines.extend(
        table
            .landmarks
            .iter()
            .map(|landmark| (landmark.at, landmark.mark.words())),
    );
    lines.sort_by(|a, b| a.0.air_l_min.total_cmp(&b.0.air_l_min));
    for (row, mark) in lines {
        let band = match (row.low_l_min, row.high_l_min) {
            (Some(low), Some(high)) => format!("{low:.1} to {high:.1}"),
            _ => "-".to_owned(),
        };
        let ratio = row
            .gas_to_water
            .map_or_else(|| "-".to_owned(), |ratio| format!("{ratio:.2}"));
        let share = row
            .efficiency
            .map_or_else(|| "-".to_owned(), |share| format!("{:.0} %", 100.0 * share));
        let line = format!(
            "{:>9.1} {:>9.1} {band:>17} {ratio:>8} {share:>6} {:>8}  {mark}",
            row.air_l_min,
            row.water_l_min,
            two_places(row.slope)
        );
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text
}

/// A number to two places, without a sign before nothing.
pub(super) fn two_places(value: f64) -> String {
    format!("{:.2}", if value.abs() < 0.005 { 0.0 } else { value })
}

/// What the curve is of, in one or two lines.
pub(super) fn heading(table: &CurveTable) -> String {
    let mut text = format!(
        "Lift \"{}\": source at {:.0} mm, air inlet {:.0} mm under it, water raised by {:.0} mm\n",
        table.lift,
        1000.0 * table.levels.source_m,
        1000.0 * table.submergence_m,
        1000.0 * table.static_lift_m
    );
    match table.measured_air_l_min {
        Some((low, high)) => {
            let _ = writeln!(
                text,
                "Calibrated on points from {low:.1} to {high:.1} L/min of air; outside them the band widens."
            );
        }
        None => {
            text.push_str("Not calibrated: a lift as built is 10 to 50 % off this. Measure it and run calibrate.\n")
        }
    }
    if !table.landmarks.iter().any(|landmark| landmark.mark == Mark::Peak) {
        text.push_str("No air can raise water so high from this depth.\n");
    }
    text
}

/// Axes that hold everything drawn.
pub(super) fn axes(table: &CurveTable) -> (Axis, Axis) {
    let airs = table
        .rows
        .iter()
        .map(|row| row.air_l_min)
        .chain(table.points.iter().map(|point| point.0));
    let waters = table
        .rows
        .iter()
        .map(|row| row.high_l_min.unwrap_or(row.water_l_min).min(1.6 * row.water_l_min));
    let most = |values: &mut dyn Iterator<Item = f64>| values.fold(0.0f64, f64::max);
    let air = most(&mut airs.into_iter());
    let water = most(&mut waters.chain(table.points.iter().map(|point| point.1)));
    (Axis::holding(air, 6.0), Axis::holding(water, 5.0))
}

/// The curve at an air between two rows, by straight lines; `None` beyond the last.
fn between(rows: &[CurveRow], air_l_min: f64) -> Option<CurveRow> {
    let pair = rows
        .windows(2)
        .find(|pair| pair[0].air_l_min <= air_l_min && air_l_min <= pair[1].air_l_min)?;
    let share = (air_l_min - pair[0].air_l_min) / (pair[1].air_l_min - pair[0].air_l_min).max(1.0e-12);
    let mix = |a: f64, b: f64| a + share * (b - a);
    let maybe = |a: Option<f64>, b: Option<f64>| Some(mix(a?, b?));
    Some(CurveRow {
        air_l_min,
        water_l_min: mix(pair[0].water_l_min, pair[1].water_l_min),
        low_l_min: maybe(pair[0].low_l_min, pair[1].low_l_min),
        high_l_min: maybe(pair[0].high_l_min, pair[1].high_l_min),
        ..pair[0]
    })
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss
)]
fn cell(share: f64, cells: usize) -> usize {
    ((share * (cells - 1) as f64).round() as usize).min(cells - 1)
}
