//! Means and extremes of even stretches of the run, for the tables.

/// Seconds in an hour.
const HOUR_S: f64 = 3_600.0;

/// How long a row of the tables is, s: an hour for a day, and longer for longer runs, so that a table can be read.
pub(super) fn row_s(end_s: f64) -> f64 {
    let hours = end_s / HOUR_S;
    let row_h = if hours <= 3.0 {
        0.25
    } else if hours <= 36.0 {
        1.0
    } else if hours <= 200.0 {
        6.0
    } else {
        24.0 * (hours / 1_000.0).ceil()
    };
    row_h * HOUR_S
}

/// Mean, lowest and highest of one quantity in each row.
#[derive(Clone, Debug, Default)]
pub(super) struct Column {
    rows: Vec<Cell>,
}

/// One row of a column.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cell {
    sum: f64,
    count: f64,
    /// Lowest value.
    pub low: f64,
    /// Highest value.
    pub high: f64,
}

impl Default for Cell {
    fn default() -> Self {
        Self {
            sum: 0.0,
            count: 0.0,
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        }
    }
}

impl Cell {
    /// The mean, when there was a value.
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0.0).then(|| self.sum / self.count)
    }
}

impl Column {
    /// A value in a row; what is no number counts as none.
    pub fn note(&mut self, row: usize, value: f64) {
        if self.rows.len() <= row {
            self.rows.resize_with(row + 1, Cell::default);
        }
        if let Some(cell) = self.rows.get_mut(row).filter(|_| value.is_finite()) {
            cell.sum += value;
            cell.count += 1.0;
            cell.low = cell.low.min(value);
            cell.high = cell.high.max(value);
        }
    }

    /// The rows.
    pub fn rows(&self) -> &[Cell] {
        &self.rows
    }
}
