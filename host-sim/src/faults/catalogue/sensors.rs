//! Level sensors and the manifold gauge.

use super::super::fault::{At, Fault, Naming, Scene};
use super::{Actions, BACK, HOUR, MIN, change, over, sensor};
use crate::plant::{Change, SensorFault};

const DRIFT: Naming = Naming::Group {
    kinds: &[
        "sensor_drifting",
        "return_suspect",
        "return_restricted",
        "level_high",
        "level_low",
        "lift_weak",
        "lift_fouling",
        "valve_not_following",
        "water_lost",
        "water_gained",
    ],
    within_s: 8.0 * HOUR,
    members: "a drifting zero, an outlet that slowly clogs, a lift that slowly delivers less",
    reading: "a second level sensor, or a look at the staff gauge",
};

fn mended(scene: &Scene<'_>) -> Actions {
    sensor(scene.site.tank, SensorFault::Mended)
}

fn source_mended(scene: &Scene<'_>) -> Actions {
    sensor(scene.site.source, SensorFault::Mended)
}

const fn of_tank(name: &'static str, lasts_s: f64, begins: fn(&Scene<'_>) -> Actions, naming: Naming) -> Fault {
    Fault {
        name,
        lasts_s,
        begins,
        ends: mended,
        at: At::Lift,
        naming,
        back_within_s: BACK,
        bump_after_s: 0.0,
    }
}

const fn of_source(name: &'static str, begins: fn(&Scene<'_>) -> Actions, naming: Naming) -> Fault {
    Fault {
        name,
        lasts_s: 2.0 * HOUR,
        begins,
        ends: source_mended,
        at: At::Source,
        naming,
        back_within_s: BACK,
        bump_after_s: 0.0,
    }
}

const fn by(kinds: &'static [&'static str], within_s: f64) -> Naming {
    Naming::By { kinds, within_s }
}

pub(super) const FAULTS: &[Fault] = &[
    of_tank(
        "level sensor out of range",
        2.0 * HOUR,
        |s| sensor(s.site.tank, SensorFault::Reads(9.0)),
        by(&["sensor_out_of_range"], MIN),
    ),
    of_tank(
        "level sensor reads nothing but the floor",
        2.0 * HOUR,
        |s| sensor(s.site.tank, SensorFault::Reads(0.0)),
        by(
            &["level_jumped", "sensor_stuck", "sensor_out_of_range", "sensor_drifting"],
            10.0 * MIN,
        ),
    ),
    of_tank(
        "level sensor silent",
        2.0 * HOUR,
        |s| sensor(s.site.tank, SensorFault::Missing),
        by(&["sensor_silent"], MIN),
    ),
    of_tank(
        "level sensor stuck",
        2.0 * HOUR,
        |s| sensor(s.site.tank, SensorFault::Stuck),
        by(&["sensor_stuck"], 15.0 * MIN),
    ),
    of_tank("level sensor drifts up 40 mm", 8.0 * HOUR, |s| drift(s, 0.04), DRIFT),
    of_tank("level sensor drifts down 40 mm", 8.0 * HOUR, |s| drift(s, -0.04), DRIFT),
    of_tank(
        "level sensor knocked up 60 mm",
        2.0 * HOUR,
        |s| sensor(s.site.tank, SensorFault::Jump(0.06)),
        by(&["level_jumped", "sensor_drifting"], 2.0 * MIN),
    ),
    of_tank(
        "level sensor knocked down 60 mm",
        2.0 * HOUR,
        |s| sensor(s.site.tank, SensorFault::Jump(-0.06)),
        by(&["level_jumped", "sensor_drifting"], 2.0 * MIN),
    ),
    of_tank(
        "level sensor ten times as noisy",
        2.0 * HOUR,
        |s| sensor(s.site.tank, SensorFault::Noise(10.0)),
        by(&["sensor_noisy"], 15.0 * MIN),
    ),
    of_tank(
        "plugs of two level sensors swapped",
        2.0 * HOUR,
        |s| {
            change(Change::SwapSensors {
                tank: s.site.tank,
                other: s.site.source,
                swapped: true,
            })
        },
        by(&["sensors_swapped", "level_jumped"], 10.0 * MIN),
    ),
    of_source(
        "source's level sensor silent",
        |s| sensor(s.site.source, SensorFault::Missing),
        by(&["sensor_silent"], MIN),
    ),
    of_source(
        "source's level sensor stuck",
        |s| sensor(s.site.source, SensorFault::Stuck),
        by(&["sensor_stuck"], 15.0 * MIN),
    ),
    of_source(
        "source's level sensor knocked down 100 mm",
        |s| sensor(s.site.source, SensorFault::Jump(-0.1)),
        by(&["level_jumped", "sensor_drifting", "level_low"], 2.0 * MIN),
    ),
    Fault {
        name: "every level sensor silent",
        lasts_s: 2.0 * HOUR,
        begins: |s| every(s, SensorFault::Missing),
        ends: |s| every(s, SensorFault::Mended),
        at: At::Anywhere,
        naming: by(&["no_levels"], 2.0 * MIN),
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "manifold gauge silent",
        lasts_s: 2.0 * HOUR,
        begins: |s| {
            if s.site.gauge {
                change(Change::LoseGauge { lost: true })
            } else {
                Actions::new()
            }
        },
        ends: |_| change(Change::LoseGauge { lost: false }),
        at: At::Anywhere,
        naming: by(&["gauge_doubtful"], 10.0 * MIN),
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "manifold gauge reads 5 kPa too much",
        lasts_s: 2.0 * HOUR,
        begins: |s| {
            if s.site.gauge {
                change(Change::ShiftGauge { pa: 5000.0 })
            } else {
                Actions::new()
            }
        },
        ends: |_| change(Change::ShiftGauge { pa: 0.0 }),
        at: At::Anywhere,
        naming: by(&["gauge_doubtful", "pressure_high"], 30.0 * MIN),
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
];

fn drift(scene: &Scene<'_>, m: f64) -> Actions {
    let fault = SensorFault::Jump(m);
    let tank = scene.site.tank;
    over(Change::Sensor { tank, fault }, 6.0 * HOUR)
}

fn every(scene: &Scene<'_>, fault: SensorFault) -> Actions {
    (0..scene.scenario.told.tanks.len())
        .flat_map(|tank| sensor(tank, fault))
        .collect()
}
