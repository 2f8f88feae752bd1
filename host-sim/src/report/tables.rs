//! The page's tables, for those who read rather than look.

use super::hourly::{Cell, Column};
use super::recorder::ReportRecorder;
use super::timeline::events;
use super::{capital, escaped};
use crate::names::when_to_come;
use crate::output::{clock, duration};
use crate::simulate::Outcome;
use std::fmt::Write;

/// Alarms listed one by one; a fault that comes and goes makes hundreds.
const ALARMS_LISTED: usize = 200;

/// A table: caption, headings, rows. The first cell of a row is its heading.
pub(super) fn table(caption: &str, headings: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut out = String::from("<div class=\"scroll\" tabindex=\"0\"><table>\n");
    let _ = writeln!(out, "<caption>{}</caption>\n<thead><tr>", escaped(caption));
    for heading in headings {
        let _ = write!(out, "<th scope=\"col\">{}</th>", escaped(heading));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in rows {
        out.push_str("<tr>");
        for (index, cell) in row.iter().enumerate() {
            let cell = escaped(cell);
            let _ = if index == 0 {
                write!(out, "<th scope=\"row\">{cell}</th>")
            } else {
                write!(out, "<td>{cell}</td>")
            };
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
    out
}

/// What each lift did.
pub(super) fn lifts(outcome: &Outcome) -> String {
    let rows = outcome.lifts.iter().map(|lift| {
        let late = if lift.not_settled { "more than " } else { "" };
        vec![
            lift.name.clone(),
            number(lift.target_l_min, 1),
            number(lift.delivered_mean_l_min, 1),
            number(lift.estimated_mean_l_min, 1),
            lift.mean_error_percent()
                .map_or_else(|| "-".to_owned(), |percent| format!("{percent:+.1}")),
            number(lift.delivered_rms_error_percent, 1),
            lift.settle_s
                .map_or_else(|| "-".to_owned(), |settle_s| format!("{late}{}", duration(settle_s))),
            format!("{:.1}", lift.air_mean_l_min),
            format!("{:.1}", lift.valve_travel_strokes),
            format!("{:.2}", lift.delivery_factor),
        ]
    });
    table(
        "The lifts over the run",
        &[
            "lift",
            "target, L/min",
            "delivered, L/min",
            "believed, L/min",
            "mean error, %",
            "RMS error, %",
            "settles in",
            "free air, L/min",
            "valve travel, strokes",
            "delivery factor at the end",
        ],
        rows,
    )
}

/// What each tank did.
pub(super) fn tanks(outcome: &Outcome) -> String {
    let rows = outcome.tanks.iter().map(|tank| {
        vec![
            tank.name.clone(),
            format!("{:.0}", 1_000.0 * tank.level_min_m),
            format!("{:.0}", 1_000.0 * tank.level_max_m),
            format!("{:.1}", tank.spilled_l),
            duration(tank.dry_s),
            if tank.fish {
                duration(tank.fish_without_air_s)
            } else {
                "no fish".to_owned()
            },
        ]
    });
    table(
        "The tanks over the run",
        &[
            "tank",
            "lowest level, mm",
            "highest level, mm",
            "spilled, L",
            "dry for",
            "fish without air for",
        ],
        rows,
    )
}

/// The alarms, each with what it means and what to do.
pub(super) fn alarms(outcome: &Outcome) -> String {
    if outcome.alarms.is_empty() {
        return "<p>No alarm came up.</p>\n".to_owned();
    }
    let rows = outcome.first_alarms(ALARMS_LISTED).into_iter().map(|alarm| {
        vec![
            clock(alarm.at_s),
            alarm.cleared_s.map_or_else(|| "stands".to_owned(), clock),
            when_to_come(alarm.urgency).to_owned(),
            capital(&alarm.text),
        ]
    });
    let mut out = table("Alarms", &["from", "to", "urgency", "what, and what to do"], rows);
    if outcome.alarms.len() > ALARMS_LISTED {
        let _ = writeln!(
            out,
            "<p>{} more alarms are not listed; <code>--csv</code> writes them all.</p>",
            outcome.alarms.len() - ALARMS_LISTED
        );
    }
    out
}

/// What the scenario let happen.
pub(super) fn happened(kept: &ReportRecorder, outcome: &Outcome) -> String {
    let events = events(kept, outcome);
    if events.is_empty() {
        return "<p>Nothing was changed during the run.</p>\n".to_owned();
    }
    let rows = events.into_iter().map(|event| vec![clock(event.at_s), event.text]);
    table("What happened", &["time", "what"], rows)
}

/// Each lift in stretches of time.
pub(super) fn lifts_by_time(kept: &ReportRecorder) -> String {
    let lifts = kept.scenario.lift_names.iter().zip(&kept.lifts);
    let one = |(name, lift): (&String, &super::recorder::LiftTrace)| {
        table(
            &format!("Lift {name}, means"),
            &[
                "from",
                "target, L/min",
                "delivered, L/min",
                "believed, L/min",
                "opening, %",
                "free air, L/min",
                "delivery factor",
            ],
            by_time(
                kept,
                &[
                    (&lift.target_rows, Cell::mean, 1),
                    (&lift.delivered_rows, Cell::mean, 1),
                    (&lift.believed_rows, Cell::mean, 1),
                    (&lift.opening_rows, Cell::mean, 1),
                    (&lift.air_rows, Cell::mean, 1),
                    (&lift.factor_rows, Cell::mean, 3),
                ],
            ),
        )
    };
    lifts.map(one).collect()
}

/// Each tank in stretches of time.
pub(super) fn tanks_by_time(kept: &ReportRecorder) -> String {
    let tanks = kept.scenario.tank_names.iter().zip(&kept.tanks);
    let one = |(name, tank): (&String, &super::recorder::TankTrace)| {
        let rows = &tank.level_rows;
        table(
            &format!("{}, true level above its floor", capital(name)),
            &["from", "lowest, mm", "mean, mm", "highest, mm"],
            by_time(
                kept,
                &[
                    (rows, |cell| cell.mean().map(|_| cell.low), 1),
                    (rows, Cell::mean, 1),
                    (rows, |cell| cell.mean().map(|_| cell.high), 1),
                ],
            ),
        )
    };
    tanks.map(one).collect()
}

/// The air side in stretches of time.
pub(super) fn air_by_time(kept: &ReportRecorder) -> String {
    let air = &kept.air;
    table(
        "Air side, means",
        &["from", "manifold, kPa", "blower, L/min of free air", "power, W"],
        by_time(
            kept,
            &[
                (&air.manifold_rows, Cell::mean, 2),
                (&air.blower_rows, Cell::mean, 0),
                (&air.power_rows, Cell::mean, 0),
            ],
        ),
    )
}

type Shown<'a> = (&'a Column, fn(&Cell) -> Option<f64>, usize);

/// A row for each stretch of time.
fn by_time<'a>(kept: &ReportRecorder, columns: &'a [Shown<'a>]) -> impl Iterator<Item = Vec<String>> + use<'a> {
    let row_s = kept.row_s;
    let rows = columns
        .iter()
        .map(|(column, ..)| column.rows().len())
        .max()
        .unwrap_or(0);
    (0..rows).map(move |row| {
        #[allow(clippy::cast_precision_loss)] // a few hundred rows
        let from_s = row as f64 * row_s;
        let cells = columns
            .iter()
            .map(|(column, value, decimals)| number(column.rows().get(row).and_then(value), *decimals));
        std::iter::once(clock(from_s)).chain(cells).collect()
    })
}

fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{value:.decimals$}"))
}
