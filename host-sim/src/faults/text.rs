//! The matrix as a table for people.

use super::cell::Cell;
use super::fault::{Fault, Naming};
use super::matrix::Matrix;
use crate::output::{WIDTH, duration, wrapped};
use comfy_table::{CellAlignment, ContentArrangement, Table, presets};
use std::fmt::Write;

/// The whole matrix: a table for each place, then what was not kept, what could not be prevented, and what these readings
/// cannot tell apart.
#[must_use]
pub fn text(matrix: &Matrix, faults: &[Fault]) -> String {
    let mut text = String::new();
    let mut rest = matrix.cells.as_slice();
    while let Some(first) = rest.first() {
        let own = rest.iter().take_while(|cell| cell.scenario == first.scenario).count();
        let (cells, more) = rest.split_at(own);
        let _ = writeln!(text, "{}", first.scenario);
        for line in table(cells).lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text.push('\n');
        rest = more;
    }
    text.push_str(&wrapped(
        "no air: seconds in which a tank of fish had no air, and of these while there was air to give. named by: the alarm, and \
         how long after the onset. back in: time from the end of the fault until the lifts of every tank together are within 4 % of \
         their targets (what each gives by itself is known only as far as stops tell). bump: largest swing after it, % of target. \"-\": nothing need be said, or nothing is promised.",
        0,
    ));
    let list = |text: &mut String, heading: &str, of: fn(&Cell) -> &[String]| {
        let lines: Vec<String> = matrix
            .cells
            .iter()
            .flat_map(|cell| {
                of(cell)
                    .iter()
                    .map(move |line| format!("  {}, {}: {line}", cell.scenario, cell.fault))
            })
            .collect();
        if !lines.is_empty() {
            let _ = writeln!(text, "\n{heading}");
            for line in lines {
                text.push_str(&wrapped(&line, 4));
            }
        }
    };
    list(&mut text, "Promised and not kept:", |cell| &cell.broken);
    list(
        &mut text,
        "Harm and bumps that no setting of the valves could have prevented, and what is too small to be named (exceptions):",
        |cell| &cell.exceptions,
    );
    if !matrix.not_tried.is_empty() {
        let _ = writeln!(text, "\nNot tried, for want of a part that they could strike:");
        for one in &matrix.not_tried {
            text.push_str(&wrapped(
                &format!("  {}, {}: not tried: {}", one.scenario, one.fault, one.why),
                4,
            ));
        }
    }
    apart(&mut text, faults);
    let _ = writeln!(
        text,
        "\n{} cells in {}: {} promises not kept, {} exceptions.",
        matrix.cells.len(),
        duration(matrix.wall_s),
        matrix.broken,
        matrix.exceptions
    );
    text
}

fn apart(text: &mut String, faults: &[Fault]) {
    let _ = writeln!(
        text,
        "\nWhat these readings cannot tell apart, and the reading that would:"
    );
    let mut told: Vec<&str> = Vec::new();
    for fault in faults {
        match fault.naming {
            Naming::By { .. } => {}
            Naming::Group { members, reading, .. } => {
                if !told.contains(&members) {
                    told.push(members);
                    text.push_str(&wrapped(&format!("  {members}: {reading}."), 4));
                }
            }
            Naming::Silent { why } => {
                if !told.contains(&why) {
                    told.push(why);
                    text.push_str(&wrapped(&format!("  {}: {why}.", fault.name), 4));
                }
            }
        }
    }
}

fn table(cells: &[Cell]) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(WIDTH)
        .set_header([
            "fault",
            "spilled\nL",
            "dry\ns",
            "no air\ns",
            "named by",
            "after",
            "safe",
            "back in",
            "bump\n%",
        ]);
    for cell in cells {
        let kind = cell.named_by.as_deref().and_then(|by| by.split(" (").next());
        let silent = cell.named_within_s.is_none();
        table.add_row([
            cell.fault.to_owned(),
            amount(cell.spilled_l, 1),
            amount(cell.dry_s, 0),
            format!(
                "{} ({})",
                amount(cell.no_air_s, 0),
                amount(cell.no_air_while_there_was_s, 0)
            ),
            kind.unwrap_or(if silent { "-" } else { "nobody" }).replace('_', " "),
            cell.named_after_s.map_or_else(|| "-".to_owned(), duration),
            if cell.safe { "yes" } else { "NO" }.to_owned(),
            cell.back_after_s.map_or_else(|| "-".to_owned(), duration),
            format!("{:.1}", cell.bump_percent),
        ]);
    }
    for (index, column) in table.column_iter_mut().enumerate() {
        column.set_padding(if index == 0 { (0, 1) } else { (1, 0) });
        if matches!(index, 1..=3 | 8) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

fn amount(value: f64, digits: usize) -> String {
    if value == 0.0 {
        "0".to_owned()
    } else {
        format!("{value:.digits$}")
    }
}
