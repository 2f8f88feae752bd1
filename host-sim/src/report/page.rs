//! Puts the page together.

use super::charts::{Chart, charts};
use super::curves::{CurveChart, curves};
use super::recorder::ReportRecorder;
use super::timeline::{Event, Row, events, rows};
use super::{escaped, summary, tables};
use crate::output::{duration, speed};
use crate::simulate::Outcome;
use serde::Serialize;
use std::fmt::Write;

const STYLE: &str = include_str!("assets/page.css");
const SCRIPT: &str = include_str!("assets/page.js");
const SELF_TEST: &str = include_str!("assets/selftest.js");
const UPLOT: &str = include_str!("assets/uplot/uPlot.iife.min.js");
const UPLOT_STYLE: &str = include_str!("assets/uplot/uPlot.min.css");
const UPLOT_LICENCE: &str = include_str!("assets/uplot/LICENSE");

/// All that the page's script draws.
#[derive(Serialize)]
struct Data<'a> {
    end_s: f64,
    first_s: f64,
    step_s: f64,
    charts: Vec<Chart<'a>>,
    curves: Vec<CurveChart>,
    alarms: Vec<Row>,
    events: Vec<Event>,
}

impl ReportRecorder {
    /// The whole page.
    ///
    /// # Errors
    /// Does not happen for an outcome of a run.
    pub fn page(mut self, outcome: &Outcome) -> Result<String, serde_json::Error> {
        self.end();
        page(&self, outcome)
    }
}

/// The whole page.
fn page(kept: &ReportRecorder, outcome: &Outcome) -> Result<String, serde_json::Error> {
    let (first_s, step_s) = kept.times_s();
    let data = Data {
        end_s: kept.end_s,
        first_s,
        step_s,
        charts: charts(kept),
        curves: curves(kept, outcome),
        alarms: rows(kept, outcome),
        events: events(kept, outcome),
    };
    let name = escaped(&kept.scenario.name);
    let mut text = String::new();
    body(&mut text, kept, outcome, &name);
    let title = format!("{name}: {} simulated", duration(kept.end_s));
    Ok(document(&title, &text, &serde_json::to_string(&data)?))
}

/// A page that needs nothing else: `title` and `body` as HTML, `json` for the script.
pub(crate) fn document(title: &str, body: &str, json: &str) -> String {
    // In a script element only "<" can end it.
    let json = json.replace('<', "\\u003c");
    let mut out = String::with_capacity(json.len() + body.len() + 200_000);
    let _ = write!(
        out,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; \
         script-src 'unsafe-inline'; img-src data:\">\n<link rel=\"icon\" href=\"data:,\">\n\
         <title>{title}</title>\n<style>\n/* uPlot:\n{UPLOT_LICENCE}\n*/\n{UPLOT_STYLE}\n{STYLE}</style>\n</head>\n{body}"
    );
    let _ = write!(
        out,
        "<script id=\"data\" type=\"application/json\">{json}</script>\n\
         <script>/* uPlot:\n{UPLOT_LICENCE}\n*/\n{UPLOT}</script>\n<script>\n{SCRIPT}</script>\n\
         <script>\n{SELF_TEST}</script>\n</body>\n</html>\n"
    );
    out
}

