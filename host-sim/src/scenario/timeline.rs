//! Reads `[[target]]` and `[[event]]`: what happens when.

use super::event;
use super::happening::{HOUR_S, Happening, Names, Timed, lift_index, when};
use super::section::Section;
use super::units::L_MIN;
use crate::precision::narrow;
use risertrim::{Command, WaterFlow};
use std::ops::Range;

const DAY_S: f64 = 24.0 * HOUR_S;

/// A target of the day, and where the file tells it.
pub(super) struct Wish {
    pub lift: u8,
    pub flow: WaterFlow,
    pub bytes: Range<usize>,
    pub part: String,
}

/// Reads targets and events, in the order of time, and the targets by themselves.
pub(super) fn read(top: &mut Section<'_>, names: &Names<'_>) -> (Vec<Timed>, Vec<Wish>) {
    let (mut timeline, mut wishes) = (Vec::new(), Vec::new());
    for section in top.tables("target") {
        if let Some((timed, wish)) = target(section, names) {
            timeline.push(timed);
            wishes.push(wish);
        }
    }
    for section in top.tables("event") {
        timeline.extend(event::read(section, names));
    }
    timeline.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    (timeline, wishes)
}

fn target(mut section: Section<'_>, names: &Names<'_>) -> Option<(Timed, Wish)> {
    let line = section.line();
    let (at_s, repeats_daily) = when(&mut section, names);
    let lift = lift_index(&mut section, names);
    let l_min = section.number("l_min", 0.0..=20_000.0);
    let (bytes, part) = (section.bytes("l_min"), section.part.clone());
    section.end();
    let (lift, flow) = (lift?, WaterFlow::from_m3_s(narrow(l_min * L_MIN)));
    let timed = Timed {
        at_s,
        repeats_daily,
        what: Happening::Command(Command::Target { lift, flow }),
        line,
    };
    Some((
        timed,
        Wish {
            lift,
            flow,
            bytes,
            part,
        },
    ))
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
