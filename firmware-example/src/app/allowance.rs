//! How often what people ask for is kept: a host that changes its mind at every step may not wear out the flash.

/// One change more may be kept each ...
const EACH_MS: u32 = 10_000;
/// ... and so many at once after a quiet time: each of several lifts that are taken out of service one after the other may have a
/// hand in it.
const AT_ONCE: u32 = 4;

/// Changes that may be kept now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Allowance {
    /// Time saved up, ms.
    saved_ms: u32,
}

impl Allowance {
    /// After a quiet time.
    pub const WHOLE: Self = Self {
        saved_ms: AT_ONCE * EACH_MS,
    };

    /// Time passes.
    pub fn passed(&mut self, ms: u32) {
        self.saved_ms = self.saved_ms.saturating_add(ms).min(AT_ONCE * EACH_MS);
    }

    /// True when a change may be kept now; it is used up then.
    pub fn take(&mut self) -> bool {
        let left_ms = self.saved_ms.checked_sub(EACH_MS);
        self.saved_ms = left_ms.unwrap_or(self.saved_ms);
        left_ms.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whatever_comes_four_at_once_and_one_each_ten_seconds_are_kept() {
        let mut allowance = Allowance::WHOLE;
        allowance.passed(u32::MAX);
        let kept = (0..1000).filter(|_| {
            allowance.passed(1000);
            allowance.take()
        });
        assert_eq!(kept.count(), 4 + 100 - 1);
    }
}
