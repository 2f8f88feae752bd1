//! The columns of a points file, and its raw values by column.

use super::fault::{PointFault, PointFaultKind as Kind};
use std::ops::RangeInclusive;

/// A column of numbers: its name ends in its unit.
struct Column {
    name: &'static str,
    range: RangeInclusive<f64>,
}

const fn column(name: &'static str, low: f64, high: f64) -> Column {
    Column {
        name,
        range: low..=high,
    }
}

/// Every column of numbers.
const NUMBERS: [Column; 15] = [
    column("time_s", 0.0, 1.0e9),
    column("air_l_min", 0.0, 20_000.0),
    column("air_gauge_kpa", -50.0, 1000.0),
    column("air_c", -30.0, 150.0),
    column("opening_percent", 0.0, 100.0),
    column("manifold_kpa", 0.0, 300.0),
    column("litres", 0.1, 2000.0),
    column("seconds", 0.5, 86_400.0),
    column("water_l_min", 0.0, 20_000.0),
    column("level_start_mm", 0.0, 20_000.0),
    column("level_end_mm", 0.0, 20_000.0),
    column("source_level_mm", 0.0, 20_000.0),
    column("receiver_level_mm", 0.0, 20_000.0),
    column("sigma_air_percent", 0.1, 100.0),
    column("sigma_water_percent", 0.1, 100.0),
];
/// Columns of text.
const TEXTS: [&str; 2] = ["lift", "note"];
/// Columns that cannot be negative because water and air do not run backwards through a lift.
const FLOWS: [&str; 3] = ["water_l_min", "litres", "air_l_min"];

/// A points file by columns.
pub(super) struct Sheet {
    columns: Vec<String>,
    /// Line and values of each row.
    rows: Vec<(u64, Vec<String>)>,
}

/// One row of it.
#[derive(Clone, Copy)]
pub(super) struct Row<'a> {
    sheet: &'a Sheet,
    pub line: u64,
    cells: &'a [String],
}

impl Sheet {
    /// Reads the header and the rows; notes columns that are not known and rows of another length.
    pub fn read(text: &str, faults: &mut Vec<PointFault>) -> Self {
        let header = text
            .lines()
            .find(|line| !line.trim_start().starts_with('#') && !line.trim().is_empty());
        let delimiter = match header {
            Some(header) if header.contains(';') => b';',
            Some(header) if header.contains('\t') => b'\t',
            _ => b',',
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .flexible(true)
            .has_headers(false)
            .comment(Some(b'#'))
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut sheet = Self {
            columns: Vec::new(),
            rows: Vec::new(),
        };
        for record in reader.records() {
            let record = match record {
                Ok(record) => record,
                Err(error) => {
                    faults.push(PointFault::new(Kind::Unreadable, 0, format!("this is no CSV: {error}")));
                    continue;
                }
            };
            let line = record.position().map_or(0, csv::Position::line);
            let cells: Vec<String> = record
                .iter()
                .map(|cell| cell.trim_start_matches('\u{feff}').trim().to_owned())
                .collect();
            if sheet.columns.is_empty() {
                sheet.columns = cells.iter().map(|cell| cell.to_ascii_lowercase()).collect();
                check_names(&sheet.columns, line, faults);
            } else if cells.len() == sheet.columns.len() {
                sheet.rows.push((line, cells));
            } else {
                let message = format!(
                    "{} values where the header has {} columns",
                    cells.len(),
                    sheet.columns.len()
                );
                let help = if delimiter == b',' && cells.len() > sheet.columns.len() {
                    "a decimal comma splits a value in two: write 12.5, or part the columns by semicolons"
                } else {
                    "leave a value empty rather than out"
                };
                faults.push(PointFault::new(Kind::NotANumber, line, message).help(help));
            }
        }
        if sheet.rows.is_empty() && faults.is_empty() {
            let help = "the first line names the columns, for example: air_l_min,litres,seconds,source_level_mm";
            faults.push(PointFault::new(Kind::Unreadable, 0, "there is not one row of values").help(help));
        }
        sheet
    }

    pub fn has(&self, column: &str) -> bool {
        self.columns.iter().any(|name| name == column)
    }

    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, cells)| Row {
            sheet: self,
            line: *line,
            cells,
        })
    }
}

