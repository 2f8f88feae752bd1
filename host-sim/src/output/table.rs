//! The outcome as tables for people, without colours and at most [`WIDTH`] columns wide.

use super::verdict::closing;
use super::words::{WIDTH, clock, duration, wrapped};
use crate::names::when_to_come;
use crate::simulate::{AlarmOutcome, CommissionedOutcome, LiftOutcome, Outcome, SharedOutcome, TankOutcome};
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use std::fmt::Write;

/// Alarms listed one by one.
const ALARMS_LISTED: usize = 12;

/// The whole outcome for people: lifts, tanks, shared tanks, alarms, air, and the closing sentences.
#[must_use]
pub fn tables(outcome: &Outcome) -> String {
    let mut text = format!("{}, seed {}\n\n", outcome.scenario, outcome.seed);
    let mut section = |table: Table| {
        for line in table.lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text.push('\n');
    };
    section(lifts(&outcome.lifts));
    section(tanks(&outcome.tanks));
    if !outcome.shared.is_empty() {
        section(shared(&outcome.shared));
    }
    if !outcome.commissioned.is_empty() {
        section(commissioned(&outcome.commissioned));
    }
    if !outcome.alarms.is_empty() {
        section(alarms(&outcome.first_alarms(ALARMS_LISTED)));
    }
    let more = outcome.alarms.len().saturating_sub(ALARMS_LISTED);
    let _ = match (outcome.alarms.len(), more) {
        (0, _) => writeln!(text, "No alarms."),
        (_, 0) => Ok(()),
        _ => writeln!(
            text,
            "{more} more alarms, less urgent or over: --json and --csv list them all, with what each means and what to do."
        ),
    };
    let _ = writeln!(
        text,
        "Air: {:.1} m3 (100 kPa, 20 C), blower {:.2} kWh.",
        outcome.air.free_air_m3, outcome.air.blower_energy_kwh
    );
    let _ = writeln!(
        text,
        "Flow figures count {:.0} % of the lifts' time: in service, automatic, settled, not being tested.\n",
        100.0 * outcome.counted_share
    );
    for trial in &outcome.commissioned {
        for (what, why) in refusals(trial) {
            let line = format!("Commissioning {}, {what} refused: {why}.", trial.lift);
            text.push_str(&wrapped(&line, 0));
        }
        if let Some(outlet) = trial.outlet.as_ref().filter(|outlet| outlet.too_small) {
            let line = format!(
                "Commissioning {}: at the upper warning level of {} its outlet carries {:.0} L/min, less than the target: \
                 clean or enlarge the outlet, lower the target, or raise the level where the rim allows.",
                trial.lift, trial.tank, outlet.carries_l_min
            );
            text.push_str(&wrapped(&line, 0));
        }
    }
    for line in closing(outcome) {
        text.push_str(&wrapped(&line, 0));
    }
    text
}

fn lifts(lifts: &[LiftOutcome]) -> Table {
    let mut table = new_table(&[
        "lift",
        "target\nL/min",
        "delivered\nL/min",
        "estimated\nL/min",
        "mean\nerror %",
        "RMS\nerror %",
        "estimate\nRMS %",
        "settles\nin",
        "air\nL/min",
        "valve\nstrokes",
        "delivery\nfactor",
    ]);
    for lift in lifts {
        let late = if lift.not_settled { ">" } else { "" };
        let settle = lift
            .settle_s
            .map_or_else(|| "-".to_owned(), |seconds| format!("{late}{}", duration(seconds)));
        table.add_row([
            lift.name.clone(),
            number(lift.target_l_min, 1),
            number(lift.delivered_mean_l_min, 1),
            number(lift.estimated_mean_l_min, 1),
            lift.mean_error_percent()
                .map_or_else(|| "-".to_owned(), |percent| format!("{percent:+.1}")),
            number(lift.delivered_rms_error_percent, 1),
            number(lift.estimate_rms_error_percent, 1),
            settle,
            format!("{:.1}", lift.air_mean_l_min),
            format!("{:.1}", lift.valve_travel_strokes),
            format!("{:.2}", lift.delivery_factor),
        ]);
    }
    table
}

