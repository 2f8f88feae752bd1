//! The log on flash: frames in a ring of pages, the oldest page erased first.
//!
//! Each page begins with a header of its own (page number, CRC-32) and a head frame that the application gives, so that what is left after
//! others were erased can still be read. Then come frames, each filled up to whole words with delimiters, which a reader takes as idle
//! line. No frame lies in two pages. As the sink of a recorder it takes frames without a head, and has the recorder repeat its header in
//! the step after a page was begun.
//!
//! **Loss of power** costs the frame that was being written and no other: the torn frame is closed by delimiters at the next
//! start, and the reader reports it as damaged. A page torn while it was erased or begun is skipped, and erased again when its turn
//! comes.
//!
//! **How long it lasts.** With `b` bytes logged an hour on a flash part of `n` bytes, the log goes back `n / b` hours less one
//! page, and each page is erased `8766 b / n` times a year ([`log_hours`], [`log_erases_a_year`]):
//!
//! | logged | hours in a KiB | 128 KiB go back | erasures a year | years at 10 000 erasures |
//! | --- | --- | --- | --- | --- |
//! | 2 KiB/h (changes and minutes) | 0.5 | 64 h less a page | 137 | 73 |
//! | 20 KiB/h (every ten seconds) | 0.05 | 6.4 h less a page | 1370 | 7.3 |
//! | 200 KiB/h (every second) | 0.005 | 0.64 h less a page | 13 697 | 0.73: too fast, keep it in RAM or send it |

mod keeper;

use crate::store::StoreError;
use crate::store::area::{Area, CHUNK, alignment};
use crate::store::record::{CRC_BYTES, HEADER_BYTES, Header, Kind, round_up};
use embedded_storage::nor_flash::NorFlash;
use risertrim::frame::DELIMITER;

pub use keeper::FlashLogKeeper;

/// Hours that a log of `flash_bytes` goes back at `bytes_an_hour`, when one page is always being filled.
#[must_use]
#[allow(clippy::cast_precision_loss)] // a figure for people
pub fn log_hours(flash_bytes: u32, page_bytes: u32, bytes_an_hour: u32) -> f32 {
    flash_bytes.saturating_sub(page_bytes) as f32 / bytes_an_hour as f32
}

/// How many times each page of a log of `flash_bytes` is erased in a year at `bytes_an_hour`.
///
/// ```
/// # use risertrim_firmware::log_erases_a_year;
/// assert!((log_erases_a_year(128 * 1024, 2 * 1024) - 137.0).abs() < 0.1);
/// ```
#[must_use]
#[allow(clippy::cast_precision_loss)] // a figure for people
pub fn log_erases_a_year(flash_bytes: u32, bytes_an_hour: u32) -> f32 {
    const YEAR_H: f32 = 8766.0;
    YEAR_H * bytes_an_hour as f32 / flash_bytes as f32
}

/// The log on a flash (or a [`crate::Part`] of one): at least three pages.
#[derive(Debug)]
pub struct FlashLog<F> {
    flash: F,
    area: Area,
    page: u32,
    /// Where the next frame goes; `None` when this page takes no more.
    next: Option<u32>,
    /// Number of this page. Pages and their numbers go on together, so each number has its place.
    sequence: u32,
    /// A page was begun, and nobody was told yet.
    began: bool,
}

/// A place in the log, for reading it piece by piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LogCursor {
    sequence: u32,
    offset: u32,
}

impl<F: NorFlash> FlashLog<F> {
    /// Opens the log that this flash holds, or a new one. A frame torn by the loss of power is closed.
    ///
    /// # Errors
    /// When the flash cannot be read, does not suit, or has fewer than three pages. The flash is gone then; a [`FlashLogKeeper`]
    /// holds on to it and tries again.
    pub fn open(flash: F) -> Result<Self, StoreError> {
        Self::open_or_back(flash).map_err(|(_, error)| error)
    }

    /// The same; a flash that cannot be opened comes back.
    fn open_or_back(flash: F) -> Result<Self, (F, StoreError)> {
        let mut log = Self {
            flash,
            area: Area {
                from: 0,
                slot_bytes: 0,
                slots: 0,
                align: 0,
            },
            page: 0,
            next: None,
            sequence: 0,
            began: false,
        };
        match log.look_through() {
            Ok(()) => Ok(log),
            Err(error) => Err((log.flash, error)),
        }
    }

