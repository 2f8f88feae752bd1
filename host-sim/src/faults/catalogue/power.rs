//! Power, board and clock.

use super::super::fault::{At, Fault, Naming};
use super::{BACK, HOUR, MIN, board, nothing};
use crate::scenario::BoardEvent;

const DARK: Naming = Naming::Silent {
    why: "a board without power can tell nobody: an alarm with its own supply would",
};

pub(super) const FAULTS: &[Fault] = &[
    Fault {
        name: "power fails for twenty minutes",
        lasts_s: 20.0 * MIN,
        begins: |_| board(BoardEvent::PowerFails),
        ends: |_| board(BoardEvent::PowerBack),
        at: At::Anywhere,
        naming: DARK,
        back_within_s: BACK,
        bump_after_s: 60.0,
    },
    Fault {
        name: "board off for twenty minutes, blower on",
        lasts_s: 20.0 * MIN,
        begins: |_| board(BoardEvent::Stops),
        ends: |_| board(BoardEvent::Starts { remembers: true }),
        at: At::Anywhere,
        naming: DARK,
        back_within_s: BACK,
        bump_after_s: 60.0,
    },
    Fault {
        name: "board restarts and has forgotten",
        lasts_s: 10.0,
        begins: |_| board(BoardEvent::Stops),
        ends: |_| board(BoardEvent::Starts { remembers: false }),
        at: At::Anywhere,
        naming: DARK,
        back_within_s: HOUR,
        bump_after_s: 60.0,
    },
    Fault {
        name: "clock leaps an hour ahead",
        lasts_s: 30.0 * MIN,
        begins: |_| board(BoardEvent::ClockLeaps(3600.0)),
        ends: nothing,
        at: At::Anywhere,
        naming: Naming::By {
            kinds: &["clock_jumped"],
            within_s: MIN,
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "clock goes back ten minutes",
        lasts_s: 30.0 * MIN,
        begins: |_| board(BoardEvent::ClockLeaps(-600.0)),
        ends: nothing,
        at: At::Anywhere,
        naming: Naming::By {
            kinds: &["clock_jumped"],
            within_s: MIN,
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
    Fault {
        name: "clock wraps",
        lasts_s: 30.0 * MIN,
        // Every run starts so that its counter wraps a minute after the onset: nothing more has to be done.
        begins: |_| board(BoardEvent::ClockLeaps(0.0)),
        ends: nothing,
        at: At::Anywhere,
        naming: Naming::Silent {
            why: "no fault: the 32-bit counter wraps every 49.7 days",
        },
        back_within_s: BACK,
        bump_after_s: 0.0,
    },
];
