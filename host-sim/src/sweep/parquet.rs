//! Rows as one Parquet file, for notebooks: the same columns as the CSV.

use super::file::{FileError, Sheet};
use super::row::Row;
use parquet::basic::{LogicalType, Repetition, Type as Stored};
use parquet::data_type::{ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::{ParquetError, Result};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;
use std::fs::File;
use std::path::Path;
use std::sync::Arc;

type Group<'file> = SerializedRowGroupWriter<'file, File>;

impl Sheet {
    /// Writes all rows into a Parquet file. Words for the day, a whole number for the seed, numbers for the rest; what was not
    /// counted is absent.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn write_parquet(&self, path: &Path, rows: &[Row]) -> std::result::Result<(), FileError> {
        let failed = |error: ParquetError| FileError::Io(path.display().to_string(), std::io::Error::other(error));
        let file = File::create(path).map_err(|error| FileError::Io(path.display().to_string(), error))?;
        self.to_file(file, rows).map_err(failed)
    }

    fn to_file(&self, file: File, rows: &[Row]) -> Result<()> {
        let fields: Result<Vec<_>> = self
            .columns
            .iter()
            .enumerate()
            .map(|(at, name)| field(at, name))
            .collect();
        let schema = Type::group_type_builder("sweep").with_fields(fields?).build()?;
        let mut writer = SerializedFileWriter::new(file, Arc::new(schema), Arc::default())?;
        let mut group = writer.next_row_group()?;
        let days = vec![ByteArray::from(self.day.as_str()); rows.len()];
        put::<ByteArrayType>(&mut group, &days, None)?;
        put::<DoubleType>(&mut group, &vec![self.hours; rows.len()], None)?;
        let seeds: Vec<i64> = rows.iter().map(|row| row.seed.cast_signed()).collect();
        put::<Int64Type>(&mut group, &seeds, None)?;
        for at in 0..self.columns.len().saturating_sub(3) {
            let cells = rows
                .iter()
                .map(|row| row.numbers().nth(at).filter(|value| !value.is_nan()));
            let levels: Vec<i16> = cells.clone().map(|cell| i16::from(cell.is_some())).collect();
            let values: Vec<f64> = cells.flatten().collect();
            put::<DoubleType>(&mut group, &values, Some(&levels))?;
        }
        group.close()?;
        writer.close()?;
        Ok(())
    }
}

/// The first three columns are always there.
fn field(at: usize, name: &str) -> Result<Arc<Type>> {
    let (stored, logical, repetition) = match at {
        0 => (Stored::BYTE_ARRAY, Some(LogicalType::String), Repetition::REQUIRED),
        1 => (Stored::DOUBLE, None, Repetition::REQUIRED),
        2 => (Stored::INT64, None, Repetition::REQUIRED),
        _ => (Stored::DOUBLE, None, Repetition::OPTIONAL),
    };
    let built = Type::primitive_type_builder(name, stored)
        .with_repetition(repetition)
        .with_logical_type(logical);
    Ok(Arc::new(built.build()?))
}

fn put<T: DataType>(group: &mut Group<'_>, values: &[T::T], levels: Option<&[i16]>) -> Result<()> {
    if let Some(mut column) = group.next_column()? {
        column.typed::<T>().write_batch(values, levels, None)?;
        column.close()?;
    }
    Ok(())
}
