//! Tables and paragraphs for people.

use comfy_table::{CellAlignment, ContentArrangement, Table, presets};

/// Widest line, columns.
const WIDTH: usize = 110;

/// An empty table: names to the left, figures to the right.
pub(super) fn new_table(header: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(WIDTH).unwrap_or(u16::MAX));
    table.set_header(header.iter().copied());
    for (index, column) in table.column_iter_mut().enumerate() {
        column.set_padding(if index == 0 { (0, 0) } else { (1, 0) });
        if index > 0 {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

pub(super) fn lines(table: &Table) -> String {
    table.lines().map(|line| format!("{}\n", line.trim_end())).collect()
}

pub(super) fn wrapped(paragraph: &str) -> String {
    wrapped_to(paragraph, WIDTH)
}

/// A paragraph in lines of at most `width` columns; its indent is kept and deepened by two on further lines.
pub(crate) fn wrapped_to(paragraph: &str, width: usize) -> String {
    let indent = paragraph.len() - paragraph.trim_start().len();
    let mut text = String::new();
    let mut line = " ".repeat(indent);
    let mut empty = true;
    for word in paragraph.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > width {
            text.push_str(&line);
            text.push('\n');
            line = " ".repeat(indent + 2);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    text.push_str(&line);
    text.push('\n');
    text
}