fn tanks(tanks: &[TankOutcome]) -> Table {
    let mut table = new_table(&[
        "tank",
        "lowest\nmm",
        "highest\nmm",
        "band\nmm",
        "spilled\nL",
        "dry",
        "fish\nwithout air",
    ]);
    for tank in tanks {
        table.add_row([
            tank.name.clone(),
            format!("{:.0}", 1000.0 * tank.level_min_m),
            format!("{:.0}", 1000.0 * tank.level_max_m),
            format!("{:.0}", 1000.0 * (tank.level_max_m - tank.level_min_m)),
            format!("{:.1}", tank.spilled_l),
            duration(tank.dry_s),
            if tank.fish {
                duration(tank.fish_without_air_s)
            } else {
                "no fish".to_owned()
            },
        ]);
    }
    table
}

fn shared(shared: &[SharedOutcome]) -> Table {
    let mut table = new_table(&[
        "lifts into one tank",
        "target of the sum\nL/min",
        "delivered\nL/min",
        "error %",
    ]);
    for sum in shared {
        let off = match (sum.sum_target_l_min, sum.sum_delivered_mean_l_min) {
            (Some(target), Some(delivered)) if target > 0.0 => format!("{:+.1}", 100.0 * (delivered / target - 1.0)),
            _ => "-".to_owned(),
        };
        table.add_row([
            format!("{} <- {}", sum.tank, sum.lifts.join(" + ")),
            number(sum.sum_target_l_min, 1),
            number(sum.sum_delivered_mean_l_min, 1),
            off,
        ]);
    }
    table
}

fn commissioned(trials: &[CommissionedOutcome]) -> Table {
    let mut table = new_table(&[
        "commissioned",
        "at",
        "outlet\nx told",
        "zero\nmm",
        "leak\nL/min",
        "outlet\nsigma %",
        "carries\nL/min",
        "losses\nx told",
        "slip\nx told",
        "air\nx told",
        "curve\nsigma %",
    ]);
    for trial in trials {
        let (outlet, curve) = (trial.outlet.as_ref(), trial.curve.as_ref());
        let signed = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:+.1}"));
        let sigma = |value: Option<f64>| value.map_or_else(|| "refused".to_owned(), |value| format!("{value:.1}"));
        table.add_row([
            trial.lift.clone(),
            clock(trial.at_s),
            number(outlet.map(|outlet| outlet.flow_times_told), 2),
            signed(outlet.map(|outlet| outlet.zero_mm)),
            signed(outlet.map(|outlet| outlet.leak_l_min)),
            sigma(outlet.map(|outlet| outlet.sigma_percent)),
            number(outlet.map(|outlet| outlet.carries_l_min), 0),
            number(curve.map(|curve| curve.losses), 2),
            number(curve.map(|curve| curve.slip), 2),
            number(curve.map(|curve| curve.air), 2),
            sigma(curve.map(|curve| curve.sigma_percent)),
        ]);
    }
    table
}

/// What of a trial was refused, and why: once when both were for the same reason.
fn refusals(trial: &CommissionedOutcome) -> Vec<(&'static str, &str)> {
    match (trial.outlet_refused.as_deref(), trial.curve_refused.as_deref()) {
        (Some(outlet), Some(curve)) if outlet == curve => vec![("outlet and curve", outlet)],
        (outlet, curve) => outlet
            .map(|why| ("outlet", why))
            .into_iter()
            .chain(curve.map(|why| ("curve", why)))
            .collect(),
    }
}

fn alarms(alarms: &[&AlarmOutcome]) -> Table {
    let mut table = new_table(&["alarm", "from", "to", "come", "about"]);
    for column in [3, 4] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Left);
        }
    }
    for alarm in alarms {
        table.add_row([
            alarm.what.clone(),
            clock(alarm.at_s),
            alarm.cleared_s.map_or_else(|| "stands".to_owned(), clock),
            when_to_come(alarm.urgency).to_owned(),
            alarm.subject.clone(),
        ]);
    }
    table
}

/// An empty table: names to the left, figures to the right.
pub fn new_table(header: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(WIDTH);
    table.set_header(header.iter().copied());
    for (index, column) in table.column_iter_mut().enumerate() {
        column.set_padding(if index == 0 { (0, 1) } else { (1, 0) });
        if index > 0 {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// A figure, or a dash where there is none.
pub fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{value:.decimals$}"))
}
