//! The whole sweep in figures and words.

use super::rank::spearman;
use super::row::{Figure, Row};
use super::unknowns::{self, KINDS};
use crate::output::{new_table, wrapped};
use crate::scenario::Scenario;
use comfy_table::CellAlignment;
use serde::Serialize;
use std::fmt::Write;

/// A mean within this of the target is what a sweep asks for, %.
const MEAN_WITHIN_PERCENT: f64 = 4.0;

/// How one figure spreads over the seeds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// Name of its column.
    pub figure: &'static str,
    /// What it is, for people.
    #[serde(skip)]
    pub words: &'static str,
    /// A twentieth of the seeds lies below.
    pub p5: f64,
    /// Half of the seeds lies below.
    pub median: f64,
    /// A twentieth of the seeds lies above.
    pub p95: f64,
    /// The largest.
    pub worst: f64,
    /// The seed that gives the largest again.
    pub worst_seed: u64,
}

/// How much one kind of unknown matters.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Matters {
    /// What kind.
    pub kind: &'static str,
    /// The unknown of this kind and the lift whose mean error it goes with most.
    pub most: String,
    /// Rank correlation of the two.
    pub with_mean_error: f64,
    /// Largest rank correlation of one of this kind with the energy of the blower.
    pub with_energy: f64,
    /// Largest rank correlation of one of this kind with the way of the valves.
    pub with_travel: f64,
}

/// The whole sweep.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Seeds.
    pub seeds: usize,
    /// Share of all lifts of all seeds whose mean is within 4 % of the target, %.
    pub lifts_within_percent: f64,
    /// Each figure.
    pub spreads: Vec<Spread>,
    /// Each kind of unknown, the one that matters most for the mean errors first.
    pub matters: Vec<Matters>,
    /// A rank correlation beyond this would come by chance once in twenty.
    pub by_chance: f64,
}

/// Sums up the rows of a sweep of this scenario. `None` without rows.
#[must_use]
#[allow(clippy::cast_precision_loss)] // counts of seeds
pub fn summarise(scenario: &Scenario, rows: &[Row]) -> Option<Summary> {
    let spread = |(index, figure): (usize, &Figure)| {
        let mut all: Vec<(f64, u64)> = rows
            .iter()
            .filter_map(|row| Some((*row.figures.get(index)?, row.seed)))
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (worst, worst_seed) = *all.last()?;
        Some(Spread {
            figure: figure.column(),
            words: figure.words(),
            p5: quantile(&all, 0.05),
            median: quantile(&all, 0.5),
            p95: quantile(&all, 0.95),
            worst,
            worst_seed,
        })
    };
    let means = rows
        .iter()
        .flat_map(|row| &row.means_percent)
        .filter(|mean| mean.is_finite());
    let within = means.clone().filter(|mean| mean.abs() <= MEAN_WITHIN_PERCENT).count();
    let spreads: Option<Vec<Spread>> = Figure::ALL.iter().enumerate().map(spread).collect();
    Some(Summary {
        seeds: rows.len(),
        lifts_within_percent: 100.0 * within as f64 / means.count().max(1) as f64,
        spreads: spreads?,
        matters: matters(scenario, rows),
        // Of no correlation, the ranks of n seeds give one of deviation 1/sqrt(n - 1).
        by_chance: 1.96 / (rows.len().max(2) as f64 - 1.0).sqrt(),
    })
}

/// Value below which a share of sorted values lies, straight between its neighbours.
#[allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss
)]
fn quantile(sorted: &[(f64, u64)], share: f64) -> f64 {
    let place = share * (sorted.len() - 1) as f64;
    let low = sorted[place as usize].0;
    let high = sorted[(place as usize + 1).min(sorted.len() - 1)].0;
    low + (high - low) * place.fract()
}

