//! Where frames go.

use serde::{Deserialize, Serialize};

/// The frame was not taken; nothing of it was kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SinkFull;

impl core::fmt::Display for SinkFull {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("there is no room for the frame; nothing of it was kept")
    }
}

impl core::error::Error for SinkFull {}

/// Takes whole frames: a file, a ring in RAM or flash, a serial port with a queue.
pub trait Sink {
    /// Keeps a frame, all of it or nothing. It may not wait: what cannot be kept now is refused, counted, and told by a
    /// [`super::GapRecord`] once frames are taken again.
    ///
    /// # Errors
    /// [`SinkFull`] when it is full.
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull>;

    /// True, once, when what was put before may be lost while what follows stays (a page of flash was begun): the header is then repeated
    /// at the next step.
    fn wants_header(&mut self) -> bool {
        false
    }
}

impl<const N: usize> Sink for heapless::Vec<u8, N> {
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
        self.extend_from_slice(frame).map_err(|_| SinkFull)
    }
}