    fn look_through(&mut self) -> Result<(), StoreError> {
        let align = alignment::<F>()?;
        let slot_bytes = u32::try_from(F::ERASE_SIZE).map_err(|_| StoreError::Unsuitable)?;
        let capacity = u32::try_from(self.flash.capacity()).unwrap_or(u32::MAX);
        let slots = capacity.checked_div(slot_bytes).unwrap_or(0);
        if slots < 3 {
            return Err(StoreError::TooSmall(slot_bytes.saturating_mul(3)));
        }
        self.area = Area {
            from: 0,
            slot_bytes,
            slots,
            align,
        };
        self.page = slots.saturating_sub(1);
        let mut newest: Option<(u32, u32)> = None;
        for page in 0..slots {
            if let Some(sequence) = page_number(&mut self.flash, &self.area, page)?
                && newest.is_none_or(|(_, newest)| sequence > newest)
            {
                newest = Some((page, sequence));
            }
        }
        if let Some((page, sequence)) = newest {
            (self.page, self.sequence) = (page, sequence);
            self.resume()?;
        }
        Ok(())
    }

    /// Gives the flash back.
    #[must_use]
    pub fn release(self) -> F {
        self.flash
    }

    /// Goes on behind what this page holds; closes what was torn.
    fn resume(&mut self) -> Result<(), StoreError> {
        let end = self.data_end(self.page)?;
        let page_end = self.page_end(self.page);
        if end >= page_end {
            return Ok(());
        }
        self.next = Some(end);
        if end > self.data_from(self.page) {
            let word = end.saturating_sub(self.area.align);
            let last = usize::try_from(self.area.align).unwrap_or(CHUNK).saturating_sub(1);
            let chunk = self.area.read_chunk(&mut self.flash, word, end)?;
            if chunk.get(last) != Some(&DELIMITER) {
                // A flash that cannot take it is left for the next page; what was torn stays torn.
                self.next = self.write_words(end, &[DELIMITER]).ok();
            }
        }
        Ok(())
    }

    /// Appends a frame, its delimiter included. When a page begins, `head` goes to its front: the frames without which the others
    /// cannot be read (the log's header).
    ///
    /// # Errors
    /// When the frame with the head is longer than a page, or the flash failed on this page and the next. The log goes on with
    /// the next frame.
    pub fn append(&mut self, frame: &[u8], head: &[u8]) -> Result<(), StoreError> {
        let align = self.area.align;
        let padded = |bytes: &[u8]| u32::try_from(bytes.len()).map_or(u32::MAX, |length| round_up(length, align));
        let room = self.area.slot_bytes.saturating_sub(self.page_head_bytes());
        if padded(frame).saturating_add(padded(head)) > room {
            return Err(StoreError::TooBig);
        }
        if frame.is_empty() {
            return Ok(());
        }
        if let Some(at) = self.next.take()
            && at.saturating_add(padded(frame)) <= self.page_end(self.page)
            && let Ok(next) = self.write_words(at, frame)
        {
            self.next = Some(next);
            return Ok(());
        }
        self.begin_page()?;
        for part in [head, frame] {
            let at = self.next.take().ok_or(StoreError::WornOut)?;
            self.next = Some(self.write_words(at, part)?);
        }
        Ok(())
    }

    /// Where the oldest frame stands.
    #[must_use]
    pub fn oldest(&self) -> LogCursor {
        LogCursor {
            sequence: self.sequence.saturating_sub(self.area.slots.saturating_sub(1)),
            offset: 0,
        }
    }

    /// Reads on from a place: fills `room` as far as the page goes and gives the number of bytes, 0 at the end of the log. What it
    /// gives is a stream of frames as any other, for the reader of the host. Pages that were erased since are passed over.
    ///
    /// # Errors
    /// When the flash cannot be read.
    pub fn read(&mut self, cursor: &mut LogCursor, room: &mut [u8]) -> Result<usize, StoreError> {
        let oldest = self.oldest().sequence;
        if cursor.sequence < oldest {
            *cursor = self.oldest();
        }
        while cursor.sequence <= self.sequence && !room.is_empty() {
            let back = self.sequence.saturating_sub(cursor.sequence);
            let page = self.page.saturating_add(self.area.slots).saturating_sub(back) % self.area.slots.max(1);
            if page_number(&mut self.flash, &self.area, page)? == Some(cursor.sequence) {
                let from = self.data_from(page).saturating_add(cursor.offset);
                let end = self.data_end(page)?;
                if from < end {
                    let count = self.copy(from, end, room)?;
                    cursor.offset = cursor.offset.saturating_add(u32::try_from(count).unwrap_or(u32::MAX));
                    return Ok(count);
                }
                if back == 0 {
                    return Ok(0);
                }
                // A frame torn at the very end of a page must not run into the next page.
                cursor.sequence = cursor.sequence.saturating_add(1);
                cursor.offset = 0;
                if let Some(place) = room.first_mut() {
                    *place = DELIMITER;
                }
                return Ok(1);
            }
            if back == 0 {
                return Ok(0);
            }
            cursor.sequence = cursor.sequence.saturating_add(1);
            cursor.offset = 0;
        }
        Ok(0)
    }

