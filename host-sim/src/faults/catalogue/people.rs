//! What people do.

use super::super::fault::{At, Fault, Naming, Scene};
use super::{Actions, BACK, HOUR, MIN, change, nothing, over, sensor};
use crate::plant::{Change, SensorFault};
use crate::scenario::Happening;
use risertrim::{Command, WaterFlow};

const USUAL: Naming = Naming::Silent {
    why: "everyday work: the controller must bear it, nobody need be told",
};

pub(super) const FAULTS: &[Fault] = &[
    Fault {
        name: "bucket of 10 L taken from the fish",
        lasts_s: 30.0 * MIN,
        begins: |s| {
            change(Change::Scoop {
                tank: s.site.tank,
                m3: 0.01,
            })
        },
        ends: nothing,
        at: At::Lift,
        naming: USUAL,
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "bucket of 10 L poured to the fish",
        lasts_s: 30.0 * MIN,
        begins: |s| {
            change(Change::TopUp {
                tank: s.site.tank,
                m3: 0.01,
            })
        },
        ends: nothing,
        at: At::Lift,
        naming: USUAL,
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "source topped up by 40 L in five minutes",
        lasts_s: 30.0 * MIN,
        begins: |s| {
            let tank = s.site.source;
            over(Change::TopUp { tank, m3: 0.04 }, 5.0 * MIN)
        },
        ends: nothing,
        at: At::Source,
        naming: USUAL,
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "target typed ten times too high",
        lasts_s: HOUR,
        begins: |s| target(s, 10.0),
        ends: |s| target(s, 1.0),
        at: At::Lift,
        naming: Naming::By {
            kinds: &["out_of_reach", "command_refused"],
            within_s: 10.0 * MIN,
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "sensor set to a zero 25 mm too high",
        lasts_s: 3.0 * HOUR,
        begins: |s| sensor(s.site.tank, SensorFault::Jump(0.025)),
        ends: |s| sensor(s.site.tank, SensorFault::Mended),
        at: At::Lift,
        naming: Naming::Group {
            kinds: &[
                "level_jumped",
                "sensor_drifting",
                "return_suspect",
                "return_restricted",
                "level_high",
            ],
            within_s: HOUR,
            members: "a wrong zero, water poured in, an outlet that clogs",
            reading: "a second level sensor, or a look at the staff gauge",
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
];

fn target(scene: &Scene<'_>, times: f32) -> Actions {
    let told = scene.scenario.told.lifts.get(scene.site.lift);
    let (Some(told), Ok(lift)) = (told, u8::try_from(scene.site.lift)) else {
        return Actions::new();
    };
    let flow = WaterFlow::from_m3_s(times * told.target.m3_s);
    vec![(0.0, Happening::Command(Command::Target { lift, flow }))]
}