fn body(out: &mut String, kept: &ReportRecorder, outcome: &Outcome, name: &str) {
    let _ = write!(
        out,
        "<body>\n<header>\n<h1>{name}</h1>\n<p>{} of a modelled place, seed {}. Nothing here was measured in water.</p>\n\
         <button id=\"theme\" type=\"button\">light or dark</button>\n</header>\n<main>\n<section>\n<h2>In short</h2>\n{}",
        duration(kept.end_s),
        outcome.seed,
        summary::summary(kept, outcome)
    );
    out.push_str("<noscript><p>The charts need JavaScript. Every figure is in the tables as well.</p></noscript>\n");
    let _ = write!(
        out,
        "{}{}<p class=\"note\">Flow figures count {:.0} % of the lifts' time: in service, automatic, settled, not being \
         tested. Free air is air at 100 kPa and 20 C. The delivery factor is what a lift delivers as a share of its curve.</p>\n\
         </section>\n",
        tables::lifts(outcome),
        tables::tanks(outcome),
        100.0 * outcome.counted_share
    );
    out.push_str(CONTROLS);
    section(
        out,
        "timeline",
        "Alarms and events",
        "Every bar is an alarm from when it came up until it went. The numbers at the top are what the scenario let happen; \
         the thin upright lines in all charts stand at the same moments.",
        &format!("{}{}", tables::happened(kept, outcome), tables::alarms(outcome)),
        "What happened, and every alarm, as tables",
    );
    section(
        out,
        "flows",
        "Water of each lift",
        "Delivered is the truth of the model; the controller does not see it. What it believes comes from tank levels alone. \
         Where there is no target line, the lift was not asked to deliver.",
        &tables::lifts_by_time(kept),
        "Lifts as tables",
    );
    section(
        out,
        "levels",
        "Levels, with their limits",
        "Above \"too high\" the lifts that feed the tank are held at their air floor, below \"too low\" those that draw from \
         it.</p>\n<p class=\"screen\"><label><input type=\"checkbox\" id=\"limits\" checked> show the limits \
         (without: closer to the water)</label>",
        &tables::tanks_by_time(kept),
        "Levels as tables",
    );
    section(
        out,
        "openings",
        "Openings",
        "Where each air valve truly stands.",
        "",
        "",
    );
    section(
        out,
        "airs",
        "Air",
        "Free air (100 kPa, 20 C) that each lift truly gets.",
        "",
        "",
    );
    section(
        out,
        "pressure",
        "Manifold and blower",
        "One blower feeds all lifts: its pressure falls as more air is drawn.",
        &tables::air_by_time(kept),
        "Air side as a table",
    );
    section(
        out,
        "factors",
        "Delivery factors",
        "What each lift delivers as a share of its curve, as the controller has learned it. One that falls for days tells of a \
         fouling mesh or air stone; one that creeps up, of an outlet that clogs.",
        "",
        "",
    );
    section(
        out,
        "curves",
        "Lift curves and where the lifts ran",
        "Water against air at the mean levels of the run: the curve that the controller was told, the same times the delivery \
         factor learned by the end, and where the lift truly ran. Beyond the peak, more air gives less water.",
        "",
        "",
    );
    let _ = write!(
        out,
        "<footer><p>{} Made by risertrim {}. The charts are drawn by uPlot (MIT licence, in this file's source).</p></footer>\n\
         </main>\n",
        escaped(&speed(outcome)),
        env!("CARGO_PKG_VERSION")
    );
}

/// The buttons that choose the part of the run that is shown.
pub(crate) const CONTROLS: &str = "<nav id=\"zoom\" aria-label=\"Part of the run that the charts show\">\n\
    <button type=\"button\" data-do=\"all\">whole run</button>\n\
    <button type=\"button\" data-do=\"in\" aria-label=\"closer\">+</button>\n\
    <button type=\"button\" data-do=\"out\" aria-label=\"further\">&minus;</button>\n\
    <button type=\"button\" data-do=\"back\" aria-label=\"earlier\">&#9664;</button>\n\
    <button type=\"button\" data-do=\"on\" aria-label=\"later\">&#9654;</button>\n\
    <output id=\"range\"></output>\n<span class=\"how\">or drag across a chart; a double click shows all</span>\n</nav>\n";

/// A section with a place for its charts and, closed at first, its tables.
fn section(out: &mut String, id: &str, title: &str, about: &str, tables: &str, tables_title: &str) {
    let _ = write!(
        out,
        "<section id=\"{id}\">\n<h2>{title}</h2>\n<p>{about}</p>\n<div class=\"charts\"></div>\n"
    );
    if !tables.is_empty() {
        let _ = write!(out, "<details><summary>{tables_title}</summary>\n{tables}</details>\n");
    }
    out.push_str("</section>\n");
}
