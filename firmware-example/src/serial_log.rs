//! The log sent as it comes, on a port of its own.

use crate::board_log::{LogSink, Piece};
use heapless::Deque;
use risertrim::record::{Sink, SinkFull};

/// Frames that wait for a port, `N` bytes of them at most. The application hands them to [`crate::Board::send_log`] whenever it is polled.
///
/// A port of 9600 bit/s takes 3.4 MB an hour, more than any plan writes; what must fit into `N` is what one step can write at once: an
/// installation and some records, 2 KiB for eight lifts. When it is full, frames are refused, and the recorder tells how many are missing.
///
/// At the other end: `risertrim decode --follow PORT`.
///
/// ```
/// use risertrim::record::Sink;
/// use risertrim_firmware::{LogSink, SerialLog};
///
/// let mut log = SerialLog::<8>::new();
/// assert!(log.put(&[3, 7, 7, 0]).is_ok() && log.put(&[3, 8, 8, 0]).is_ok());
/// assert!(log.put(&[2, 9, 0]).is_err(), "no room before something has gone out");
/// let mut port = Vec::new();
/// log.hand_on(|bytes| {
///     let now = bytes.len().min(5); // what its queue takes
///     port.extend_from_slice(&bytes[..now]);
///     now
/// });
/// assert_eq!(port, [3, 7, 7, 0, 3]);
/// ```
#[derive(Clone, Debug, Default)]
pub struct SerialLog<const N: usize> {
    waiting: Deque<u8, N>,
}

impl<const N: usize> SerialLog<N> {
    /// Nothing waits.
    #[must_use]
    pub const fn new() -> Self {
        Self { waiting: Deque::new() }
    }
}

impl<const N: usize> Sink for SerialLog<N> {
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
        if N.saturating_sub(self.waiting.len()) < frame.len() {
            return Err(SinkFull);
        }
        for byte in frame {
            // There is room for all of them.
            let _ = self.waiting.push_back(*byte);
        }
        Ok(())
    }
}

impl<const N: usize> LogSink for SerialLog<N> {
    fn read_at(&mut self, _from: u64, _room: &mut [u8]) -> Option<Piece> {
        None
    }

    fn hand_on(&mut self, mut send: impl FnMut(&[u8]) -> usize) {
        // What waits lies in two pieces at most.
        for _ in 0..2 {
            let (piece, _) = self.waiting.as_slices();
            let whole = piece.len();
            if whole == 0 {
                return;
            }
            let sent = send(piece).min(whole);
            for _ in 0..sent {
                let _ = self.waiting.pop_front();
            }
            if sent < whole {
                return;
            }
        }
    }
}
