//! Returns, air lines, diffusers and risers.

use super::super::fault::{At, Fault, Naming, Scene};
use super::{Actions, BACK, HOUR, L_MIN, MIN, SERVICE, change, nothing, over, serviced};
use crate::plant::Change;
use crate::scenario::Happening;

const HIGH: &[&str] = &[
    "return_restricted",
    "return_suspect",
    "level_rising_fast",
    "level_high",
    "level_too_high",
];
const WEAK_LIFT: &[&str] = &[
    "lift_stopped",
    "lift_weak",
    "lift_fouling",
    "out_of_reach",
    "valve_not_following",
];

const fn weak_lift(within_s: f64) -> Naming {
    Naming::Group {
        kinds: WEAK_LIFT,
        within_s,
        members: "a fouled mesh or riser, a fouled diffuser, a kinked or loose air line, a lift shut by hand",
        reading: "the air to this lift (a flow meter, or the pressure below its valve)",
    }
}

const fn of_lift(
    name: &'static str,
    lasts_s: f64,
    begins: fn(&Scene<'_>) -> Actions,
    ends: fn(&Scene<'_>) -> Actions,
    naming: Naming,
) -> Fault {
    Fault {
        name,
        lasts_s,
        begins,
        ends,
        at: At::Lift,
        naming,
        back_within_s: BACK + SERVICE,
        bump_after_s: 0.0,
    }
}

pub(super) const FAULTS: &[Fault] = &[
    of_lift(
        "return clogs by half within an hour",
        5.0 * HOUR,
        |s| clog(s, 0, 0.5, HOUR),
        |s| clog(s, 0, 1.0, 0.0),
        Naming::Group {
            kinds: HIGH,
            within_s: 5.0 * HOUR,
            members: "a return that clogs, a sensor's zero that drifts up, a lift that delivers more",
            reading: "a stop of this lift, where it is allowed; else a second level sensor",
        },
    ),
    of_lift(
        "return clogs wholly at once",
        2.0 * HOUR,
        |s| clog(s, 0, 0.0, 0.0),
        |s| clog(s, 0, 1.0, 0.0),
        Naming::By {
            kinds: HIGH,
            within_s: 15.0 * MIN,
        },
    ),
    of_lift(
        "return and overflow both clog",
        2.0 * HOUR,
        |s| {
            let mut both = clog(s, 0, 0.0, 5.0 * MIN);
            both.extend(clog(s, 1, 0.0, 5.0 * MIN));
            both
        },
        |s| {
            let mut both = clog(s, 0, 1.0, 0.0);
            both.extend(clog(s, 1, 1.0, 0.0));
            both
        },
        Naming::By {
            kinds: HIGH,
            within_s: 15.0 * MIN,
        },
    ),
    of_lift(
        "air line kinked",
        HOUR,
        |s| kink(s, 500.0),
        |s| {
            let (lift, times) = (s.site.lift, 1.0);
            serviced(s, Change::KinkLine { lift, times })
        },
        weak_lift(30.0 * MIN),
    ),
    of_lift(
        "air line off",
        HOUR,
        |s| line_off(s, true),
        |s| line_off(s, false),
        weak_lift(15.0 * MIN),
    ),
    of_lift(
        "diffuser fouls to ten times its loss",
        6.0 * HOUR,
        |s| dirt(s, 10.0, 4.0 * HOUR),
        |s| {
            let (lift, times) = (s.site.lift, 1.0);
            serviced(s, Change::FoulDiffuser { lift, times })
        },
        Naming::Silent {
            why: "the trim opens the valve as much wider; beyond that the lift is out of reach, which is named",
        },
    ),
    of_lift(
        "riser fouls by 60 % within an hour",
        3.0 * HOUR,
        |s| foul(s, 0.6, HOUR),
        |s| {
            let lift = s.site.lift;
            serviced(s, Change::CleanLift { lift })
        },
        weak_lift(2.0 * HOUR),
    ),
    of_lift(
        "lift shut by hand, nobody told",
        HOUR,
        |s| shut(s, true),
        |s| shut(s, false),
        weak_lift(15.0 * MIN),
    ),
    Fault {
        name: "leaking check valve, then the blower stops",
        lasts_s: 30.0 * MIN,
        begins: |s| {
            let mut actions = check_valve(s, 2.0 * L_MIN);
            let change = Change::RunBlower { on: false };
            actions.push((60.0, Happening::Plant { change, over_s: 0.0 }));
            actions
        },
        ends: |s| {
            let mut actions = change(Change::RunBlower { on: true });
            actions.extend(check_valve(s, 0.0));
            actions
        },
        at: At::Anywhere,
        naming: Naming::By {
            kinds: &["blower_stopped"],
            within_s: 6.0 * MIN,
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "source leaks 2 L/min for an hour",
        lasts_s: HOUR,
        begins: |s| leak(s, 2.0 * L_MIN),
        ends: |s| {
            let mut actions = leak(s, 0.0);
            let change = Change::TopUp {
                tank: s.site.source,
                m3: 0.12,
            };
            actions.push((0.0, Happening::Plant { change, over_s: 600.0 }));
            actions
        },
        at: At::Source,
        naming: Naming::By {
            kinds: &["water_lost", "level_falling_fast", "level_low", "level_too_low"],
            within_s: HOUR,
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "hose left running into the source, 2 L/min",
        lasts_s: HOUR,
        begins: |s| inflow(s, 2.0 * L_MIN),
        ends: |s| {
            // What came is let out again within ten minutes.
            let mut actions = inflow(s, 0.0);
            actions.extend(leak(s, 12.0 * L_MIN));
            let (tank, m3_s) = (s.site.source, 0.0);
            let change = Change::Leak { tank, m3_s };
            actions.push((600.0, Happening::Plant { change, over_s: 0.0 }));
            actions
        },
        at: At::Source,
        naming: Naming::By {
            kinds: &["water_gained", "level_rising_fast", "level_high", "level_too_high"],
            within_s: HOUR,
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "source runs out at 60 L/min",
        lasts_s: HOUR,
        begins: |s| leak(s, 60.0 * L_MIN),
        ends: |s| leak(s, 0.0),
        at: At::Source,
        naming: Naming::By {
            kinds: &["water_lost", "level_falling_fast", "level_low", "level_too_low"],
            within_s: 15.0 * MIN,
        },
        // The water is gone: nobody promises the targets.
        back_within_s: f64::INFINITY,
        bump_after_s: 0.0,
    },
    Fault {
        name: "most water of a lift sinks to 90 % of its target",
        lasts_s: 4.0 * HOUR,
        begins: |s| peak(s, 0.9, HOUR),
        ends: |s| {
            let lift = s.site.lift;
            serviced(s, Change::LowerPeak { lift, most_m3_s: 1.0 })
        },
        at: At::Lift,
        naming: Naming::Group {
            kinds: &["past_peak", "out_of_reach", "valve_not_following", "lift_fouling"],
            within_s: 2.0 * HOUR,
            members: "a true peak below the curve's, a fouled lift, a valve that does not follow",
            reading: "the valve's own position, or the pressure below it",
        },
        back_within_s: BACK + SERVICE,
        bump_after_s: 0.0,
    },
    Fault {
        name: "water cools to 12 C",
        lasts_s: 6.0 * HOUR,
        begins: |_| over(Change::Warm { water_c: 12.0 }, 4.0 * HOUR),
        ends: nothing,
        at: At::Anywhere,
        naming: Naming::Silent {
            why: "no fault: water and air change by a few percent and the trim follows",
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
];

fn clog(scene: &Scene<'_>, outlet: usize, left: f64, over_s: f64) -> Actions {
    let tank = scene.site.tank;
    over(Change::ClogOutlet { tank, outlet, left }, over_s)
}

fn peak(scene: &Scene<'_>, times: f64, over_s: f64) -> Actions {
    let lift = scene.site.lift;
    let target = scene.scenario.told.lifts.get(lift);
    let most_m3_s = times * target.map_or(1.0, |lift| f64::from(lift.target.m3_s));
    over(Change::LowerPeak { lift, most_m3_s }, over_s)
}

fn kink(scene: &Scene<'_>, times: f64) -> Actions {
    let lift = scene.site.lift;
    change(Change::KinkLine { lift, times })
}

fn line_off(scene: &Scene<'_>, off: bool) -> Actions {
    let lift = scene.site.lift;
    change(Change::AirLineOff { lift, off })
}

fn dirt(scene: &Scene<'_>, times: f64, over_s: f64) -> Actions {
    let lift = scene.site.lift;
    over(Change::FoulDiffuser { lift, times }, over_s)
}

fn foul(scene: &Scene<'_>, lost: f64, over_s: f64) -> Actions {
    let lift = scene.site.lift;
    over(Change::FoulLift { lift, lost }, over_s)
}

fn shut(scene: &Scene<'_>, shut: bool) -> Actions {
    let lift = scene.site.lift;
    change(Change::ShutLift { lift, shut })
}

fn check_valve(scene: &Scene<'_>, m3_s: f64) -> Actions {
    let (lift, loop_m) = (scene.site.lift, 0.3);
    change(Change::LeakCheckValve { lift, m3_s, loop_m })
}

fn leak(scene: &Scene<'_>, m3_s: f64) -> Actions {
    let tank = scene.site.source;
    change(Change::Leak { tank, m3_s })
}

fn inflow(scene: &Scene<'_>, m3_s: f64) -> Actions {
    let tank = scene.site.source;
    change(Change::Inflow { tank, m3_s })
}
