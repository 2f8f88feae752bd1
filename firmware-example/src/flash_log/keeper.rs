//! The log on flash as the records of a board go into it.

use super::{FlashLog, LogCursor};
use crate::board_log::{LogSink, Piece};
use embedded_storage::nor_flash::NorFlash;
use risertrim::record::{Sink, SinkFull};

/// Frames one by one, without a head: when a page was begun, the recorder is asked to repeat its header, which then stands near the front
/// of the page and costs no memory. Give it pages of four times the installation's bytes or more (4 KiB for eight lifts).
impl<F: NorFlash> Sink for FlashLog<F> {
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
        let page = self.sequence;
        let kept = self.append(frame, &[]);
        self.began |= self.sequence != page;
        kept.map_err(|_| SinkFull)
    }

    fn wants_header(&mut self) -> bool {
        core::mem::take(&mut self.began)
    }
}

/// A place is the number of a page times its bytes, and the offset in it.
impl<F: NorFlash> LogSink for FlashLog<F> {
    fn read_at(&mut self, from: u64, room: &mut [u8]) -> Option<Piece> {
        let page_bytes = u64::from(self.area.slot_bytes).max(1);
        let place = |cursor: &LogCursor| {
            u64::from(cursor.sequence)
                .saturating_mul(page_bytes)
                .saturating_add(u64::from(cursor.offset))
        };
        let asked = LogCursor {
            sequence: u32::try_from(from / page_bytes).unwrap_or(u32::MAX),
            offset: u32::try_from(from % page_bytes).unwrap_or(0),
        };
        let oldest = self.oldest();
        let mut cursor = if asked.sequence < oldest.sequence {
            oldest
        } else {
            asked
        };
        let at = place(&cursor);
        let bytes = self.read(&mut cursor, room).ok()?;
        Some(Piece {
            at,
            bytes,
            next: place(&cursor),
        })
    }
}

/// A [`FlashLog`] that is opened at the first record, so that outputs can be made safe before any flash is read.
///
/// A flash that cannot be opened refuses a record, and is tried again at the next.
#[derive(Debug)]
pub struct FlashLogKeeper<F> {
    unopened: Option<F>,
    log: Option<FlashLog<F>>,
}

impl<F: NorFlash> FlashLogKeeper<F> {
    /// Not opened yet.
    #[must_use]
    pub const fn new(flash: F) -> Self {
        Self {
            unopened: Some(flash),
            log: None,
        }
    }

    /// Gives the flash back; nothing can be kept afterwards.
    pub fn take_flash(&mut self) -> Option<F> {
        let opened = self.log.take().map(FlashLog::release);
        opened.or_else(|| self.unopened.take())
    }

    fn log(&mut self) -> Option<&mut FlashLog<F>> {
        if let Some(flash) = self.unopened.take() {
            match FlashLog::open_or_back(flash) {
                Ok(log) => self.log = Some(log),
                Err((flash, _)) => self.unopened = Some(flash),
            }
        }
        self.log.as_mut()
    }
}

impl<F: NorFlash> Sink for FlashLogKeeper<F> {
    fn put(&mut self, frame: &[u8]) -> Result<(), SinkFull> {
        self.log().ok_or(SinkFull)?.put(frame)
    }

    fn wants_header(&mut self) -> bool {
        self.log().is_some_and(Sink::wants_header)
    }
}

impl<F: NorFlash> LogSink for FlashLogKeeper<F> {
    fn read_at(&mut self, from: u64, room: &mut [u8]) -> Option<Piece> {
        self.log()?.read_at(from, room)
    }
}
