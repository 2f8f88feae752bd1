//! The outcome as tables and sentences.

use super::contender::Contender;
use super::figures::{Figures, LiftFigures};
use super::run::{Comparison, Row};
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
    text.push('\n');
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

/// What the figures say, one thing a sentence.
#[must_use]
pub fn sentences(comparison: &Comparison) -> Vec<String> {
    let (Some(own), Some(pi), Some(filter), Some(hand), Some(knowing)) = (
        comparison.row(Contender::Risertrim),
        comparison.row(Contender::Pi),
        comparison.row(Contender::PiOnFilter),
        comparison.row(Contender::HandOnce),
        comparison.row(Contender::Knowing),
    ) else {
        return Vec::new();
    };
    let over = |row: &Row, of: fn(&LiftFigures) -> Option<f64>| row.rms(|run| run.over_lifts(of));
    let ratio = |other: &Row, of: fn(&LiftFigures) -> Option<f64>| {
        Some(over(own, of)? / over(other, of)?).filter(|ratio| ratio.is_finite())
    };
    let mut lines = Vec::new();
    let mut tell = |what: &str, ratio: Option<f64>, goal: f64| {
        if let Some(ratio) = ratio {
            let kept = if ratio <= goal { "reached" } else { "not reached" };
            lines.push(format!("{what}: {ratio:.2} (goal: at most {goal}: {kept})."));
        }
    };
    let after: fn(&LiftFigures) -> Option<f64> = |lift| lift.after_change.rms_percent();
    let after_own: fn(&LiftFigures) -> Option<f64> = LiftFigures::after_change_own_percent;
    let rest_own: fn(&LiftFigures) -> Option<f64> = LiftFigures::rest_own_percent;
    tell(
        "After changes, error of risertrim over that of PI",
        ratio(pi, after),
        0.6,
    );
    tell(
        "The same without what the outlets told wrongly",
        ratio(pi, after_own),
        0.6,
    );
    tell(
        "The same against PI on risertrim's filter",
        ratio(filter, after_own),
        1.0,
    );
    let rest = (0..comparison.lifts.len()).filter_map(|index| {
        let of = |row: &Row| row.rms(|run| run.lifts.get(index).and_then(|lift| lift.rest.rms_percent()));
        Some((of(own)? / of(pi)?, index))
    });
    if let Some((ratio, index)) = rest.max_by(|a, b| a.0.total_cmp(&b.0)) {
        tell(
            &format!(
                "In the rest, error over that of PI, worst lift ({})",
                comparison.lifts[index]
            ),
            Some(ratio),
            1.0,
        );
    }
    tell(
        "The same over all lifts, without what the outlets told wrongly",
        ratio(pi, rest_own),
        1.0,
    );
    let travel = |row: &Row| row.mean(Figures::travel_strokes);
    tell("Way of the valves over that of PI", Some(travel(own) / travel(pi)), 0.7);
    let all: fn(&LiftFigures) -> Option<f64> = |lift| lift.after_change.with(&lift.rest).rms_percent();
    tell("Over all, error over that of one trim by hand", ratio(hand, all), 0.25);
    tell(
        "Air for a litre of water over that of one trim by hand (whose lifts deliver other flows)",
        Some(own.mean(Figures::air_per_water) / hand.mean(Figures::air_per_water)),
        1.0,
    );
    if let (Some(own), Some(pi)) = (
        own.worst(Figures::worst_mean_percent),
        pi.worst(Figures::worst_mean_percent),
    ) {
        lines.push(format!(
            "Furthest mean of a lift from its target over a whole run: {own:.1} % under risertrim, {pi:.1} % under PI."
        ));
    }
    lines.extend(stops(own, pi));
    if let (Some(own), Some(knowing)) = (over(own, all), over(knowing, all)) {
        let more = own - knowing;
        let kept = if more <= 2.5 { "reached" } else { "not reached" };
        lines.push(format!(
            "Error above that of the loop that knows all: {more:.2} % of the target (goal: at most 2.5: {kept})."
        ));
    }
    lines
}

/// What the stops to measure cost, where there are any.
fn stops(own: &Row, pi: &Row) -> Option<String> {
    let seconds = |of: fn(&LiftFigures) -> f64| own.mean(|run| run.lifts.iter().map(of).sum());
    let counted_s = seconds(|lift| lift.after_change.with(&lift.rest).counted_s);
    let between_s = seconds(|lift| lift.between_stops.counted_s);
    if between_s >= counted_s {
        return None;
    }
    let between = |row: &Row| row.rms(|run| run.over_lifts(|lift| lift.between_stops.rms_percent()));
    Some(format!(
        "Risertrim stops lifts that share a tank for minutes to tell them apart, which nobody else does: {:.1} % of the lifts' time, with three minutes after each. In the rest of the time its error is {:.2} %, that of PI {:.2} %.",
        100.0 * (1.0 - between_s / counted_s),
        between(own)?,
        between(pi)?
    ))
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
