//! The last events, for a host to read.

use heapless::Deque;
use risertrim::Millis;
use risertrim::link::{Event, LOG_PART, LogEntry};

/// Events kept.
const KEPT: usize = 32;

/// The last events; older ones are written over.
#[derive(Clone, Debug)]
pub struct Journal {
    entries: Deque<LogEntry, KEPT>,
    /// Events ever noted.
    end: u32,
}

impl Journal {
    /// Nothing noted yet.
    pub const fn new() -> Self {
        Self {
            entries: Deque::new(),
            end: 0,
        }
    }

    /// Notes an event.
    pub fn note(&mut self, at: Millis, event: Event) {
        if self.entries.is_full() {
            let _ = self.entries.pop_front();
        }
        let _ = self.entries.push_back(LogEntry { at, event });
        self.end = self.end.wrapping_add(1);
    }

    /// Number after the newest entry.
    pub fn end(&self) -> u32 {
        self.end
    }

    /// Entries from this number on, as many as fit into a message, with the number of the first.
    pub fn from(&self, from: u32) -> (u32, heapless::Vec<LogEntry, LOG_PART>) {
        #[allow(clippy::cast_possible_truncation)] // at most KEPT
        let kept = self.entries.len() as u32;
        let oldest = self.end.wrapping_sub(kept);
        let ahead = from.wrapping_sub(oldest);
        // A number that lies beyond the newest entry, or before the oldest, wraps to more than is kept.
        let beyond = self.end.wrapping_sub(from) >= 1 << 31;
        let skip = if beyond {
            kept
        } else if ahead > kept {
            0
        } else {
            ahead
        };
        let mut part = heapless::Vec::new();
        for entry in self.entries.iter().skip(skip as usize).take(LOG_PART) {
            // `collect` would keep a panic for want of places.
            let _ = part.push(*entry);
        }
        (oldest.wrapping_add(skip), part)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    #[test]
    fn a_host_that_asks_in_turn_reads_every_event_that_was_not_written_over() {
        let mut journal = Journal::new();
        for lift in 0..50 {
            journal.note(Millis(u32::from(lift)), Event::ValveFault { lift });
        }
        let mut next = 0;
        let mut read = Vec::new();
        while next != journal.end() {
            let (first, entries) = journal.from(next);
            assert!(!entries.is_empty());
            next = first + u32::try_from(entries.len()).unwrap();
            read.extend(entries);
        }
        assert_eq!(read.len(), KEPT);
        assert_eq!(read.first().map(|entry| entry.at), Some(Millis(18)));
        assert_eq!(read.last().map(|entry| entry.at), Some(Millis(49)));
    }

    #[test]
    fn asking_past_the_end_gives_nothing_and_too_far_back_gives_the_oldest() {
        let mut journal = Journal::new();
        assert!(journal.from(0).1.is_empty());
        for lift in 0..40 {
            journal.note(Millis(u32::from(lift)), Event::ValveDriven { lift });
        }
        assert!(journal.from(journal.end()).1.is_empty());
        assert!(journal.from(journal.end() + 5).1.is_empty());
        assert_eq!(journal.from(2).0, 8);
    }
}
