//! Reads `[[target]]` and `[[event]]`: what happens when.

use super::event;
use super::happening::{HOUR_S, Happening, Names, Timed, lift_index, when};
use super::section::Section;
use super::units::L_MIN;
use crate::precision::narrow;
use risertrim::{Command, WaterFlow};

const DAY_S: f64 = 24.0 * HOUR_S;

/// Reads targets and events, in the order of time.
pub(super) fn read(top: &mut Section<'_>, names: &Names<'_>) -> Vec<Timed> {
    let mut timeline = Vec::new();
    for section in top.tables("target") {
        timeline.extend(target(section, names));
    }
    for section in top.tables("event") {
        timeline.extend(event::read(section, names));
    }
    timeline.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    timeline
}

fn target(mut section: Section<'_>, names: &Names<'_>) -> Option<Timed> {
    let line = section.line();
    let (at_s, repeats_daily) = when(&mut section, names);
    let lift = lift_index(&mut section, names);
    let l_min = section.number("l_min", 0.0..=20_000.0);
    section.end();
    let command = Command::Target {
        lift: lift?,
        flow: WaterFlow::from_m3_s(narrow(l_min * L_MIN)),
    };
    Some(Timed {
        at_s,
        repeats_daily,
        what: Happening::Command(command),
        line,
    })
}

/// Every happening up to `until_s`, in order, the daily ones unfolded, with its time.
pub(super) fn unfolded(timeline: &[Timed], until_s: f64) -> Vec<(f64, &Timed)> {
    let mut all = Vec::new();
    for timed in timeline {
        let mut at_s = timed.at_s;
        while at_s < until_s {
            all.push((at_s, timed));
            if !timed.repeats_daily {
                break;
            }
            at_s += DAY_S;
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}
