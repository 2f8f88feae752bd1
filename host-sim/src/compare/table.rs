//! The outcome as tables.

use super::contender::Contender;
use super::figures::{Figures, LiftFigures};
use super::in_short::in_short;
use super::run::{Comparison, Row};
use super::sentences::sentences;
use crate::output::{new_table, number, wrapped};
use comfy_table::{CellAlignment, Table};
use std::fmt::Write;

/// Everything for people.
#[must_use]
pub fn text(comparison: &Comparison) -> String {
    let mut text = format!(
        "{}: {:.0} h under six hands, {} (same place, same noise, same day for all)\n\n",
        comparison.scenario,
        comparison.hours,
        seeds(&comparison.seeds)
    );
    for line in in_short(comparison) {
        text.push_str(&wrapped(&line, 2));
    }
    text.push('\n');
    for table in [main(comparison), lifts(comparison)] {
        for line in table.lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text.push('\n');
    }
    for contender in Contender::ALL {
        let mut line = format!("{}: {}", contender.name(), contender.about());
        if let Some(filter_s) = comparison.row(contender).and_then(|row| row.filter_s) {
            let _ = write!(line, "; the best of three time constants was {filter_s:.0} s");
        }
        text.push_str(&wrapped(&format!("{line}."), 2));
    }
    text.push('\n');
    text.push_str(&wrapped(NOTE, 0));
    text.push_str("\nAgainst the goals of this project:\n");
    for line in sentences(comparison) {
        text.push_str(&wrapped(&line, 2));
    }
    text
}

const NOTE: &str = "Errors are of the water truly delivered against the target as the settings let it ramp, as a root mean \
    square, % of the target. \"After changes\" is the half hour after every change of a target, of service or of the place; \
    \"rest\" is all else but the first half hour. \"Own\" leaves out the error that stands all day because an outlet was told \
    wrongly: nobody without a flow meter can see it.";

fn seeds(seeds: &[u64]) -> String {
    match seeds {
        [one] => format!("seed {one}"),
        [first, .., last] => format!("seeds {first} to {last}"),
        [] => "no seed".to_owned(),
    }
}

/// One row a contender.
#[must_use]
pub(super) fn main_cells(row: &Row) -> Vec<String> {
    let rms = |of: fn(&LiftFigures) -> Option<f64>| number(row.rms(|run| run.over_lifts(of)), 2);
    vec![
        row.contender.name().to_owned(),
        rms(|lift| lift.after_change.rms_percent()),
        rms(LiftFigures::after_change_own_percent),
        rms(|lift| lift.rest.rms_percent()),
        rms(LiftFigures::rest_own_percent),
        number(row.worst(Figures::worst_mean_percent), 1),
        format!("{:.1}", row.mean(Figures::in_band_percent)),
        format!("{:.3}", row.mean(Figures::air_per_water)),
        format!("{:.2}", row.mean(|run| run.energy_kwh)),
        format!("{:.1}", row.mean(Figures::travel_strokes)),
        format!("{:.1}", row.mean(|run| run.spilled_l)),
        format!("{:.0}", row.mean(|run| run.dry_s / 60.0)),
        format!(
            "{:.1}",
            row.mean(|run| f64::from(u32::try_from(run.alarms).unwrap_or(u32::MAX)))
        ),
    ]
}

/// Headings of [`main_cells`].
pub(super) const MAIN: [&str; 13] = [
    "who",
    "after\nchanges\n%",
    "own\n\n%",
    "rest\n\n%",
    "own\n\n%",
    "worst\nmean\n%",
    "within\n5 %\n% of time",
    "air a\nwater\nL/L",
    "blower\n\nkWh",
    "valves\n\nstrokes",
    "spilled\n\nL",
    "dry\n\nmin",
    "alarms\n\n",
];

fn main(comparison: &Comparison) -> Table {
    let mut table = table(&MAIN);
    for row in &comparison.rows {
        table.add_row(main_cells(row));
    }
    table
}

/// One row a lift and contender.
fn lifts(comparison: &Comparison) -> Table {
    let mut table = table(&[
        "lift",
        "who",
        "after\nchanges %",
        "own\n%",
        "rest\n%",
        "own\n%",
        "mean\n%",
        "strokes",
    ]);
    for (index, name) in comparison.lifts.iter().enumerate() {
        for row in &comparison.rows {
            table.add_row(lift_cells(name, index, row));
        }
    }
    table
}

fn lift_cells(name: &str, index: usize, row: &Row) -> Vec<String> {
    let of = |figure: fn(&LiftFigures) -> Option<f64>| move |run: &Figures| run.lifts.get(index).and_then(figure);
    let rms = |figure: fn(&LiftFigures) -> Option<f64>| number(row.rms(of(figure)), 2);
    let mean = |run: &Figures| {
        run.lifts
            .get(index)
            .and_then(|lift| lift.all().mean_percent())
            .map(f64::abs)
    };
    vec![
        name.to_owned(),
        row.contender.name().to_owned(),
        rms(|lift| lift.after_change.rms_percent()),
        rms(LiftFigures::after_change_own_percent),
        rms(|lift| lift.rest.rms_percent()),
        rms(LiftFigures::rest_own_percent),
        number(row.worst(mean), 1),
        format!(
            "{:.1}",
            row.mean(|run| run.lifts.get(index).map_or(0.0, |lift| lift.travel_strokes))
        ),
    ]
}

/// As [`new_table`], with the names of the contenders to the left too.
fn table(headings: &[&str]) -> Table {
    let mut table = new_table(headings);
    for (column, heading) in table.column_iter_mut().zip(headings) {
        if *heading == "who" {
            column.set_cell_alignment(CellAlignment::Left);
        }
    }
    table
}
