//! A condition with delays and a deadband.

/// A condition with a delay to come on and a way back that lies beyond a deadband.
///
/// One word: the topmost bit says whether it stands, the others count the milliseconds (24 days and then no further) for
/// which it has been turning.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Condition(u32);

/// The bit that says that a condition stands.
const STANDS: u32 = 1 << 31;

impl Condition {
    /// A condition that does not stand.
    pub const CLEAR: Self = Self(0);

    /// One step: `beyond` the limit, or safely `back` from it. Comes on after `delay_s` beyond, goes off after `delay_s`
    /// back; between the two nothing changes.
    #[inline]
    pub fn update(&mut self, beyond: bool, back: bool, delay_s: u32, step_ms: u32) -> bool {
        if self.rests() && !beyond {
            return false;
        }
        self.turn(if self.stands() { back } else { beyond }, delay_s, step_ms)
    }

    /// The same where all that is not beyond is back.
    #[inline]
    pub fn follow(&mut self, beyond: bool, delay_s: u32, step_ms: u32) -> bool {
        if self.rests() && !beyond {
            return false;
        }
        self.turn_to(beyond, delay_s, step_ms)
    }

    /// The same with a delay to come on and another to go off.
    #[inline]
    pub fn update_slow(&mut self, beyond: bool, back: bool, delays_s: (u32, u32), step_ms: u32) -> bool {
        if self.rests() && !beyond {
            return false;
        }
        self.turn_slow(beyond, back, delays_s, step_ms)
    }

    #[inline(never)]
    fn turn_slow(&mut self, beyond: bool, back: bool, delays_s: (u32, u32), step_ms: u32) -> bool {
        let (turning, delay_s) = if self.stands() {
            (back, delays_s.1)
        } else {
            (beyond, delays_s.0)
        };
        self.turn(turning, delay_s, step_ms)
    }

    #[inline(never)]
    fn turn_to(&mut self, beyond: bool, delay_s: u32, step_ms: u32) -> bool {
        self.turn(beyond != self.stands(), delay_s, step_ms)
    }

    /// One step of turning to the other side, or of staying.
    #[inline(never)]
    fn turn(&mut self, turning: bool, delay_s: u32, step_ms: u32) -> bool {
        let stands = self.0 & STANDS;
        if !turning {
            self.0 = stands;
            return stands != 0;
        }
        let held_ms = (self.0 & !STANDS).saturating_add(step_ms).min(!STANDS);
        self.0 = if held_ms >= delay_s.saturating_mul(1000).min(!STANDS) {
            stands ^ STANDS
        } else {
            stands | held_ms
        };
        self.stands()
    }

    /// True while it neither stands nor turns.
    #[must_use]
    pub const fn rests(&self) -> bool {
        self.0 == 0
    }

    /// A condition that rests only where both do.
    #[must_use]
    pub const fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// True while it stands.
    #[must_use]
    pub const fn stands(&self) -> bool {
        self.0 & STANDS != 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_that_flutters_at_its_limit_raises_no_alarm_and_clears_none() {
        let mut condition = Condition::CLEAR;
        for step in 0..1000u32 {
            assert!(!condition.update(step % 2 == 0, step % 2 == 1, 2, 1000));
        }
        for _ in 0..2 {
            condition.update(true, false, 2, 1000);
        }
        for step in 0..1000u32 {
            assert!(condition.update(step % 2 == 0, step % 2 == 1, 2, 1000));
        }
    }
}
