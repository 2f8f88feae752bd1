//! The blower.

use super::super::fault::{At, Fault, Naming};
use super::{Actions, BACK, HOUR, MIN, change, over};
use crate::plant::Change;

/// One day, s.
const DAY: f64 = 24.0 * HOUR;

const WEAK: Naming = Naming::Group {
    kinds: &[
        "air_weak",
        "air_short",
        "pressure_low",
        "blower_ageing",
        "out_of_reach",
        "lift_weak",
        "lift_fouling",
    ],
    within_s: HOUR,
    members: "a worn or sagging blower, a blocked intake filter, a leak in the manifold",
    reading: "a manifold gauge and the blower's current",
};

pub(super) const FAULTS: &[Fault] = &[
    Fault {
        name: "blower stops",
        lasts_s: 30.0 * MIN,
        begins: |_| change(Change::RunBlower { on: false }),
        ends: |_| change(Change::RunBlower { on: true }),
        at: At::Anywhere,
        naming: Naming::By {
            kinds: &["blower_stopped"],
            within_s: 5.0 * MIN,
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "blower sags to 70 % within ten minutes",
        lasts_s: 3.0 * HOUR,
        begins: |_| over(Change::SagBlower { left: 0.7 }, 10.0 * MIN),
        ends: |_| over(Change::SagBlower { left: 1.0 }, 10.0 * MIN),
        at: At::Anywhere,
        naming: WEAK,
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "blower ages to 80 % within three days",
        lasts_s: 6.0 * DAY,
        begins: |s| {
            if s.site.gauge {
                over(Change::SagBlower { left: 0.8 }, 3.0 * DAY)
            } else {
                Actions::new()
            }
        },
        ends: |_| over(Change::SagBlower { left: 1.0 }, 10.0 * MIN),
        at: At::Anywhere,
        naming: Naming::Group {
            kinds: &["blower_ageing"],
            within_s: 6.0 * DAY,
            members: "worn vanes or belt, an intake filter that fills, a leak that grows",
            reading: "the blower's current: a leak draws more, a filter or a slow blower less",
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "blower surges by 40 %",
        lasts_s: 2.0 * HOUR,
        begins: |_| {
            change(Change::SurgeBlower {
                depth: 0.4,
                period_s: 6.0,
            })
        },
        ends: |_| {
            change(Change::SurgeBlower {
                depth: 0.0,
                period_s: 6.0,
            })
        },
        at: At::Anywhere,
        naming: Naming::Group {
            kinds: &[
                "pressure_unsteady",
                "air_weak",
                "air_short",
                "pressure_low",
                "out_of_reach",
                "gauge_doubtful",
            ],
            within_s: HOUR,
            members: "a surging blower, one that sags, a blocked intake filter",
            reading: "a manifold gauge read several times a second",
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "blower's intake blocked by 60 %",
        lasts_s: 3.0 * HOUR,
        begins: |_| change(Change::BlockIntake { lost: 0.6 }),
        ends: |_| change(Change::BlockIntake { lost: 0.0 }),
        at: At::Anywhere,
        naming: WEAK,
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
];
