//! A log as CSV files, one for each table.

use super::entry::Entry;
use super::tables::{Cell, TABLES, rows};
use std::fs::File;
use std::io::{self, BufWriter};
use std::path::Path;

/// Writes `readings.csv`, `lifts.csv`, `tanks.csv`, `air.csv`, `alarms.csv`, `learned.csv` and `events.csv`, row by row.
#[derive(Debug)]
pub struct CsvLog {
    tables: Vec<csv::Writer<BufWriter<File>>>,
}

impl CsvLog {
    /// Opens the files in `folder`, which is made if need be.
    ///
    /// # Errors
    /// The folder or a file in it cannot be made.
    pub fn create(folder: &Path) -> io::Result<Self> {
        std::fs::create_dir_all(folder)?;
        let mut tables = Vec::new();
        for table in &TABLES {
            let file = File::create(folder.join(format!("{}.csv", table.name)))?;
            let mut writer = csv::Writer::from_writer(BufWriter::new(file));
            writer.write_record(table.columns.iter().map(|(name, _)| *name))?;
            tables.push(writer);
        }
        Ok(Self { tables })
    }

    /// Writes the rows of an entry.
    ///
    /// # Errors
    /// They cannot be written.
    pub fn write(&mut self, entry: &Entry) -> io::Result<()> {
        rows(entry, |table, cells| match self.tables.get_mut(table) {
            Some(writer) => Ok(writer.write_record(cells.iter().map(text))?),
            None => Ok(()),
        })
    }

    /// Writes out what is buffered, so that others see it.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn flush(&mut self) -> io::Result<()> {
        self.tables.iter_mut().try_for_each(csv::Writer::flush)
    }

    /// Closes the files.
    ///
    /// # Errors
    /// The last rows cannot be written.
    pub fn finish(self) -> io::Result<()> {
        for mut writer in self.tables {
            writer.flush()?;
        }
        Ok(())
    }
}

fn text(cell: &Cell) -> String {
    match cell {
        Cell::Ms(ms) => format!("{}.{:03}", ms / 1000, ms % 1000),
        Cell::Whole(value) => value.to_string(),
        Cell::Number(value) => value.to_string(),
        Cell::Words(words) => words.clone(),
        Cell::Nothing => String::new(),
    }
}
