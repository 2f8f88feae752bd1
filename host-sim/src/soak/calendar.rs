//! What happens on ordinary days.

use crate::plant::Change;
use crate::scenario::{Happening, Scenario};
use risertrim::Command;

/// Seconds in a day.
pub const DAY_S: f64 = 86_400.0;
/// A target further above the told one than this is left out: the blower may rightly fall short then.
const MOST_OVER_TARGET: f64 = 1.3;
/// When the water that evaporated is put back, s after midnight.
const TOP_UP_AT_S: f64 = 20.0 * 3600.0;

/// The same place on days without a fault: its targets and its evaporation, each day's loss put back each evening, for `days`.
#[must_use]
pub fn fault_free(scenario: &Scenario, days: f64) -> Scenario {
    let mut calm = scenario.clone();
    calm.hours = 24.0 * days;
    let mut put_back = Vec::new();
    calm.timeline.retain_mut(|timed| match timed.what {
        Happening::Command(Command::Target { lift, flow }) => {
            timed.repeats_daily = true;
            let told = scenario
                .told
                .lifts
                .get(usize::from(lift))
                .map_or(0.0, |lift| f64::from(lift.target.m3_s));
            f64::from(flow.m3_s) <= MOST_OVER_TARGET * told
        }
        Happening::Plant {
            change: Change::Evaporate { tank, m3_s },
            ..
        } => {
            let mut evening = timed.clone();
            evening.at_s = TOP_UP_AT_S;
            evening.repeats_daily = true;
            evening.what = Happening::Plant {
                change: Change::TopUp { tank, m3: m3_s * DAY_S },
                over_s: 600.0,
            };
            put_back.push(evening);
            true
        }
        _ => false,
    });
    calm.timeline.extend(put_back);
    // A target that a day begins with is set back when the next begins.
    for (index, lift) in (0u8..).zip(&scenario.told.lifts) {
        let changes =
            |what: &Happening| matches!(what, Happening::Command(Command::Target { lift, .. }) if *lift == index);
        if let Some(first) = calm.timeline.iter().find(|timed| changes(&timed.what)).cloned() {
            let flow = lift.target;
            calm.timeline.push(crate::scenario::Timed {
                at_s: 0.0,
                repeats_daily: true,
                what: Happening::Command(Command::Target { lift: index, flow }),
                line: first.line,
            });
        }
    }
    calm.timeline.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    calm
}
