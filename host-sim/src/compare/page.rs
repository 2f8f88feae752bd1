//! The outcome as one page with charts.

use super::contender::Contender;
use super::in_short::in_short;
use super::run::{Comparison, Seen};
use super::sentences::sentences;
use super::table::{MAIN, main_cells};
use super::trace::Trace;
use crate::output::clock;
use crate::report::{CONTROLS, Chart, Event, Line, Series, document, escaped, events_of};
use crate::scenario::Scenario;
use serde::Serialize;
use std::fmt::Write;

#[derive(Serialize)]
struct Data<'a> {
    end_s: f64,
    first_s: f64,
    step_s: f64,
    charts: Vec<Chart<'a>>,
    curves: [(); 0],
    alarms: [(); 0],
    events: Vec<Event>,
    /// The page shows no alarms: the runs differ in them.
    no_alarms: bool,
}

/// The whole page: needs no network and no other file.
///
/// # Errors
/// Does not happen for an outcome of [`super::compare`].
pub fn page(comparison: &Comparison, scenario: &Scenario) -> Result<String, serde_json::Error> {
    let end_s = 3600.0 * comparison.hours;
    let (first_s, step_s) = comparison.seen.first().map_or((1.0, 1.0), |seen| seen.trace.times_s());
    let data = Data {
        end_s,
        first_s,
        step_s,
        charts: charts(comparison),
        curves: [],
        alarms: [],
        events: events_of(scenario, end_s),
        no_alarms: true,
    };
    let name = escaped(&comparison.scenario);
    let title = format!("{name}: trimmed by hand, by PI and by risertrim");
    Ok(document(
        &title,
        &body(comparison, &name, &data.events),
        &serde_json::to_string(&data)?,
    ))
}

fn body(comparison: &Comparison, name: &str, events: &[Event]) -> String {
    let mut out = format!(
        "<body>\n<header>\n<h1>{name}, side by side</h1>\n<p>{:.0} h of modelled places, {} of them, each under six hands. \
         Nothing here was measured in water.</p>\n<button id=\"theme\" type=\"button\">light or dark</button>\n</header>\n\
         <main>\n<section>\n<h2>In short</h2>\n<ul>\n",
        comparison.hours,
        comparison.seeds.len()
    );
    for line in in_short(comparison) {
        let _ = writeln!(out, "<li>{}</li>", escaped(&line));
    }
    out.push_str("</ul>\n<div class=\"scroll\"><table><thead><tr>");
    for heading in MAIN {
        let _ = write!(
            out,
            "<th scope=\"col\">{}</th>",
            escaped(&heading.split_whitespace().collect::<Vec<_>>().join(" "))
        );
    }
    out.push_str("</tr></thead><tbody>\n");
    for row in &comparison.rows {
        let cells = main_cells(row);
        for (index, cell) in cells.iter().enumerate() {
            let _ = match index {
                0 => write!(out, "<tr><th scope=\"row\">{}</th>", escaped(cell)),
                _ => write!(out, "<td>{}</td>", escaped(cell)),
            };
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody></table></div>\n<ul>\n");
    for contender in Contender::ALL {
        let _ = writeln!(out, "<li>{}: {}.</li>", contender.name(), escaped(contender.about()));
    }
    let _ = write!(
        out,
        "</ul>\n<p class=\"note\">Errors are of the water truly delivered against the target as the settings let it ramp, as a \
         root mean square, % of the target. After changes is the half hour after every change of a target, of service or of \
         the place; rest is all else but the first half hour. Own leaves out the error that stands all day because an outlet \
         was told wrongly. The charts show seed {}.</p>\n\
         <noscript><p>The charts need JavaScript.</p></noscript>\n</section>\n{CONTROLS}",
        comparison.seeds.first().copied().unwrap_or_default()
    );
    out.push_str("<section>\n<h2>Against the goals of this project</h2>\n<ul>\n");
    for line in sentences(comparison) {
        let _ = writeln!(out, "<li>{}</li>", escaped(&line));
    }
    out.push_str("</ul>\n</section>\n");
    for (id, title, about) in [
        (
            "timeline",
            "What happened",
            "The thin upright lines in all charts stand at the same moments.",
        ),
        (
            "flows",
            "Water of each lift",
            "Water truly delivered under each hand, and what was asked.",
        ),
        ("openings", "Openings", "Where each air valve truly stood."),
        ("airs", "Air", "Free air (100 kPa, 20 C) of the blower."),
    ] {
        let _ = write!(
            out,
            "<section id=\"{id}\">\n<h2>{title}</h2>\n<p>{about}</p>\n<div class=\"charts\"></div>\n"
        );
        if id == "timeline" {
            out.push_str(&listed(events));
        }
        out.push_str("</section>\n");
    }
    let _ = write!(
        out,
        "<footer><p>Made by risertrim {}. The charts are drawn by uPlot (MIT licence, in this file's source).</p></footer>\n\
         </main>\n",
        env!("CARGO_PKG_VERSION")
    );
    out
}

/// What the numbers at the top of the first chart mean.
fn listed(events: &[Event]) -> String {
    let mut out = String::from("<ol>\n");
    for event in events {
        let _ = writeln!(out, "<li>{}: {}</li>", clock(event.at_s), escaped(&event.text));
    }
    out + "</ol>\n"
}

fn charts(comparison: &Comparison) -> Vec<Chart<'_>> {
    let mut charts = Vec::new();
    for (index, name) in comparison.lifts.iter().enumerate() {
        let mut series = one_each(comparison, "L/min", |trace| trace.delivered.get(index));
        let own = comparison
            .seen
            .iter()
            .find(|seen| seen.contender == Contender::Risertrim);
        if let Some(asked) = own.and_then(|seen| seen.trace.asked.get(index)) {
            series.push(line("asked", "L/min", "target", asked));
        }
        charts.push(chart("flows", format!("Lift {name}"), "water, L/min", series));
    }
    for (index, name) in comparison.lifts.iter().enumerate() {
        let series = one_each(comparison, "%", |trace| trace.opening.get(index));
        charts.push(chart(
            "openings",
            format!("Lift {name}"),
            "opening, % of the stroke",
            series,
        ));
    }
    let series = one_each(comparison, "L/min", |trace| Some(&trace.air));
    charts.push(chart("airs", "Blower".to_owned(), "free air, L/min", series));
    charts
}

fn one_each<'a>(
    comparison: &'a Comparison,
    unit: &'static str,
    of: impl Fn(&'a Trace) -> Option<&'a Series>,
) -> Vec<Line<'a>> {
    let all = comparison.seen.iter();
    all.filter_map(|Seen { contender, trace }| Some(line(contender.name(), unit, "lift", of(trace)?)))
        .collect()
}

fn chart<'a>(section: &'static str, title: String, y: &'static str, series: Vec<Line<'a>>) -> Chart<'a> {
    Chart {
        section,
        title,
        y,
        series,
        limits: Vec::new(),
    }
}

fn line<'a>(name: &str, unit: &'static str, look: &'static str, values: &'a Series) -> Line<'a> {
    Line {
        name: name.to_owned(),
        unit,
        decimals: 1,
        look,
        values,
    }
}
