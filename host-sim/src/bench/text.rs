//! The figures as tables and sentences for people.

use super::{EstimatorRow, PlantBench, PlantRow, PlantTime, SpeedRow};
use crate::output::{new_table, wrapped};
use comfy_table::Table;
use std::fmt::Write;

/// How much quicker than scipy and than the Rust crate the plant is to be.
const GOALS: (f64, f64) = (300.0, 2.0);
/// How near the bound the estimate is to come.
const BOUND_GOAL: f64 = 1.05;

/// Everything for people.
#[must_use]
pub fn text(plant: &PlantBench, speed: &[SpeedRow], estimator: &[EstimatorRow]) -> String {
    let mut text = format!(
        "The plant of the default scenario, {} s, valves as the controller moves them\n\n",
        plant.seconds
    );
    section(&mut text, &plant_table(plant, |row| &row.moved));
    let hours = f64::from(plant.seconds) / 60.0;
    let _ = writeln!(text, "The same left alone for {hours:.1} h, valves still\n");
    section(&mut text, &plant_table(plant, |row| &row.still));
    for line in plant_sentences(plant) {
        text.push_str(&wrapped(&line, 2));
    }
    text.push_str("\nOne step of the controller\n\n");
    section(&mut text, &speed_table(speed));
    text.push_str(&wrapped(
        "PI controllers of the pid crate are given the flow that the filter has to find; they guard nothing. \
         Instructions on a microcontroller: scripts/firmware-figures.",
        2,
    ));
    text.push_str("\nFlow read from a level, against the best that any linear filter can do\n\n");
    section(&mut text, &estimator_table(estimator));
    let worst = estimator.iter().map(EstimatorRow::over_bound).fold(0.0, f64::max);
    text.push_str(&wrapped(
        &format!(
            "Worst over the best: {worst:.3} (goal: at most {BOUND_GOAL}: {}). Short runs scatter.",
            reached(worst <= BOUND_GOAL)
        ),
        2,
    ));
    text
}

fn section(text: &mut String, table: &Table) {
    for line in table.lines() {
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text.push('\n');
}

fn reached(yes: bool) -> &'static str {
    if yes { "reached" } else { "not reached" }
}

/// How many times as long as ours.
fn times(other: &PlantTime, ours: &PlantTime) -> f64 {
    other.us_per_s / ours.us_per_s
}

/// One situation.
fn plant_table(plant: &PlantBench, of: fn(&PlantRow) -> &PlantTime) -> Table {
    let mut table = new_table(&[
        "who",
        "us a\nsimulated s",
        "times\nours",
        "level off by\nmm",
        "solved\ntimes a s",
        "\nwith",
    ]);
    for row in [Some(&plant.ours), Some(&plant.ode), plant.scipy.as_ref().ok()]
        .into_iter()
        .flatten()
    {
        let time = of(row);
        table.add_row([
            row.who.clone(),
            significant(time.us_per_s),
            significant(times(time, of(&plant.ours))),
            format!("{:.3}", time.error_mm),
            significant(time.solves_per_s),
            time.setting.clone(),
        ]);
    }
    table
}

/// Two digits, and no more places than they need.
fn significant(value: f64) -> String {
    match value {
        value if value >= 10.0 => format!("{value:.0}"),
        value if value >= 1.0 => format!("{value:.1}"),
        value => format!("{value:.2}"),
    }
}

fn plant_sentences(plant: &PlantBench) -> Vec<String> {
    let mut lines = vec![
        "The quickest of several rounds. The others have the loosest tolerance of 1e-2, 1e-3 ... at which no level is further \
         off than ours; off by: from the answer at tolerance 1e-10."
            .to_owned(),
    ];
    let mut tell = |who: &str, row: &PlantRow, goal: f64| {
        let (moved, still) = (
            times(&row.moved, &plant.ours.moved),
            times(&row.still, &plant.ours.still),
        );
        lines.push(format!(
            "Against {who}: {} times as fast with valves moved (goal: at least {goal}: {}), {} times with valves still ({}).",
            significant(moved),
            reached(moved >= goal),
            significant(still),
            reached(still >= goal)
        ));
    };
    tell("ode_solvers", &plant.ode, GOALS.1);
    match &plant.scipy {
        Ok(row) => tell("scipy", row, GOALS.0),
        Err(why) => lines.push(format!(
            "scipy was left out: {why}. For that line, install Python 3 with scipy (pip install scipy) and run this again."
        )),
    }
    lines.push(
        "Why: under the controller a valve may move every second, so a general integrator must begin anew every second and \
         works out the whole installation several times in it; this plant does so once. Left alone with its valves still, \
         the place comes to rest, and an integrator that chooses its step takes minutes at a time where this plant goes on by \
         the second. No command of this program simulates valves that stand still for long, so it has no longer step."
            .to_owned(),
    );
    lines
}

fn speed_table(rows: &[SpeedRow]) -> Table {
    let mut table = new_table(&["what", "us a step"]);
    for row in rows {
        table.add_row([row.what.clone(), format!("{:.2}", 1e-3 * row.step_ns)]);
    }
    table
}

fn estimator_table(rows: &[EstimatorRow]) -> Table {
    let mut table = new_table(&[
        "flow read through",
        "best\n% of flow",
        "ours\n% of flow",
        "ours\nover best",
        "outlet 2 % off\n% of flow",
    ]);
    for row in rows {
        table.add_row([
            row.outlet.to_owned(),
            format!("{:.3}", row.bound_percent),
            format!("{:.3}", row.rms_percent),
            format!("{:.3}", row.over_bound()),
            format!("{:.3}", row.told_wrongly_percent),
        ]);
    }
    table
}
