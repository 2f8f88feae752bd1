//! Resets that come too often: counted over the resets themselves.

use crate::board::RETAINED;
use risertrim::ResetCause;

/// So many resets by the program's own fault ...
const TOO_MANY: usize = 3;
/// ... within this time hold the valves at fixed openings, ms.
const WITHIN_MS: u32 = 600_000;
/// A new installation that is followed by such a reset within this time is taken back, ms.
const ON_TRIAL_MS: u32 = 60_000;

/// Marks words as ours. Changes when their meaning does.
const MARK: u32 = 0x7269_7302;
const STOPPED: u32 = 1;
const NEVER: u32 = u32::MAX;

/// What is known of past resets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Resets {
    /// How long ago the last resets by a fault were, the newest first, ms; [`NEVER`] for none.
    ages_ms: [u32; TOO_MANY],
    stopped: bool,
    /// Time that a new installation still has to prove itself, ms.
    on_trial_ms: u32,
}

impl Resets {
    /// No reset known.
    pub const NONE: Self = Self {
        ages_ms: [NEVER; TOO_MANY],
        stopped: false,
        on_trial_ms: 0,
    };

    /// From the words that outlived a reset; words that are not ours tell of no reset.
    pub fn from_words(words: [u32; RETAINED]) -> Self {
        let [mark, first, second, third, flags, on_trial_ms, _, sum] = words;
        if mark != MARK || sum != sum_of(words) {
            return Self::NONE;
        }
        Self {
            ages_ms: [first, second, third],
            stopped: flags & STOPPED != 0,
            on_trial_ms,
        }
    }

    /// As words that outlive a reset.
    pub fn words(&self) -> [u32; RETAINED] {
        let [first, second, third] = self.ages_ms;
        let flags = if self.stopped { STOPPED } else { 0 };
        let mut words = [MARK, first, second, third, flags, self.on_trial_ms, 0, 0];
        let sum = sum_of(words);
        if let Some(last) = words.last_mut() {
            *last = sum;
        }
        words
    }

    /// Takes note of a start. True when a new installation had not proved itself and should be taken back.
    pub fn started(&mut self, cause: ResetCause) -> bool {
        if !cause.by_the_program() {
            return false;
        }
        let [first, second, _] = self.ages_ms;
        self.ages_ms = [0, first, second];
        self.stopped |= self.ages_ms.iter().all(|age| *age <= WITHIN_MS);
        let take_back = self.on_trial_ms > 0;
        self.on_trial_ms = 0;
        take_back
    }

    /// Time passes.
    pub fn passed(&mut self, ms: u32) {
        for age in &mut self.ages_ms {
            *age = age.saturating_add(ms);
        }
        self.on_trial_ms = self.on_trial_ms.saturating_sub(ms);
    }

    /// A new installation was taken over.
    pub fn new_installation(&mut self) {
        self.on_trial_ms = ON_TRIAL_MS;
    }

    /// True while openings are to be fixed.
    pub fn stopped(&self) -> bool {
        self.stopped
    }

    /// Somebody has seen it.
    pub fn acknowledge(&mut self) {
        *self = Self::NONE;
    }
}

/// Over all words but the last.
fn sum_of(words: [u32; RETAINED]) -> u32 {
    let all_but_last = words.iter().take(RETAINED - 1);
    all_but_last.fold(0x811c_9dc5, |sum, word| (sum ^ word).wrapping_mul(0x0100_0193))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn over_a_reset(resets: &Resets, cause: ResetCause) -> (Resets, bool) {
        let mut after = Resets::from_words(resets.words());
        let take_back = after.started(cause);
        (after, take_back)
    }

    #[test]
    fn the_third_reset_by_the_watchdog_within_ten_minutes_stops_and_the_stop_outlives_resets() {
        let mut resets = Resets::NONE;
        for _ in 0..2 {
            resets = over_a_reset(&resets, ResetCause::Watchdog).0;
            assert!(!resets.stopped());
            resets.passed(290_000);
        }
        resets = over_a_reset(&resets, ResetCause::Watchdog).0;
        assert!(resets.stopped());
        resets.passed(10_000_000);
        resets = over_a_reset(&resets, ResetCause::Pin).0;
        assert!(resets.stopped(), "nobody has acknowledged");
        resets.acknowledge();
        assert!(!over_a_reset(&resets, ResetCause::Watchdog).0.stopped());
    }

    #[test]
    fn three_resets_over_more_than_ten_minutes_do_not_stop() {
        let mut resets = Resets::NONE;
        for _ in 0..20 {
            resets = over_a_reset(&resets, ResetCause::Watchdog).0;
            resets.passed(301_000);
            assert!(!resets.stopped());
        }
    }

    #[test]
    fn power_that_comes_and_goes_does_not_stop() {
        let mut resets = Resets::NONE;
        for cause in [
            ResetCause::PowerOn,
            ResetCause::BrownOut,
            ResetCause::Pin,
            ResetCause::Asked,
        ]
        .repeat(5)
        {
            resets = over_a_reset(&resets, cause).0;
        }
        assert!(!resets.stopped());
    }

    #[test]
    fn memory_that_holds_anything_tells_of_no_reset() {
        assert_eq!(Resets::from_words([0; RETAINED]), Resets::NONE);
        assert_eq!(Resets::from_words([u32::MAX; RETAINED]), Resets::NONE);
        let mut stopped = Resets::NONE;
        for _ in 0..3 {
            stopped.started(ResetCause::Panic);
        }
        assert!(Resets::from_words(stopped.words()).stopped());
        for word in 0..RETAINED {
            for bit in 0..32 {
                let mut words = stopped.words();
                words[word] ^= 1 << bit;
                assert_eq!(Resets::from_words(words), Resets::NONE, "word {word}, bit {bit}");
            }
        }
    }

    #[test]
    fn an_installation_followed_by_a_fault_within_a_minute_is_taken_back_once() {
        let mut resets = Resets::NONE;
        resets.new_installation();
        resets.passed(59_000);
        let (after, take_back) = over_a_reset(&resets, ResetCause::HardFault);
        assert!(take_back);
        assert!(!over_a_reset(&after, ResetCause::HardFault).1);
        resets.passed(2_000);
        assert!(!over_a_reset(&resets, ResetCause::HardFault).1, "it had proved itself");
    }
}
