//! A part of the flash divided into slots. Records are appended to one slot until it is full, then to the next, which is erased
//! first: so the newest record is never in the slot that is being erased, and every slot is erased equally often.

use super::StoreError;
use super::record::{CRC_BYTES, HEADER_BYTES, Header, round_up};
use embedded_storage::nor_flash::{NorFlash, NorFlashError};
use risertrim::frame::Crc32;

/// Bytes read at a time. All word sizes must divide it.
pub(crate) const CHUNK: usize = 64;

/// A part of the flash.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Area {
    pub(crate) from: u32,
    pub(crate) slot_bytes: u32,
    pub(crate) slots: u32,
    /// Records begin at multiples of this.
    pub(crate) align: u32,
}

/// A record that is intact.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Found {
    pub(crate) slot: u32,
    pub(crate) at: u32,
    pub(crate) header: Header,
}

/// The word size that suits reading and writing of this flash.
pub(crate) fn alignment<F: NorFlash>() -> Result<u32, StoreError> {
    let align = F::READ_SIZE.max(F::WRITE_SIZE).max(4);
    let sound = align.is_power_of_two()
        && CHUNK.is_multiple_of(align)
        && F::ERASE_SIZE.is_multiple_of(CHUNK)
        && F::READ_SIZE.is_power_of_two()
        && F::WRITE_SIZE.is_power_of_two();
    if !sound {
        return Err(StoreError::Unsuitable);
    }
    u32::try_from(align).map_err(|_| StoreError::Unsuitable)
}

pub(crate) fn flash_error<E: NorFlashError>(error: E) -> StoreError {
    StoreError::Flash(error.kind())
}

impl Area {
    pub(crate) fn slot_from(&self, slot: u32) -> u32 {
        self.from.saturating_add(slot.saturating_mul(self.slot_bytes))
    }

    fn slot_end(&self, slot: u32) -> u32 {
        self.slot_from(slot).saturating_add(self.slot_bytes)
    }

    /// A chunk from `at` on, no further than `end`; the bytes beyond are as erased.
    pub(crate) fn read_chunk<F: NorFlash>(&self, flash: &mut F, at: u32, end: u32) -> Result<[u8; CHUNK], StoreError> {
        let mut chunk = [0xFF; CHUNK];
        let left = usize::try_from(end.saturating_sub(at)).unwrap_or(CHUNK).min(CHUNK);
        if let Some(part) = chunk.get_mut(..left) {
            flash.read(at, part).map_err(flash_error)?;
        }
        Ok(chunk)
    }

    /// Shows every intact record of a slot in the order of its places. Anything else, torn records among it, is passed over
    /// word by word.
    pub(crate) fn records<F: NorFlash>(
        &self,
        flash: &mut F,
        slot: u32,
        mut show: impl FnMut(Found),
    ) -> Result<(), StoreError> {
        let end = self.slot_end(slot);
        let mut at = self.slot_from(slot);
        while at < end {
            let chunk = self.read_chunk(flash, at, end)?;
            let step = usize::try_from(self.align).unwrap_or(CHUNK).max(1);
            let mut next = at.saturating_add(CHUNK as u32);
            for (index, word) in chunk.chunks(step).enumerate() {
                let place = at.saturating_add(u32::try_from(index.saturating_mul(step)).unwrap_or(u32::MAX));
                // A header begins here, perhaps; read it whole.
                if word.first() == Some(&0x52)
                    && let Some(found) = self.record_at(flash, slot, place)?
                {
                    show(found);
                    next = place.saturating_add(round_up(found.header.record_bytes(), self.align));
                    break;
                }
            }
            at = next;
        }
        Ok(())
    }