impl<'a> Row<'a> {
    /// The text in a column; `None` where there is no such column or nothing in it.
    pub fn text(&self, column: &str) -> Option<&'a str> {
        let place = self.sheet.columns.iter().position(|name| name == column)?;
        self.cells
            .get(place)
            .map(String::as_str)
            .filter(|text| !text.is_empty())
    }

    /// The number in a column, within its range; `None` where there is none, or none that can be used (which is noted).
    pub fn number(&self, column: &'static str, faults: &mut Vec<PointFault>) -> Option<f64> {
        let text = self.text(column)?;
        let Ok(value) = text.replace(',', ".").parse::<f64>() else {
            faults.push(PointFault::new(Kind::NotANumber, self.line, "this is not a number").about(column, text));
            return None;
        };
        if value < 0.0 && FLOWS.contains(&column) {
            let fault = PointFault::new(Kind::NegativeFlow, self.line, "a flow cannot be negative").about(column, text);
            faults.push(
                fault
                    .allowed("0 and more")
                    .help("leave the row out if the water ran back through the lift"),
            );
            return None;
        }
        let range = NUMBERS
            .iter()
            .find(|known| known.name == column)
            .map_or(f64::MIN..=f64::MAX, |known| known.range.clone());
        if !range.contains(&value) {
            let allowed = format!("{} to {}", range.start(), range.end());
            let fault = PointFault::new(Kind::OutOfRange, self.line, "this is outside what any lift has");
            faults.push(fault.about(column, text).allowed(allowed));
            return None;
        }
        Some(value)
    }

    /// The number in a column that this way of measuring cannot do without.
    pub fn needed(&self, column: &'static str, why: &str, faults: &mut Vec<PointFault>) -> Option<f64> {
        if self.text(column).is_none() && self.sheet.has(column) {
            faults.push(
                PointFault::new(Kind::Missing, self.line, format!("the value is missing: {why}")).about(column, ""),
            );
            return None;
        }
        self.number(column, faults)
    }
}

fn check_names(columns: &[String], line: u64, faults: &mut Vec<PointFault>) {
    for (place, name) in columns.iter().enumerate() {
        let known = NUMBERS
            .iter()
            .map(|column| column.name)
            .chain(TEXTS)
            .any(|known| known == name);
        if columns.get(..place).is_some_and(|before| before.contains(name)) {
            faults.push(PointFault::new(Kind::UnknownColumn, line, "this column is there twice").about(name, ""));
        } else if !known {
            let stem = |name: &str| name.split('_').next().unwrap_or_default().to_owned();
            let near = NUMBERS
                .iter()
                .map(|column| column.name)
                .chain(TEXTS)
                .filter(|known| stem(known) == stem(name));
            let near: Vec<&str> = near.collect();
            let fault = PointFault::new(Kind::UnknownColumn, line, "there is no such column").about(name, "");
            faults.push(if near.is_empty() {
                let all: Vec<&str> = TEXTS
                    .into_iter()
                    .chain(NUMBERS.iter().map(|column| column.name))
                    .collect();
                fault.help(format!("known are {}", all.join(", ")))
            } else {
                fault.help(format!(
                    "is it {}? The unit stands in the name: convert values given in another",
                    near.join(" or ")
                ))
            });
        }
    }
    // What cannot be worked out from any combination of the columns there are.
    let has = |name: &str| columns.iter().any(|column| column == name);
    let mut missing = |field: &str, message: &str, help: &str| {
        faults.push(
            PointFault::new(Kind::Missing, line, message)
                .about(field, "")
                .help(help),
        );
    };
    match (has("air_l_min"), has("opening_percent"), has("manifold_kpa")) {
        (true, ..) | (_, true, true) => {}
        (_, true, false) => missing(
            "manifold_kpa",
            "the column is missing: an opening tells the air only with the manifold's pressure",
            "or give air_l_min",
        ),
        (_, false, true) => missing(
            "opening_percent",
            "the column is missing: a pressure tells the air only with the valve's opening",
            "or give air_l_min",
        ),
        _ => missing(
            "air_l_min",
            "no column tells the air",
            "give air_l_min, or opening_percent and manifold_kpa",
        ),
    }
    match (
        has("water_l_min"),
        has("litres"),
        has("level_start_mm"),
        has("level_end_mm"),
        has("seconds"),
    ) {
        (true, ..) | (_, true, .., true) | (.., true, true, true) => {}
        (_, true, .., false) | (_, _, true, true, false) => {
            missing(
                "seconds",
                "the column is missing: litres or a rise of level tell a flow only with the time they took",
                "",
            );
        }
        (_, _, true, false, _) => missing("level_end_mm", "the column is missing: a rise needs both levels", ""),
        (_, _, false, true, _) => missing("level_start_mm", "the column is missing: a rise needs both levels", ""),
        (.., true) => missing(
            "litres",
            "the column is missing: seconds alone tell no flow",
            "or give level_start_mm and level_end_mm",
        ),
        _ => missing(
            "water_l_min",
            "no column tells the water",
            "give water_l_min, or litres and seconds, or level_start_mm, level_end_mm and seconds",
        ),
    }
    if !has("source_level_mm") {
        let help = "the level of the tank the lift draws from, above its floor: 10 mm of it are 6 % of the flow";
        missing("source_level_mm", "the column is missing", help);
    }
}
