//! Reads `[[event]]`: one thing that happens to a lift, a tank or the whole.
//!
//! | file | what |
//! | --- | --- |
//! | `lift` | fouling, valve, air line, hands on a lift |
//! | `tank` | water, outlets, level sensors |
//! | `whole` | blower, gauge, power, board and clock |

mod lift;
mod tank;
mod whole;

use super::happening::{HOUR_S, LATEST_H, Names, Timed, when};
use super::report::Kind;
use super::section::Section;

/// Reads one event.
pub(super) fn read(mut section: Section<'_>, names: &Names<'_>) -> Option<Timed> {
    let line = section.line();
    let (at_s, repeats_daily) = when(&mut section, names);
    let over_s = over(&mut section);
    let actions: Vec<&'static str> = lift::ACTIONS
        .into_iter()
        .chain(tank::ACTIONS)
        .chain(whole::ACTIONS)
        .filter(|action| section.has(action))
        .collect();
    match actions[..] {
        [action] => {
            let wants_lift = lift::ACTIONS.contains(&action) || action == "automatic";
            for (subject, wanted) in [("lift", wants_lift), ("tank", tank::ACTIONS.contains(&action))] {
                if section.has(subject) && !wanted {
                    section.fault(
                        Kind::Event,
                        subject,
                        format!("{action} does not concern a {subject}"),
                        None,
                    );
                }
            }
        }
        [] => section.fault(
            Kind::Event,
            "",
            "this event says no action: nothing would happen",
            Some(format!(
                "of a lift: {}, automatic; of a tank: {}; or {}",
                lift::ACTIONS.join(", "),
                tank::ACTIONS.join(", "),
                whole::ACTIONS[1..].join(", ")
            )),
        ),
        [.., last] => section.fault(
            Kind::Event,
            last,
            format!(
                "this event has {} actions at once: {}",
                actions.len(),
                actions.join(", ")
            ),
            Some("write an [[event]] for each, with the same at_h".to_owned()),
        ),
    }
    let of_lift = lift::read(&mut section, names, over_s);
    let of_tank = tank::read(&mut section, names, over_s);
    let of_all = whole::read(&mut section, names, over_s);
    // Known everywhere; missing ones were noted with their action.
    section.maybe_text("lift");
    section.maybe_text("tank");
    section.end();
    let what = of_lift.or(of_tank).or(of_all)?;
    Some(Timed {
        at_s,
        repeats_daily,
        what,
        line,
    })
}

/// The time over which it happens, s; 0 when it is not told.
fn over(section: &mut Section<'_>) -> f64 {
    let told: Vec<&str> = ["over_h", "over_min", "over_s"]
        .into_iter()
        .filter(|key| section.has(key))
        .collect();
    if let [.., last] = told[..]
        && told.len() > 1
    {
        section.fault(
            Kind::Event,
            last,
            format!("the time is told twice: {}", told.join(", ")),
            None,
        );
    }
    let hours = section.number_or("over_h", 0.0..=LATEST_H, 0.0);
    let minutes = section.number_or("over_min", 0.0..=LATEST_H * 60.0, 0.0);
    let seconds = section.number_or("over_s", 0.0..=LATEST_H * HOUR_S, 0.0);
    hours * HOUR_S + minutes * 60.0 + seconds
}
