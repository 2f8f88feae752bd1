//! An on/off solenoid as a valve: open for a share of each cycle.

use super::{Active, DriveFault, ValveDrive};
use crate::time::{Elapsed, Millis};
use crate::units::Opening;
use embedded_hal::digital::OutputPin;
use serde::{Deserialize, Serialize};

/// Times of a time-proportioned solenoid, ms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CycleTimes {
    /// One cycle; 100 to 600 000. See [`super::pulsed`] for the choice.
    pub cycle_ms: u32,
    /// Shortest time the valve is open; at most one cycle.
    pub least_open_ms: u32,
    /// Shortest time it is shut; at most one cycle.
    pub least_shut_ms: u32,
}

impl CycleTimes {
    /// A cycle of 20 s, and at least 1 s either way: 1.6 million cycles a year, of the 10 million or so that a good air solenoid
    /// lasts (from makers' usual figures; common practice, no standard).
    pub const USUAL: Self = Self {
        cycle_ms: 20_000,
        least_open_ms: 1_000,
        least_shut_ms: 1_000,
    };

    fn sane(self) -> Self {
        let cycle_ms = self.cycle_ms.clamp_to(100, 600_000);
        Self {
            cycle_ms,
            least_open_ms: self.least_open_ms.clamp_to(0, cycle_ms),
            least_shut_ms: self.least_shut_ms.clamp_to(0, cycle_ms),
        }
    }
}

/// `u32::clamp` has a panic path for limits that cross.
trait ClampTo {
    fn clamp_to(self, low: u32, high: u32) -> u32;
}

impl ClampTo for u32 {
    fn clamp_to(self, low: u32, high: u32) -> u32 {
        if self < low { low } else { self.min(high) }
    }
}

/// One millisecond in the unit time is owed in: shares are counted in 65536ths, so that no rounding adds up over months.
const ONE_MS: i64 = 1 << 16;

/// A solenoid that is open for the share of the time it was sent to.
///
/// Time it was open too long or too short (because of the shortest times, a late call, a pin that did not answer) is owed and
/// made up for in the next cycles: the mean over many cycles is the share, exactly. Sent wide open or shut, it is so at once, whatever is
/// owed.
///
/// Its share is a share of *time*. What that does to the flow of a lift is in [`super::pulsed`]: put the characteristic worked
/// out there into the installation, and the controller's openings come out as the right shares.
#[derive(Debug)]
pub struct Solenoid<P> {
    pin: P,
    opens: Active,
    times: CycleTimes,
    /// Share of the time, 65536ths.
    share: i64,
    open: bool,
    /// How long it has stood so, ms.
    held_ms: u32,
    /// Time into the cycle, ms.
    phase_ms: u32,
    /// A pulse of this cycle that waits for the shortest shut time.
    pulse_waits: bool,
    /// Open time owed (positive) or had too much of, in [`ONE_MS`].
    owed: i64,
    last: Option<Millis>,
    /// Time between the last two calls, ms: the next comes after as long, by guess.
    between_ms: u32,
}

impl<P: OutputPin> Solenoid<P> {
    /// A solenoid that lets air through at this level of the pin. A valve that is open without current (and so with
    /// [`Active::Low`]) keeps the fish in air when the board is dead.
    ///
    /// Times outside their ranges are held to them. It wants to be open until it is sent an opening; nothing is put on the pin before
    /// the first call.
    #[must_use]
    pub fn new(pin: P, opens: Active, times: CycleTimes) -> Self {
        Self {
            pin,
            opens,
            times: times.sane(),
            share: ONE_MS,
            open: true,
            held_ms: u32::MAX,
            phase_ms: 0,
            pulse_waits: false,
            owed: 0,
            last: None,
            between_ms: 0,
        }
    }

    /// True while the valve is held open.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.open
    }

    /// Books the time since the last call; true when a new cycle has begun.
    fn book(&mut self, now: Millis) -> bool {
        let Some(last) = self.last.replace(now) else {
            return true;
        };
        let Elapsed::Forward(passed) = now.since(last) else {
            return false;
        };
        let cycle = self.times.cycle_ms.max(1);
        // Beyond ten cycles the clock leapt or nobody called: that time is not made up for.
        let counted = i64::from(passed.min(cycle.saturating_mul(10)));
        self.owed += counted * (self.share - if self.open { ONE_MS } else { 0 });
        let most = 2 * i64::from(cycle) * ONE_MS;
        self.owed = if self.owed > most {
            most
        } else if self.owed < -most {
            -most
        } else {
            self.owed
        };
        self.held_ms = self.held_ms.saturating_add(passed);
        self.between_ms = passed.min(cycle);
        let phase = self.phase_ms.saturating_add(passed);
        self.phase_ms = phase % cycle;
        phase >= cycle
    }

    /// Whether the valve should be open now.
    fn wants_open(&mut self, new_cycle: bool) -> bool {
        let left = self.times.cycle_ms.saturating_sub(self.phase_ms);
        let whole = i64::from(left) * ONE_MS;
        // Open and shut time still due in this cycle.
        let open_due = self.owed + i64::from(left) * self.share;
        let shut_due = whole - open_due;
        let least_open = i64::from(self.times.least_open_ms) * ONE_MS;
        if new_cycle {
            // Too short to open for is owed; a whole cycle open where too little is left to shut for.
            self.pulse_waits = open_due > 0 && open_due >= least_open;
            return self.pulse_waits;
        }
        if self.open {
            // Shut now or at the next call, whichever is nearer.
            open_due > i64::from(self.between_ms) * ONE_MS / 2 || left < self.times.least_shut_ms
        } else {
            (self.pulse_waits && open_due >= least_open) || (shut_due <= 0 && whole >= least_open && left > 0)
        }
    }
}

impl<P: OutputPin> ValveDrive for Solenoid<P> {
    fn send(&mut self, opening: Opening, now: Millis) -> Result<(), DriveFault> {
        let new_cycle = self.book(now);
        #[allow(clippy::cast_possible_truncation)] // 0..65536
        {
            self.share = (opening.share() * 65_536.0 + 0.5) as i64;
        }
        // Wide open means now, and so does shut: what was open for too long before is not made up for by a lift without air.
        if (self.share == ONE_MS && self.owed < 0) || (self.share == 0 && self.owed > 0) {
            self.owed = 0;
        }
        self.act(new_cycle)
    }

    fn poll(&mut self, now: Millis) -> Result<(), DriveFault> {
        let new_cycle = self.book(now);
        self.act(new_cycle)
    }
}

impl<P: OutputPin> Solenoid<P> {
    fn act(&mut self, new_cycle: bool) -> Result<(), DriveFault> {
        let wanted = self.wants_open(new_cycle);
        let least = if self.open {
            self.times.least_open_ms
        } else {
            self.times.least_shut_ms
        };
        let switch = wanted != self.open && self.held_ms >= least;
        let next = if switch { wanted } else { self.open };
        // Written at every call: a pin that lost its state gets it back.
        self.pin
            .set_state(self.opens.pin(next))
            .map_err(|_| DriveFault::SolenoidPin)?;
        if switch {
            self.open = next;
            self.held_ms = 0;
        }
        if self.open {
            self.pulse_waits = false;
        }
        Ok(())
    }
}
