//! Air valves. A fault that shows only when the valve is asked to move comes with a target raised by 15 % after ten minutes.

use super::super::fault::{At, Fault, Naming, Scene};
use super::{Actions, BACK, HOUR, MIN, SERVICE, change, serviced};
use crate::plant::Change;
use crate::scenario::Happening;
use risertrim::{Command, WaterFlow};

const NOT_FOLLOWING: &[&str] = &[
    "valve_not_following",
    "lift_weak",
    "out_of_reach",
    "lift_stopped",
    "past_peak",
];
const MEMBERS: &str = "a valve that does not follow, a fouled lift, a kinked air line";
const READING: &str = "the valve's own position, or the pressure below it";

/// The lift's target times a factor, `after_s` of the onset.
fn retarget(scene: &Scene<'_>, after_s: f64, times: f32) -> Actions {
    let target = scene
        .scenario
        .told
        .lifts
        .get(scene.site.lift)
        .map(|lift| lift.target.m3_s);
    let Ok(lift) = u8::try_from(scene.site.lift) else {
        return Actions::new();
    };
    let flow = WaterFlow::from_m3_s(times * target.unwrap_or(0.0));
    vec![(after_s, Happening::Command(Command::Target { lift, flow }))]
}

fn with_more(scene: &Scene<'_>, fault: Change) -> Actions {
    let mut actions = change(fault);
    actions.extend(retarget(scene, 10.0 * MIN, 1.15));
    actions
}

fn as_before(scene: &Scene<'_>, mended: Change) -> Actions {
    let mut actions = change(mended);
    actions.extend(retarget(scene, 0.0, 1.0));
    actions
}

const fn group(within_s: f64) -> Naming {
    Naming::Group {
        kinds: NOT_FOLLOWING,
        within_s,
        members: MEMBERS,
        reading: READING,
    }
}

pub(super) const FAULTS: &[Fault] = &[
    Fault {
        name: "air valve stuck where it is",
        lasts_s: 2.0 * HOUR,
        begins: |s| {
            let (lift, stuck) = (s.site.lift, true);
            with_more(s, Change::StickValve { lift, stuck })
        },
        ends: |s| as_before(s, freed(s)),
        at: At::Lift,
        naming: group(HOUR),
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "air valve jams open",
        lasts_s: 2.0 * HOUR,
        begins: |s| jam(s, 1.0),
        ends: |s| change(freed(s)),
        at: At::Lift,
        naming: group(HOUR),
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "air valve jams shut",
        lasts_s: HOUR,
        begins: |s| jam(s, 0.0),
        ends: |s| change(freed(s)),
        at: At::Lift,
        naming: group(20.0 * MIN),
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "air valve ten times as slow",
        lasts_s: 2.0 * HOUR,
        begins: |s| {
            let (lift, times) = (s.site.lift, 10.0);
            with_more(s, Change::SlowValve { lift, times })
        },
        ends: |s| {
            let (lift, times) = (s.site.lift, 1.0);
            as_before(s, Change::SlowValve { lift, times })
        },
        at: At::Lift,
        naming: Naming::Silent {
            why: "the lift still gets where it should, some minutes late; the valve's own position would show it",
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "air valve leaks a fifth",
        lasts_s: 2.0 * HOUR,
        begins: |s| leak(s, 0.2),
        ends: |s| {
            let (lift, share) = (s.site.lift, 0.0);
            serviced(s, Change::LeakValve { lift, share })
        },
        at: At::Lift,
        naming: Naming::Silent {
            why: "the trim closes the valve by as much; a leak beyond what it can close shows as more water than asked for",
        },
        back_within_s: BACK + SERVICE,
        bump_after_s: 0.0,
    },
    Fault {
        name: "air valve runs the wrong way",
        lasts_s: 2.0 * HOUR,
        begins: |s| reverse(s, true),
        ends: |s| reverse(s, false),
        at: At::Lift,
        naming: group(HOUR),
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "air valve with five times the play",
        lasts_s: 3.0 * HOUR,
        begins: |s| {
            let (lift, times) = (s.site.lift, 5.0);
            with_more(s, Change::WidenBacklash { lift, times })
        },
        ends: |s| {
            let (lift, times) = (s.site.lift, 1.0);
            as_before(s, Change::WidenBacklash { lift, times })
        },
        at: At::Lift,
        naming: Naming::Silent {
            why: "play of 2.5 % stays within what the trim makes up for; the valve's own position would show it",
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
];

fn freed(scene: &Scene<'_>) -> Change {
    let (lift, stuck) = (scene.site.lift, false);
    Change::StickValve { lift, stuck }
}

fn jam(scene: &Scene<'_>, at: f64) -> Actions {
    let (lift, at) = (scene.site.lift, Some(at));
    change(Change::JamValve { lift, at })
}

fn leak(scene: &Scene<'_>, share: f64) -> Actions {
    let lift = scene.site.lift;
    change(Change::LeakValve { lift, share })
}

fn reverse(scene: &Scene<'_>, reversed: bool) -> Actions {
    let lift = scene.site.lift;
    change(Change::ReverseValve { lift, reversed })
}
