//! The log in memory: the newest frames, for a board without flash to spare or to be sent when somebody asks.

use risertrim::frame::DELIMITER;

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
}

impl<const N: usize> RamLog<N> {
    /// An empty log.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            bytes: heapless::Deque::new(),
            dropped: 0,
        }
    }

    /// Adds a frame, its delimiter included. One that is longer than the whole log, or not ended by a delimiter, is dropped.
    pub fn push(&mut self, frame: &[u8]) {
        if frame.len() > N || frame.last() != Some(&DELIMITER) {
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

    fn drop_oldest(&mut self) {
        while let Some(byte) = self.bytes.pop_front() {
            if byte == DELIMITER {
                break;
            }
        }
        self.dropped = self.dropped.saturating_add(1);
    }
}