fn matters(scenario: &Scenario, rows: &[Row]) -> Vec<Matters> {
    let names = unknowns::names(scenario);
    let column =
        |of: &dyn Fn(&Row) -> Option<f64>| -> Vec<f64> { rows.iter().map(|row| of(row).unwrap_or(f64::NAN)).collect() };
    let figure = |wanted: Figure| {
        let index = Figure::ALL.iter().position(|figure| *figure == wanted).unwrap_or(0);
        column(&|row| row.figures.get(index).copied())
    };
    let (energy, travel) = (figure(Figure::Energy), figure(Figure::Travel));
    let means: Vec<Vec<f64>> = (0..scenario.lift_names.len())
        .map(|lift| column(&|row| row.means_percent.get(lift).copied()))
        .collect();
    let mut all = Vec::new();
    for (kind, words) in KINDS.iter().enumerate() {
        let mut own: Option<Matters> = None;
        for (index, (_, name)) in names.iter().enumerate().filter(|(_, (of, _))| *of == kind) {
            let drawn = column(&|row| row.unknowns.get(index).copied());
            let own = own.get_or_insert(Matters {
                kind: words,
                most: String::new(),
                with_mean_error: 0.0,
                with_energy: 0.0,
                with_travel: 0.0,
            });
            for (mean, lift) in means.iter().zip(&scenario.lift_names) {
                let rho = spearman(&drawn, mean).unwrap_or(0.0);
                if rho.abs() > own.with_mean_error.abs() {
                    own.with_mean_error = rho;
                    own.most = format!("{name} with {lift}");
                }
            }
            for (slot, figure) in [(&mut own.with_energy, &energy), (&mut own.with_travel, &travel)] {
                let rho = spearman(&drawn, figure).unwrap_or(0.0);
                if rho.abs() > slot.abs() {
                    *slot = rho;
                }
            }
        }
        all.extend(own);
    }
    all.sort_by(|a, b| b.with_mean_error.abs().total_cmp(&a.with_mean_error.abs()));
    all
}

/// The whole for people. `name` is how the scenario was asked for.
#[must_use]
pub fn text(scenario: &Scenario, name: &str, hours: f64, summary: &Summary) -> String {
    let mut text = format!("{}: {} true places, {hours} h each\n\n", scenario.name, summary.seeds);
    let mut spreads = new_table(&["figure", "5 %\nbelow", "median", "5 %\nabove", "worst", "its\nseed"]);
    for spread in &summary.spreads {
        let number = |value: f64| {
            if value.abs() < 100.0 {
                format!("{value:.2}")
            } else {
                format!("{value:.0}")
            }
        };
        spreads.add_row([
            spread.words.to_owned(),
            number(spread.p5),
            number(spread.median),
            number(spread.p95),
            number(spread.worst),
            spread.worst_seed.to_string(),
        ]);
    }
    let mut matters = new_table(&[
        "what is not known",
        "with mean\nerrors",
        "with\nenergy",
        "with valve\ntravel",
        "most",
    ]);
    if let Some(column) = matters.column_mut(4) {
        column.set_cell_alignment(CellAlignment::Left);
    }
    for kind in &summary.matters {
        matters.add_row([
            kind.kind.to_owned(),
            format!("{:+.2}", kind.with_mean_error),
            format!("{:+.2}", kind.with_energy),
            format!("{:+.2}", kind.with_travel),
            kind.most.clone(),
        ]);
    }
    for table in [spreads, matters] {
        for line in table.lines() {
            let _ = writeln!(text, "{}", line.trim_end());
        }
        text.push('\n');
    }
    text.push_str(&wrapped(
        &format!(
            "The second table is the largest rank correlation (Spearman) of one of its kind: 1 or -1 decides alone, beyond {:.2} \
             is more than chance for this many seeds.",
            summary.by_chance
        ),
        0,
    ));
    text.push_str(&wrapped(
        &format!(
            "{:.1} % of all lifts had their mean within {MEAN_WITHIN_PERCENT:.0} % of the target.",
            summary.lifts_within_percent
        ),
        0,
    ));
    if let Some(worst) = summary.spreads.first() {
        text.push_str(&wrapped(
            &format!(
                "Look at the worst again with: risertrim simulate {name} --hours {hours} --seed {}",
                worst.worst_seed
            ),
            2,
        ));
    }
    text
}
