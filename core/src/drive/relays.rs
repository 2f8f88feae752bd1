//! Several blowers on relays: as many run as are wanted, in turn.

use super::{Active, DriveFault};
use crate::time::{Elapsed, Millis};
use embedded_hal::digital::OutputPin;
use serde::{Deserialize, Serialize};

/// Times of a bank of blowers, ms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BankTimes {
    /// Shortest time between two starts: two motors must not draw their starting current together.
    pub stagger_ms: u32,
    /// Shortest time a blower runs once started.
    pub least_on_ms: u32,
    /// Shortest time it rests once stopped: motors may be started only so often an hour.
    pub least_off_ms: u32,
    /// A blower that has run this much longer than one at rest changes places with it; 0 for never.
    pub rotate_ms: u32,
}

impl BankTimes {
    /// 5 s between starts, at least 5 min on and off (six starts an hour), a change of places every day (common practice, no
    /// standard).
    pub const USUAL: Self = Self {
        stagger_ms: 5_000,
        least_on_ms: 300_000,
        least_off_ms: 300_000,
        rotate_ms: 86_400_000,
    };
}

#[derive(Debug)]
struct Unit<P> {
    pin: P,
    on: bool,
    failed: bool,
    held_ms: u32,
    run_ms: u64,
}

/// Blowers on relays. The one that has run least starts first, the one that has run most stops first; when places change, the
/// new one starts before the old one stops, so that the air never dips. A relay that cannot be set is tried again at every call, and another
/// blower runs in its place meanwhile, where one rests. Relays that answer again together take hold one after the other: they may all have let
/// go.
#[derive(Debug)]
pub struct RelayBank<P, const N: usize> {
    units: [Unit<P>; N],
    runs: Active,
    times: BankTimes,
    wanted: usize,
    since_start_ms: u32,
    last: Option<Millis>,
}

impl<P: OutputPin, const N: usize> RelayBank<P, N> {
    /// Blowers that run at this level of their pins. All are wanted until [`RelayBank::want`] says otherwise; they start one
    /// after the other from the first call on.
    ///
    /// `run_ms` is what each had run before, as kept by the board ([`RelayBank::run_ms`]); zeros for a new bank.
    #[must_use]
    pub fn new(pins: [P; N], runs: Active, times: BankTimes, run_ms: [u64; N]) -> Self {
        let mut ran = run_ms.into_iter();
        Self {
            units: pins.map(|pin| Unit {
                pin,
                on: false,
                failed: false,
                held_ms: u32::MAX,
                run_ms: ran.next().unwrap_or(0),
            }),
            runs,
            times,
            wanted: N,
            since_start_ms: u32::MAX,
            last: None,
        }
    }

    /// How many should run; more than there are means all. **Caution**: with none, the fish have no air.
    pub fn want(&mut self, count: usize) {
        self.wanted = count.min(N);
    }

    /// How many run, as far as their relays answer.
    #[must_use]
    pub fn running(&self) -> usize {
        self.units.iter().filter(|unit| unit.runs()).count()
    }

    /// True when this blower's relay is held.
    #[must_use]
    pub fn is_on(&self, blower: usize) -> bool {
        self.units.get(blower).is_some_and(|unit| unit.on)
    }

    /// What each has run, ms: to be kept over a restart so that wear stays shared.
    #[must_use]
    pub fn run_ms(&self) -> [u64; N] {
        let mut units = self.units.iter();
        [(); N].map(|()| units.next().map_or(0, |unit| unit.run_ms))
    }

    /// Starts and stops what is due, at most one of each; call it once a second or so.
    ///
    /// # Errors
    /// The first relay that could not be set. All others were set all the same.
    pub fn poll(&mut self, now: Millis) -> Result<(), DriveFault> {
        self.book(now);
        self.decide();
        let mut result = Ok(());
        for (index, unit) in self.units.iter_mut().enumerate() {
            // A relay that did not answer may have let go meanwhile: that it takes hold again is a start like any other.
            let starts = unit.on && unit.failed;
            // Since no other was started after it, or long enough after that.
            let may = unit.held_ms <= self.since_start_ms || self.since_start_ms >= self.times.stagger_ms;
            let holds = unit.on && (!starts || may);
            // Written at every call: a relay that lost its state gets it back.
            let failed = unit.pin.set_state(self.runs.pin(holds)).is_err();
            if starts && holds && !failed {
                self.since_start_ms = 0;
                unit.held_ms = 0;
            }
            unit.failed = failed || holds != unit.on;
            if failed && result.is_ok() {
                result = Err(DriveFault::Relay(u8::try_from(index).unwrap_or(u8::MAX)));
            }
        }
        result
    }

    fn book(&mut self, now: Millis) {
        let Some(last) = self.last.replace(now) else { return };
        let Elapsed::Forward(passed) = now.since(last) else {
            return;
        };
        self.since_start_ms = self.since_start_ms.saturating_add(passed);
        for unit in &mut self.units {
            unit.held_ms = unit.held_ms.saturating_add(passed);
            if unit.runs() {
                unit.run_ms = unit.run_ms.saturating_add(u64::from(passed));
            }
        }
    }

    fn decide(&mut self) {
        let running = self.running();
        let started_up = self.since_start_ms >= self.times.stagger_ms;
        if running < self.wanted {
            if started_up {
                self.start();
            }
        } else if running > self.wanted {
            // The one started last has come up to speed by now.
            if started_up {
                self.stop();
            }
        } else if started_up && self.must_rotate() {
            self.start();
        }
    }

    /// True when the one that has run most and may stop has run `rotate_ms` longer than the one that would start.
    fn must_rotate(&self) -> bool {
        let rotate = u64::from(self.times.rotate_ms);
        let rested = self.units.iter().filter(|unit| unit.may_start(&self.times));
        let tired = self.units.iter().filter(|unit| unit.may_stop(&self.times));
        let least = rested.map(|unit| unit.run_ms).min();
        let most = tired.map(|unit| unit.run_ms).max();
        rotate > 0 && matches!((least, most), (Some(least), Some(most)) if most >= least.saturating_add(rotate))
    }

    fn start(&mut self) {
        let times = self.times;
        let next = self.units.iter_mut().filter(|unit| unit.may_start(&times));
        if let Some(unit) = next.min_by_key(|unit| unit.run_ms) {
            unit.on = true;
            unit.held_ms = 0;
            self.since_start_ms = 0;
        }
    }

    fn stop(&mut self) {
        let times = self.times;
        let next = self.units.iter_mut().filter(|unit| unit.may_stop(&times));
        if let Some(unit) = next.max_by_key(|unit| unit.run_ms) {
            unit.on = false;
            unit.held_ms = 0;
        }
    }
}

impl<P> Unit<P> {
    fn runs(&self) -> bool {
        self.on && !self.failed
    }

    fn may_start(&self, times: &BankTimes) -> bool {
        !self.on && !self.failed && self.held_ms >= times.least_off_ms
    }

    fn may_stop(&self, times: &BankTimes) -> bool {
        self.runs() && self.held_ms >= times.least_on_ms
    }
}
