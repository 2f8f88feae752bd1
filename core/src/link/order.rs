//! Which requests are new.

use serde::{Deserialize, Serialize};

/// What a receiver has seen of a line. Each count stops at its largest value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Counts {
    /// Frames that arrived whole.
    pub whole: u32,
    /// Frames that arrived torn or damaged.
    pub damaged: u32,
    /// Frames that came again.
    pub repeated: u32,
    /// Frames that came behind a newer one.
    pub late: u32,
    /// Numbers that were left out: frames that never came.
    pub missed: u32,
}

/// What a numbered frame is to its receiver.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Arrival {
    /// Not seen before: act on it.
    New,
    /// The last one again: send the same answer, do not act again.
    Repeated,
    /// Older than the last one: drop it.
    Late,
}

/// Puts requests in order by their numbers, through the wrap of the number if need be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Inbox {
    last: Option<u32>,
    /// The number of the hello that began this conversation.
    first: Option<u32>,
    counts: Counts,
}

impl Inbox {
    /// Nothing received yet.
    pub const EMPTY: Self = Self {
        last: None,
        first: None,
        counts: Counts {
            whole: 0,
            damaged: 0,
            repeated: 0,
            late: 0,
            missed: 0,
        },
    };

    /// Takes note of a frame that arrived whole.
    pub fn take(&mut self, number: u32) -> Arrival {
        self.counts.whole = self.counts.whole.saturating_add(1);
        let Some(last) = self.last else {
            self.last = Some(number);
            return Arrival::New;
        };
        let ahead = number.wrapping_sub(last);
        if ahead == 0 {
            self.counts.repeated = self.counts.repeated.saturating_add(1);
            Arrival::Repeated
        } else if ahead < 1 << 31 {
            self.counts.missed = self.counts.missed.saturating_add(ahead - 1);
            self.last = Some(number);
            Arrival::New
        } else {
            self.counts.late = self.counts.late.saturating_add(1);
            Arrival::Late
        }
    }

    /// Takes note of frames that arrived torn or damaged.
    pub fn damaged(&mut self, frames: u32) {
        self.counts.damaged = self.counts.damaged.saturating_add(frames);
    }

    /// Takes note of a hello that arrived whole: the numbers start anew at its own, unless it is one already seen.
    pub fn take_hello(&mut self, number: u32) -> Arrival {
        if self.first == Some(number) {
            return self.take(number);
        }
        self.counts.whole = self.counts.whole.saturating_add(1);
        self.first = Some(number);
        self.last = Some(number);
        Arrival::New
    }

    /// What was seen so far.
    #[must_use]
    pub const fn counts(&self) -> Counts {
        self.counts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_request_is_acted_on_once_however_often_it_comes() {
        let mut inbox = Inbox::EMPTY;
        assert_eq!(inbox.take(7), Arrival::New);
        assert_eq!(inbox.take(7), Arrival::Repeated);
        assert_eq!(inbox.take(8), Arrival::New);
        assert_eq!(inbox.take(7), Arrival::Late, "it was overtaken");
        assert_eq!(inbox.take(8), Arrival::Repeated);
        let counts = inbox.counts();
        assert_eq!(
            (counts.whole, counts.repeated, counts.late, counts.missed),
            (5, 2, 1, 0)
        );
    }

    #[test]
    fn a_gap_in_the_numbers_is_counted_and_a_wrap_is_none() {
        let mut inbox = Inbox::EMPTY;
        assert_eq!(inbox.take(u32::MAX - 1), Arrival::New);
        assert_eq!(inbox.take(u32::MAX), Arrival::New);
        assert_eq!(inbox.take(0), Arrival::New);
        assert_eq!(inbox.counts().missed, 0);
        assert_eq!(inbox.take(4), Arrival::New);
        assert_eq!(inbox.counts().missed, 3);
        assert_eq!(inbox.take(u32::MAX), Arrival::Late);
    }

    #[test]
    fn a_hello_starts_the_numbers_anew_and_a_late_copy_of_it_does_not() {
        let mut inbox = Inbox::EMPTY;
        inbox.take(1_000_000);
        assert_eq!(inbox.take_hello(3), Arrival::New);
        assert_eq!(inbox.take_hello(3), Arrival::Repeated);
        assert_eq!(inbox.take(4), Arrival::New);
        assert_eq!(inbox.take_hello(3), Arrival::Late);
        assert_eq!(inbox.take(4), Arrival::Repeated, "the numbers did not start anew");
        assert_eq!(inbox.counts().missed, 0);
    }
}
