//! A valve or the blower as its driver answers: since when it cannot be driven, and whether somebody knows.

/// Drives in a row that fail before somebody is called: a bus that stumbles once is no reason to come.
const CALLS_AFTER: u8 = 3;
const FOR_EVER: u32 = u32::MAX;

/// How the driver of one valve, or of the blower, has answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Driven {
    /// Drives in a row that failed.
    failed: u8,
    /// How long the horn is still kept quiet, ms; [`FOR_EVER`] once somebody has seen it.
    quiet_ms: u32,
    /// The log says that it cannot be driven.
    told: bool,
}

impl Driven {
    /// It answers, as far as is known.
    pub const WELL: Self = Self {
        failed: 0,
        quiet_ms: 0,
        told: false,
    };

    /// Takes note of an answer.
    pub fn note(&mut self, failed: bool) {
        if failed {
            self.failed = self.failed.saturating_add(1);
        } else {
            (self.failed, self.quiet_ms) = (0, 0);
        }
    }

    /// What the log has to be told: that a fault began (true) or ended (false).
    pub fn tell(&mut self) -> Option<bool> {
        let fails = self.failed > 0;
        let news = fails != self.told;
        self.told = fails;
        news.then_some(fails)
    }

    /// True while it is a fault that people have to know of.
    pub fn stands(&self) -> bool {
        self.failed >= CALLS_AFTER
    }

    /// True while it stands and nobody has said that they know.
    pub fn sounds(&self) -> bool {
        self.stands() && self.quiet_ms == 0
    }

    /// Somebody has seen the faults that stand.
    pub fn acknowledge(&mut self) {
        if self.stands() {
            self.quiet_ms = FOR_EVER;
        }
    }

    /// Somebody wants quiet for some minutes; 0 ends that. What was seen stays so.
    pub fn silence(&mut self, minutes: u8) {
        if self.stands() && self.quiet_ms != FOR_EVER {
            self.quiet_ms = u32::from(minutes).saturating_mul(60_000);
        }
    }

    /// Time passes.
    pub fn passed(&mut self, ms: u32) {
        if self.quiet_ms != FOR_EVER {
            self.quiet_ms = self.quiet_ms.saturating_sub(ms);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_fault_that_stands_can_be_seen_and_one_that_comes_again_is_new() {
        let mut driven = Driven::WELL;
        driven.note(true);
        assert_eq!(driven.tell(), Some(true));
        driven.acknowledge();
        driven.note(true);
        assert!(!driven.stands());
        driven.note(true);
        assert_eq!(driven.tell(), None);
        assert!(driven.sounds(), "nobody could see it before it stood");
        driven.acknowledge();
        driven.silence(0);
        driven.passed(FOR_EVER);
        assert!(driven.stands() && !driven.sounds());
        driven.note(false);
        assert_eq!(driven.tell(), Some(false));
        assert_eq!(driven, Driven::WELL);
        for _ in 0..300 {
            driven.note(true);
        }
        assert!(driven.sounds());
    }
}
