//! Tables of published or separately computed figures that are kept outside the repository.
//!
//! `RISERTRIM_REFERENCE` names their folder. Where it is not set, a test over a whole table says that it was skipped;
//! with `RISERTRIM_NO_SKIP` set as well, as in CI, that is a failure.

use std::path::PathBuf;

/// A table: comment lines starting with `#`, one line of column names, lines of figures.
#[derive(Clone, Debug)]
pub struct Table {
    file: String,
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One line of a [`Table`].
#[derive(Clone, Copy, Debug)]
pub struct Row<'a> {
    table: &'a Table,
    cells: &'a [String],
}

/// Reads `file` of the reference folder; `None`, with a line that says so, where the folder is not named.
///
/// # Panics
/// When the folder is not named though `RISERTRIM_NO_SKIP` is set, and when the file is missing or no table.
#[must_use]
pub fn table(file: &str) -> Option<Table> {
    let Some(folder) = std::env::var_os("RISERTRIM_REFERENCE") else {
        assert!(
            std::env::var_os("RISERTRIM_NO_SKIP").is_none(),
            "{file}: RISERTRIM_REFERENCE does not name the folder of reference figures, and skipping is forbidden"
        );
        println!("skipped: RISERTRIM_REFERENCE does not name the folder with {file}");
        return None;
    };
    let path = PathBuf::from(folder).join(file);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|why| panic!("{}: {why}", path.display()));
    Some(Table::parse(file, &text))
}

impl Table {
    fn parse(file: &str, text: &str) -> Self {
        let cells = |line: &str| line.split(',').map(|cell| cell.trim().to_owned()).collect::<Vec<_>>();
        let mut lines = text
            .lines()
            .filter(|line| !line.starts_with('#') && !line.trim().is_empty());
        let columns = cells(lines.next().unwrap_or_else(|| panic!("{file}: no column names")));
        let rows: Vec<_> = lines.map(cells).collect();
        assert!(!rows.is_empty(), "{file}: no figures");
        assert!(
            rows.iter().all(|row| row.len() >= columns.len()),
            "{file}: a line is too short"
        );
        Self {
            file: file.to_owned(),
            columns,
            rows,
        }
    }

    /// The lines.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|cells| Row { table: self, cells })
    }
}

impl Row<'_> {
    /// The text in a column.
    ///
    /// # Panics
    /// When there is no such column.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        let place = self.table.columns.iter().position(|name| name == column);
        &self.cells[place.unwrap_or_else(|| panic!("{}: no column {column}", self.table.file))]
    }

    /// The figure in a column.
    ///
    /// # Panics
    /// When there is no such column, or no figure in it.
    #[must_use]
    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse()
            .unwrap_or_else(|_| panic!("{}: {text:?} in column {column} is no figure", self.table.file))
    }

    /// The figure in a column, rounded to f32.
    #[must_use]
    #[allow(clippy::cast_possible_truncation)]
    pub fn single(&self, column: &str) -> f32 {
        self.number(column) as f32
    }
}
