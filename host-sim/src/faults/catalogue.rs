//! The faults that a controller is tried against.

mod air;
mod lines;
mod people;
mod power;
mod sensors;
mod valves;

use super::fault::{Actions, Fault, Scene};
use crate::plant::{Change, SensorFault};
use crate::scenario::{BoardEvent, Happening};
use risertrim::Command;

/// Seconds in a minute.
const MIN: f64 = 60.0;
/// Seconds in an hour.
const HOUR: f64 = 3600.0;
/// One litre a minute, m3/s.
const L_MIN: f64 = 1.0 / 60_000.0;
/// Time in which the lifts are back on target after a fault, s, unless a fault says otherwise.
const BACK: f64 = 30.0 * MIN;

/// How long people work on a lift, s.
const SERVICE: f64 = 10.0 * MIN;

/// Every fault, grouped by what it strikes.
#[must_use]
pub fn all() -> Vec<Fault> {
    [
        sensors::FAULTS,
        valves::FAULTS,
        air::FAULTS,
        lines::FAULTS,
        people::FAULTS,
        power::FAULTS,
    ]
    .concat()
}

fn change(change: Change) -> Actions {
    over(change, 0.0)
}

fn over(change: Change, over_s: f64) -> Actions {
    vec![(0.0, Happening::Plant { change, over_s })]
}

fn board(event: BoardEvent) -> Actions {
    vec![(0.0, Happening::Board(event))]
}

fn sensor(tank: usize, fault: SensorFault) -> Actions {
    change(Change::Sensor { tank, fault })
}

/// People take the lift out of service, put it right and give it back after ten minutes; the controller is told.
fn serviced(scene: &Scene<'_>, right: Change) -> Actions {
    let lift = scene.site.lift;
    let Ok(index) = u8::try_from(lift) else {
        return Actions::new();
    };
    let by_hand = |shut| Change::ShutLift { lift, shut };
    let both = |command, change| Happening::Both { command, change };
    vec![
        (0.0, both(Command::OutOfService { lift: index }, by_hand(true))),
        (
            0.5 * SERVICE,
            Happening::Plant {
                change: right,
                over_s: 0.0,
            },
        ),
        (SERVICE, both(Command::Automatic { lift: index }, by_hand(false))),
    ]
}

fn nothing(_: &Scene<'_>) -> Actions {
    Actions::new()
}
