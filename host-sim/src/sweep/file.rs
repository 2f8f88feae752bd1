//! Rows as CSV: written as they come, read back to go on or to merge.

use super::row::{Figure, Row};
use super::unknowns;
use crate::scenario::Scenario;
use std::fmt;
use std::path::Path;

/// Columns before the figures.
const FIXED: [&str; 3] = ["day", "hours", "seed"];

/// What is wrong with a file of rows.
#[derive(Debug)]
pub enum FileError {
    /// It cannot be read or written.
    Io(String, std::io::Error),
    /// It is no CSV.
    Csv(String, csv::Error),
    /// Its columns are not those of this scenario.
    Columns(String),
    /// It holds runs of another place, another day or another length.
    OtherDay(String),
    /// A value that is no number: file, line, column.
    NoNumber(String, u64, String),
    /// The same seed twice, with other figures.
    Differs(String, u64),
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io(file, error) => write!(f, "{file}: {error}"),
            Self::Csv(file, error) => write!(f, "{file} cannot be read as CSV: {error}"),
            Self::Columns(file) => write!(
                f,
                "{file} has other columns than a sweep of this scenario writes: name the scenario it was made with, or another \
                 file"
            ),
            Self::OtherDay(file) => write!(
                f,
                "{file} holds runs of another place, day or length: name the same scenario and --hours, or another file"
            ),
            Self::NoNumber(file, line, column) => write!(
                f,
                "{file}, line {line}: {column} is no number: put it right, or take the line out and the seed runs again"
            ),
            Self::Differs(file, seed) => write!(
                f,
                "{file}: seed {seed} is there twice with other figures: made by other versions of the program?"
            ),
        }
    }
}

impl std::error::Error for FileError {}

/// What the rows of one scenario look like on file.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// Names of all columns.
    pub columns: Vec<String>,
    pub(super) day: String,
    pub(super) hours: f64,
    lifts: usize,
}

impl Sheet {
    /// Name of the first column of every sheet.
    pub const FIRST_COLUMN: &str = FIXED[0];

    /// For runs of this scenario and length.
    #[must_use]
    pub fn new(scenario: &Scenario, hours: f64) -> Self {
        let fixed = FIXED.iter().map(|name| (*name).to_owned());
        let figures = Figure::ALL.iter().map(|figure| figure.column().to_owned());
        let means = scenario.lift_names.iter().map(|name| format!("mean_percent of {name}"));
        let unknowns = unknowns::names(scenario).into_iter().map(|(_, name)| name);
        Self {
            columns: fixed.chain(figures).chain(means).chain(unknowns).collect(),
            day: format!("{:016x}", day(scenario)),
            hours,
            lifts: scenario.lift_names.len(),
        }
    }

    /// A row as the cells of its line.
    #[must_use]
    pub fn cells(&self, row: &Row) -> Vec<String> {
        [self.day.clone(), self.hours.to_string(), row.seed.to_string()]
            .into_iter()
            .chain(row.numbers().map(|number| number.to_string()))
            .collect()
    }

    /// Reads rows back. A last line that was cut off while it was written is left out.
    ///
    /// # Errors
    /// The file cannot be read, or holds something else.
    pub fn read(&self, path: &Path) -> Result<Vec<Row>, FileError> {
        let name = path.display().to_string();
        let text = std::fs::read_to_string(path).map_err(|error| FileError::Io(name.clone(), error))?;
        let whole = text.rfind('\n').map_or("", |end| &text[..=end]);
        let mut reader = csv::Reader::from_reader(whole.as_bytes());
        let headers = reader.headers().map_err(|error| FileError::Csv(name.clone(), error))?;
        if headers.is_empty() {
            return Ok(Vec::new());
        }
        if headers.iter().ne(self.columns.iter().map(String::as_str)) {
            return Err(FileError::Columns(name));
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| FileError::Csv(name.clone(), error))?;
            let line = record.position().map_or(0, csv::Position::line);
            let cell = |index: usize| record.get(index).unwrap_or("");
            if cell(0) != self.day || cell(1) != self.hours.to_string() {
                return Err(FileError::OtherDay(name));
            }
            let bad = |index: usize| {
                let column = self.columns.get(index).cloned().unwrap_or_default();
                FileError::NoNumber(name.clone(), line, column)
            };
            let seed = cell(2).parse().map_err(|_| bad(2))?;
            let numbers: Result<Vec<f64>, FileError> = (FIXED.len()..self.columns.len())
                .map(|index| cell(index).parse().map_err(|_| bad(index)))
                .collect();
            let mut numbers = numbers?;
            let unknowns = numbers.split_off(Figure::ALL.len() + self.lifts);
            let means_percent = numbers.split_off(Figure::ALL.len());
            rows.push(Row {
                seed,
                figures: numbers,
                means_percent,
                unknowns,
            });
        }
        Ok(rows)
    }

    /// Reads several files and puts their rows in the order of seeds, each once.
    ///
    /// # Errors
    /// One of them cannot be read, or two disagree about a seed.
    pub fn merge(&self, paths: &[std::path::PathBuf]) -> Result<Vec<Row>, FileError> {
        let mut all: Vec<Row> = Vec::new();
        for path in paths {
            for row in self.read(path)? {
                match all.iter().find(|known| known.seed == row.seed) {
                    None => all.push(row),
                    Some(known) if self.cells(known) == self.cells(&row) => {}
                    Some(_) => return Err(FileError::Differs(path.display().to_string(), row.seed)),
                }
            }
        }
        all.sort_by_key(|row| row.seed);
        Ok(all)
    }

    /// Writes all rows anew, in the order of seeds, so that a file says the same however often its sweep was stopped.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn write(&self, path: &Path, rows: &[Row]) -> Result<(), FileError> {
        let name = path.display().to_string();
        let mut text = self.line(&self.columns);
        for row in rows {
            text.push_str(&self.line(&self.cells(row)));
        }
        let beside = path.with_extension("csv.part");
        let done = std::fs::write(&beside, text).and_then(|()| std::fs::rename(&beside, path));
        done.map_err(|error| FileError::Io(name, error))
    }

    /// Cells as a line of CSV.
    #[must_use]
    pub fn line(&self, cells: &[String]) -> String {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let _ = writer.write_record(cells);
        let bytes = writer.into_inner().unwrap_or_default();
        String::from_utf8_lossy(&bytes).into_owned()
    }
}

/// A number for place, spreads and day: other days do not mix in one file.
fn day(scenario: &Scenario) -> u64 {
    let mut plain = scenario.clone();
    plain.warnings.clear();
    plain.seed = 0;
    plain.hours = 0.0;
    fnv_1a(&format!("{plain:?}"))
}

/// The hash FNV-1a of 64 bits (Fowler, Noll and Vo): the same with every version of the compiler.
fn fnv_1a(text: &str) -> u64 {
    let mix = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    text.bytes().fold(0xcbf2_9ce4_8422_2325, mix)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_published_one() {
        // Test vector of the draft that describes FNV: FNV-1a of "a", 64 bits. From memory.
        assert_eq!(fnv_1a("a"), 0xaf63_dc4c_8601_ec8c);
    }
}
