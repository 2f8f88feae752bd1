//! A run as one HTML page that needs nothing else: no network, no other file.
//!
//! | file | what |
//! | --- | --- |
//! | `series` | a series thinned as it comes, lowest and highest of every stretch kept |
//! | `recorder` | [`ReportRecorder`]: keeps what the page shows while a run goes on |
//! | `hourly` | means and extremes of each hour, for the tables |
//! | `charts`, `curves`, `timeline` | what is drawn, as data for the page's script |
//! | `happened` | events of the scenario in words |
//! | `summary`, `tables` | the page for those who read rather than look |
//! | `page` | puts it together |
//!
//! `assets/page.js` draws with uPlot, a chart library under the MIT licence whose file and licence stand in `assets/uplot`.

mod charts;
mod curves;
mod happened;
mod hourly;
mod page;
mod recorder;
mod series;
mod summary;
mod tables;
mod timeline;

pub(crate) use charts::{Chart, Line};
pub(crate) use page::{CONTROLS, document};
pub use recorder::ReportRecorder;
pub(crate) use series::Series;
pub(crate) use timeline::{Event, events_of};

/// Text made safe for HTML.
pub(crate) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// A name at the start of a sentence or heading.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
