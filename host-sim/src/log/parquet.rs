//! A log as Parquet files, one for each table, for notebooks.

use super::entry::Entry;
use super::tables::{Cell, Kind, TABLES, Table, rows};
use parquet::data_type::{ByteArray, ByteArrayType, DataType, DoubleType, FloatType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::parser::parse_message_type;
use std::fs::File;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// Rows in a group: bounds the memory.
const GROUP: usize = 65_536;

/// Writes the same tables as [`super::CsvLog`], as `readings.parquet` and so on.
pub struct ParquetLog {
    tables: Vec<Open>,
}

/// A file with the rows of the group that is being gathered, column by column.
struct Open {
    table: &'static Table,
    file: SerializedFileWriter<File>,
    columns: Vec<Vec<Cell>>,
}

impl ParquetLog {
    /// Opens the files in `folder`, which is made if need be.
    ///
    /// # Errors
    /// The folder or a file in it cannot be made.
    pub fn create(folder: &Path) -> io::Result<Self> {
        std::fs::create_dir_all(folder)?;
        let tables = TABLES
            .iter()
            .map(|table| Open::create(folder, table))
            .collect::<io::Result<_>>()?;
        Ok(Self { tables })
    }

    /// Writes the rows of an entry.
    ///
    /// # Errors
    /// They cannot be written.
    pub fn write(&mut self, entry: &Entry) -> io::Result<()> {
        rows(entry, |table, cells| match self.tables.get_mut(table) {
            Some(open) => open.push(cells),
            None => Ok(()),
        })
    }

    /// Closes the files.
    ///
    /// # Errors
    /// The last rows cannot be written.
    pub fn finish(self) -> io::Result<()> {
        for mut open in self.tables {
            open.flush()?;
            open.file.close().map_err(other)?;
        }
        Ok(())
    }
}

impl Open {
    fn create(folder: &Path, table: &'static Table) -> io::Result<Self> {
        let columns: Vec<String> = table
            .columns
            .iter()
            .map(|(name, kind)| match kind {
                Kind::Seconds => format!("optional double {name};"),
                Kind::Whole => format!("optional int64 {name};"),
                Kind::Number => format!("optional float {name};"),
                Kind::Words => format!("optional binary {name} (utf8);"),
            })
            .collect();
        let schema =
            parse_message_type(&format!("message {} {{ {} }}", table.name, columns.join(" "))).map_err(other)?;
        let file = File::create(folder.join(format!("{}.parquet", table.name)))?;
        Ok(Self {
            table,
            file: SerializedFileWriter::new(file, Arc::new(schema), Arc::default()).map_err(other)?,
            columns: vec![Vec::new(); table.columns.len()],
        })
    }

    fn push(&mut self, cells: &[Cell]) -> io::Result<()> {
        for (column, cell) in self.columns.iter_mut().zip(cells) {
            column.push(cell.clone());
        }
        if self.columns.first().is_some_and(|column| column.len() >= GROUP) {
            self.flush()?;
        }
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.columns.first().is_none_or(Vec::is_empty) {
            return Ok(());
        }
        let mut group = self.file.next_row_group().map_err(other)?;
        for ((_, kind), column) in self.table.columns.iter().zip(&mut self.columns) {
            write_column(&mut group, *kind, column).map_err(other)?;
            column.clear();
        }
        group.close().map_err(other)?;
        Ok(())
    }
}

fn write_column(
    group: &mut SerializedRowGroupWriter<'_, File>,
    kind: Kind,
    column: &[Cell],
) -> Result<(), ParquetError> {
    match kind {
        #[allow(clippy::cast_precision_loss)] // exact below 2^53 ms
        Kind::Seconds => put::<DoubleType>(group, column, |cell| match cell {
            Cell::Ms(ms) => Some(*ms as f64 * 1e-3),
            _ => None,
        }),
        Kind::Whole => put::<Int64Type>(group, column, |cell| match cell {
            Cell::Whole(value) => Some(*value),
            _ => None,
        }),
        Kind::Number => put::<FloatType>(group, column, |cell| match cell {
            Cell::Number(value) => Some(*value),
            _ => None,
        }),
        Kind::Words => put::<ByteArrayType>(group, column, |cell| match cell {
            Cell::Words(words) => Some(ByteArray::from(words.as_str())),
            _ => None,
        }),
    }
}

/// Writes a column: the values there are, and for every row whether there is one.
fn put<T: DataType>(
    group: &mut SerializedRowGroupWriter<'_, File>,
    column: &[Cell],
    value: impl Fn(&Cell) -> Option<T::T>,
) -> Result<(), ParquetError> {
    let values: Vec<T::T> = column.iter().filter_map(&value).collect();
    let levels: Vec<i16> = column.iter().map(|cell| i16::from(value(cell).is_some())).collect();
    if let Some(mut writer) = group.next_column()? {
        writer.typed::<T>().write_batch(&values, Some(&levels), None)?;
        writer.close()?;
    }
    Ok(())
}

fn other(error: ParquetError) -> io::Error {
    io::Error::other(error)
}
