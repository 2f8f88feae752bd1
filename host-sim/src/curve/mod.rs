//! The curve of a lift at given levels: flow against air, its landmarks, the calibrated band, measured points; as table, plot,
//! SVG and HTML page.

mod chart;
mod draw;
mod page;
mod table;
mod terminal;

pub use draw::svg;
pub use page::html;
pub use table::{COLUMNS, CurveRow, CurveTable, Landmark, Levels, Mark, tabulate};
pub use terminal::{plot, text};