    /// The record at a place, if an intact one begins there.
    pub(crate) fn record_at<F: NorFlash>(
        &self,
        flash: &mut F,
        slot: u32,
        at: u32,
    ) -> Result<Option<Found>, StoreError> {
        let end = self.slot_end(slot);
        let first = self.read_chunk(flash, at, end)?;
        let Some(header) = Header::parse(&first) else {
            return Ok(None);
        };
        let bytes = header.record_bytes();
        if at.checked_add(bytes).is_none_or(|record_end| record_end > end) {
            return Ok(None);
        }
        let checked = bytes.saturating_sub(CRC_BYTES as u32);
        let mut crc = Crc32::new();
        let mut told = [0u8; CRC_BYTES];
        let mut passed = 0u32;
        let mut chunk = first;
        while passed < bytes {
            for byte in chunk {
                if passed < checked {
                    crc.push(byte);
                } else if let Some(place) = passed
                    .checked_sub(checked)
                    .and_then(|index| told.get_mut(usize::try_from(index).unwrap_or(CRC_BYTES)))
                {
                    *place = byte;
                }
                passed = passed.saturating_add(1);
            }
            if passed < bytes {
                chunk = self.read_chunk(flash, at.saturating_add(passed), end)?;
            }
        }
        Ok((crc.value() == u32::from_le_bytes(told)).then_some(Found { slot, at, header }))
    }

    /// Reads a record's payload into `room`.
    pub(crate) fn payload<'a, F: NorFlash>(
        &self,
        flash: &mut F,
        found: &Found,
        room: &'a mut [u8],
    ) -> Result<&'a [u8], StoreError> {
        let length = usize::try_from(found.header.length).map_err(|_| StoreError::TooBig)?;
        let end = self.slot_end(found.slot);
        let mut at = found.at.saturating_add(HEADER_BYTES as u32);
        // The header is a whole number of words only for words of up to 16 bytes: start at the word that holds its end.
        let before = usize::try_from(at & self.align.wrapping_sub(1)).unwrap_or(0);
        at &= !self.align.wrapping_sub(1);
        let room = room.get_mut(..length).ok_or(StoreError::TooBig)?;
        let mut skip = before;
        let mut filled = 0usize;
        while filled < length {
            let chunk = self.read_chunk(flash, at, end)?;
            for byte in chunk.iter().skip(skip) {
                if let Some(place) = room.get_mut(filled) {
                    *place = *byte;
                    filled = filled.saturating_add(1);
                }
            }
            skip = 0;
            at = at.saturating_add(CHUNK as u32);
        }
        Ok(room)
    }

    /// Where the next record of a slot may be written: behind its last one, if nothing at all was written from there on.
    /// A slot with anything torn in it takes no more.
    pub(crate) fn blank_from<F: NorFlash>(&self, flash: &mut F, slot: u32, at: u32) -> Result<bool, StoreError> {
        let end = self.slot_end(slot);
        let mut at = at;
        while at < end {
            if self.read_chunk(flash, at, end)?.iter().any(|byte| *byte != 0xFF) {
                return Ok(false);
            }
            at = at.saturating_add(CHUNK as u32);
        }
        Ok(true)
    }

    pub(crate) fn erase<F: NorFlash>(&self, flash: &mut F, slot: u32) -> Result<(), StoreError> {
        flash
            .erase(self.slot_from(slot), self.slot_end(slot))
            .map_err(flash_error)
    }

    /// Writes whole words at a place and reads them back.
    pub(crate) fn write<F: NorFlash>(&self, flash: &mut F, at: u32, bytes: &[u8]) -> Result<(), StoreError> {
        flash.write(at, bytes).map_err(flash_error)?;
        let length = u32::try_from(bytes.len()).map_err(|_| StoreError::TooBig)?;
        let end = at.saturating_add(length);
        let mut place = at;
        for part in bytes.chunks(CHUNK) {
            let chunk = self.read_chunk(flash, place, end)?;
            if chunk.get(..part.len()) != Some(part) {
                return Err(StoreError::WornOut);
            }
            place = place.saturating_add(CHUNK as u32);
        }
        Ok(())
    }
}