    fn copy(&mut self, from: u32, end: u32, room: &mut [u8]) -> Result<usize, StoreError> {
        // Reads begin at whole words.
        let aligned = from & !self.area.align.wrapping_sub(1);
        let skip = usize::try_from(from.saturating_sub(aligned)).unwrap_or(0);
        let left = usize::try_from(end.saturating_sub(from)).unwrap_or(usize::MAX);
        let chunk = self.area.read_chunk(&mut self.flash, aligned, end)?;
        let mut count = 0usize;
        for (place, byte) in room.iter_mut().zip(chunk.iter().skip(skip)).take(left) {
            *place = *byte;
            count = count.saturating_add(1);
        }
        Ok(count)
    }

    /// Erases the next page and writes its header. A page that fails is passed over once.
    fn begin_page(&mut self) -> Result<(), StoreError> {
        let mut failure = StoreError::WornOut;
        for _ in 0..2 {
            let next = self.page.saturating_add(1);
            self.page = if next < self.area.slots { next } else { 0 };
            self.sequence = self.sequence.saturating_add(1);
            let mut room = [0u8; CHUNK];
            let header = Header::new(Kind::LogPage, 0, self.sequence, 0);
            let record = header.seal(&mut room, self.area.align).ok_or(StoreError::Unsuitable)?;
            let at = self.area.slot_from(self.page);
            let tried = self
                .area
                .erase(&mut self.flash, self.page)
                .and_then(|()| self.area.write(&mut self.flash, at, record));
            match tried {
                Ok(()) => {
                    self.next = Some(self.data_from(self.page));
                    return Ok(());
                }
                Err(error) => failure = error,
            }
        }
        Err(failure)
    }

    /// Writes bytes, filled up to whole words with delimiters; gives the place behind them.
    fn write_words(&mut self, at: u32, bytes: &[u8]) -> Result<u32, StoreError> {
        let align = usize::try_from(self.area.align).map_err(|_| StoreError::Unsuitable)?;
        let whole = bytes.len().saturating_sub(bytes.len() % align.max(1));
        let (words, rest) = bytes.split_at_checked(whole).ok_or(StoreError::TooBig)?;
        let mut at = at;
        if !words.is_empty() {
            self.area.write(&mut self.flash, at, words)?;
            at = at.saturating_add(u32::try_from(words.len()).map_err(|_| StoreError::TooBig)?);
        }
        if !rest.is_empty() {
            let mut last = [DELIMITER; CHUNK];
            let last = last.get_mut(..align).ok_or(StoreError::Unsuitable)?;
            for (place, byte) in last.iter_mut().zip(rest) {
                *place = *byte;
            }
            self.area.write(&mut self.flash, at, last)?;
            at = at.saturating_add(self.area.align);
        }
        Ok(at)
    }

    fn page_head_bytes(&self) -> u32 {
        round_up((HEADER_BYTES + CRC_BYTES) as u32, self.area.align)
    }

    fn data_from(&self, page: u32) -> u32 {
        self.area.slot_from(page).saturating_add(self.page_head_bytes())
    }

    fn page_end(&self, page: u32) -> u32 {
        self.area.slot_from(page).saturating_add(self.area.slot_bytes)
    }

    /// Behind the last word of a page that was written to.
    fn data_end(&mut self, page: u32) -> Result<u32, StoreError> {
        let from = self.data_from(page);
        let align = usize::try_from(self.area.align).unwrap_or(CHUNK).max(1);
        let mut end = from;
        let mut at = from;
        let page_end = self.page_end(page);
        while at < page_end {
            let chunk = self.area.read_chunk(&mut self.flash, at, page_end)?;
            for word in chunk.chunks(align) {
                at = at.saturating_add(self.area.align);
                if word.iter().any(|byte| *byte != 0xFF) {
                    end = at;
                }
            }
        }
        Ok(end.min(page_end))
    }
}

/// The number of a page, if it has a sound header.
fn page_number<F: NorFlash>(flash: &mut F, area: &Area, page: u32) -> Result<Option<u32>, StoreError> {
    let found = area.record_at(flash, page, area.slot_from(page))?;
    Ok(found
        .filter(|found| found.header.is(Kind::LogPage) && found.header.length == 0)
        .map(|found| found.header.sequence))
}
