//! One entry as one line of JSON, with every field of the record under its own name.

use super::entry::{Entry, HostRecord, What};
use super::replay_outcome::ReplayOutcome;
use serde_json::{Map, Value, json};

/// The entry as one line, without the line's end. Units are in the names, as in the records themselves.
#[must_use]
pub fn json_line(entry: &Entry) -> String {
    let mut object = Map::new();
    object.insert("byte".to_owned(), json!(entry.offset));
    object.insert("session".to_owned(), json!(entry.session));
    object.insert("time_s".to_owned(), json!(entry.time_s()));
    if entry.time_broken {
        object.insert("time_broken".to_owned(), json!(true));
    }
    let (kind, value) = what(&entry.what);
    object.insert(kind.to_owned(), value);
    Value::Object(object).to_string()
}

/// What came of a replay, as one JSON object. Differences are in the units named beside them.
#[must_use]
pub fn replay_json(outcome: &ReplayOutcome) -> Value {
    let fields = outcome.fields.iter().map(|(field, differs)| {
        let (unit, times) = field.unit();
        json!({
            "what": field.to_string(),
            "steps": differs.steps,
            "first_s": differs.first_s,
            "unit": unit,
            "rms": differs.rms() * times,
            "widest": differs.widest.1.apart().map(|apart| apart * times),
            "widest_s": differs.widest.0,
        })
    });
    json!({
        "equal": outcome.is_equal(),
        "steps": outcome.steps,
        "compared": outcome.compared,
        "equal_steps": outcome.equal,
        "uncompared": outcome.uncompared_steps(),
        "uncompared_why": outcome.uncompared.iter().map(|(why, steps)| json!({"why": why.to_string(), "steps": steps})).collect::<Vec<_>>(),
        "exact": outcome.is_equal(),
        "starts": outcome.starts,
        "span_s": outcome.span_s,
        "firmware": outcome.firmware,
        "first_difference_s": (!outcome.first.is_empty()).then_some(outcome.first_s),
        "first_difference": outcome.first.iter().map(|first| first.field.to_string()).collect::<Vec<_>>(),
        "differences": fields.collect::<Vec<_>>(),
        "commands": outcome.commands.iter().map(|(at_s, what)| json!({"at_s": at_s, "what": what})).collect::<Vec<_>>(),
        "inexact": outcome.inexact.iter().map(|why| json!({"at_s": why.time_s, "why": why.why})).collect::<Vec<_>>(),
    })
}

fn what(what: &What) -> (&'static str, Value) {
    match what {
        // Every record is plain data with names for keys.
        What::Record(record) => {
            let mut value = serde_json::to_value(record).unwrap_or(Value::Null);
            if let HostRecord::Header(header) = record {
                value["Header"]["firmware"] = json!(String::from_utf8_lossy(&header.firmware));
            }
            ("record", value)
        }
        What::Installation { mark, installation } => (
            "installation",
            json!({
                "layout": mark.layout,
                "fingerprint": format!("{:08X}", mark.fingerprint),
                "is": installation.as_deref().map(|is| serde_json::to_value(is).unwrap_or(Value::Null)),
            }),
        ),
        What::Damaged(damage) => (
            "damaged",
            json!({"bytes": damage.bytes, "harm": damage.harm.to_string()}),
        ),
        What::Missing(records) => ("missing", json!({"records": records})),
        What::Repeated(number) => ("repeated", json!({"number": number})),
        What::Stretch => ("stretch", json!("numbers begin anew without a header")),
        What::Unknown => ("unknown", json!("intact, but no record of this version")),
    }
}
