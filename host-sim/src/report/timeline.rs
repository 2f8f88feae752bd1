//! Alarms and events on the time axis.

use super::capital;
use super::happened::sentence;
use super::recorder::ReportRecorder;
use crate::scenario::Scenario;
use crate::simulate::{AlarmOutcome, Outcome};
use risertrim::alarm::Urgency;
use serde::Serialize;

/// One kind of alarm about one thing.
#[derive(Debug, Serialize)]
pub(super) struct Row {
    pub label: String,
    /// `now`, `today` or `sometime`.
    pub urgency: &'static str,
    /// From and to, s.
    pub spans: Vec<(f64, f64)>,
    #[serde(skip)]
    order: Urgency,
}

/// Something the scenario lets happen.
#[derive(Debug, Serialize)]
pub(crate) struct Event {
    pub at_s: f64,
    pub text: String,
}

/// The alarms, a row for each kind and subject, the most urgent first.
pub(super) fn rows(kept: &ReportRecorder, outcome: &Outcome) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for alarm in &outcome.alarms {
        let label = label(alarm);
        let span = (alarm.at_s, alarm.cleared_s.unwrap_or(kept.end_s));
        match rows.iter_mut().find(|row| row.label == label) {
            Some(row) => row.spans.push(span),
            None => rows.push(Row {
                label,
                urgency: alarm.urgency_name(),
                spans: vec![span],
                order: alarm.urgency,
            }),
        }
    }
    rows.sort_by_key(|row| row.order);
    rows
}

fn label(alarm: &AlarmOutcome) -> String {
    if alarm.subject == "place" {
        capital(&alarm.what)
    } else {
        format!("{}: {}", capital(&alarm.subject), alarm.what)
    }
}

/// What happens in the run, in the order of time.
pub(super) fn events(kept: &ReportRecorder, outcome: &Outcome) -> Vec<Event> {
    let mut events = events_of(&kept.scenario, kept.end_s);
    for one in &outcome.refused {
        let text = format!("Refused: {}: {}", one.what, one.why);
        let at = events.partition_point(|event| event.at_s <= one.at_s);
        events.insert(at, Event { at_s: one.at_s, text });
    }
    events
}

/// What happens in a scenario until `end_s`, in the order of time.
pub(crate) fn events_of(scenario: &Scenario, end_s: f64) -> Vec<Event> {
    let happenings = scenario.happenings(end_s);
    let events = happenings.iter().map(|(at_s, timed)| Event {
        at_s: *at_s,
        text: capital(&sentence(&timed.what, scenario)),
    });
    events.collect()
}
