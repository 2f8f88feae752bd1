//! The log in memory: the newest frames, for a board without flash to spare or to be sent when somebody asks.

use crate::board_log::{LogSink, Piece};
use risertrim::frame::DELIMITER;
use risertrim::record::{Sink, SinkFull};

/// The newest frames in a ring of `N` bytes; the oldest are dropped whole to make room.
///
/// At `b` bytes logged an hour a KiB goes back `1024 / b` hours. It is lost with the power.
///
/// ```
/// use risertrim_firmware::RamLog;
///
/// let mut log = RamLog::<8>::new();
/// log.push(&[3, 7, 7, 0]);
/// log.push(&[2, 8, 0]);
/// log.push(&[2, 9, 0]); // the first frame makes room
/// assert_eq!(log.bytes().collect::<Vec<u8>>(), [2, 8, 0, 2, 9, 0]);
/// assert_eq!(log.dropped(), 1);
/// ```
#[derive(Clone, Debug, Default)]
pub struct RamLog<const N: usize> {
    bytes: heapless::Deque<u8, N>,
    dropped: u32,
    /// Bytes ever taken out or dropped: the place of the first that is here.
    gone: u64,
    /// Bytes kept since a header was asked for.
    since_header: usize,
}

impl<const N: usize> RamLog<N> {
    /// An empty log.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            bytes: heapless::Deque::new(),
            dropped: 0,
            gone: 0,
            since_header: 0,
        }
    }

    /// Adds a frame, its delimiter included. One that is longer than the whole log, or not ended by a delimiter, is dropped.
    pub fn push(&mut self, frame: &[u8]) {
        if !Self::holds(frame) {
            self.dropped = self.dropped.saturating_add(1);
            return;
        }
        while N.saturating_sub(self.bytes.len()) < frame.len() {
            self.drop_oldest();
        }
        for byte in frame {
            // There is room for all of them.
            let _ = self.bytes.push_back(*byte);
        }
    }

    /// Takes the oldest frame out, into `room`; gives its length with the delimiter. `None` when the log is empty; a frame that
    /// does not fit is dropped and counted, and gives 0.
    pub fn take(&mut self, room: &mut [u8]) -> Option<usize> {
        if self.bytes.is_empty() {
            return None;
        }
        let mut length = 0usize;
        let mut fits = true;
        while let Some(byte) = self.bytes.pop_front() {
            match room.get_mut(length) {
                Some(place) => *place = byte,
                None => fits = false,
            }
            length = length.saturating_add(1);
            self.gone = self.gone.saturating_add(1);
            if byte == DELIMITER {
                break;
            }
        }
        if !fits {
            self.dropped = self.dropped.saturating_add(1);
            return Some(0);
        }
        Some(length)
    }

    /// All bytes, the oldest first: a stream of whole frames.
    pub fn bytes(&self) -> impl Iterator<Item = u8> + '_ {
        self.bytes.iter().copied()
    }

    /// Frames that were dropped so far.
    #[must_use]
    pub fn dropped(&self) -> u32 {
        self.dropped
    }

    /// True when a frame of this length can be kept at all.
    fn holds(frame: &[u8]) -> bool {
        frame.len() <= N && frame.last() == Some(&DELIMITER)
    }

    fn drop_oldest(&mut self) {
        while let Some(byte) = self.bytes.pop_front() {
            self.gone = self.gone.saturating_add(1);
            if byte == DELIMITER {
                break;
            }
        }
        self.dropped = self.dropped.saturating_add(1);
    }
}

/// A [`risertrim::record::Recorder`] writes into it: the newest records stay, one longer than the whole log is refused and told as a gap.
impl<const N: usize> Sink for RamLog<N> {
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
        if !Self::holds(frame) {
            return Err(SinkFull);
        }
        self.push(frame);
        self.since_header = self.since_header.saturating_add(frame.len());
        Ok(())
    }

    /// Twice in a ring, so that what is left of it can always be read by itself.
    fn wants_header(&mut self) -> bool {
        let wants = self.since_header >= N / 2;
        if wants {
            self.since_header = 0;
        }
        wants
    }
}

/// A place is the number of bytes before it.
impl<const N: usize> LogSink for RamLog<N> {
    fn read_at(&mut self, from: u64, room: &mut [u8]) -> Option<Piece> {
        let at = from.max(self.gone);
        let mut skip = usize::try_from(at.saturating_sub(self.gone)).unwrap_or(usize::MAX);
        let (first, second) = self.bytes.as_slices();
        let mut places = room.iter_mut();
        let mut bytes = 0usize;
        for part in [first, second] {
            let rest = part.get(skip..).unwrap_or_default();
            skip = skip.saturating_sub(part.len());
            for (byte, place) in rest.iter().zip(places.by_ref()) {
                *place = *byte;
                bytes = bytes.saturating_add(1);
            }
        }
        let next = at.saturating_add(u64::try_from(bytes).unwrap_or(u64::MAX));
        Some(Piece { at, bytes, next })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_a_sink_it_keeps_the_newest_and_refuses_what_it_can_never_hold() {
        let mut log = RamLog::<6>::new();
        assert_eq!(log.put(&[3, 7, 7, 0]), Ok(()));
        assert_eq!(log.put(&[2, 8, 0]), Ok(()));
        assert_eq!(log.put(&[6, 1, 1, 1, 1, 1, 0]), Err(SinkFull));
        assert_eq!(log.put(&[2, 9]), Err(SinkFull));
        assert!(log.bytes().eq([2, 8, 0]));
        assert_eq!(log.dropped(), 1);
    }

    #[test]
    fn it_is_read_back_piece_by_piece_while_the_oldest_frames_make_room() {
        let mut log = RamLog::<8>::new();
        for frame in [[3, 1, 1, 0], [3, 2, 2, 0]] {
            log.put(&frame).unwrap();
        }
        let mut room = [0; 3];
        let piece = |at, bytes, next| Some(Piece { at, bytes, next });
        assert_eq!(log.read_at(0, &mut room), piece(0, 3, 3));
        assert_eq!(room, [3, 1, 1]);
        // The frame that is being read goes: the reader learns that it has missed a byte.
        log.put(&[3, 3, 3, 0]).unwrap();
        assert_eq!(log.read_at(3, &mut room), piece(4, 3, 7));
        assert_eq!(log.read_at(7, &mut room), piece(7, 3, 10));
        assert_eq!(room, [0, 3, 3]);
        assert_eq!(log.read_at(10, &mut room), piece(10, 2, 12));
        assert_eq!(log.read_at(12, &mut room), piece(12, 0, 12), "its end");
        assert_eq!(log.read_at(99, &mut room), piece(99, 0, 99), "past its end");
    }
}
