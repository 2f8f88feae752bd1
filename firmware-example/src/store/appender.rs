//! Appending to the slots of an area in turn.

use super::StoreError;
use super::area::{Area, Found};
use super::record::{Header, Kind, round_up};
use embedded_storage::nor_flash::NorFlash;

/// Where the next record of an area goes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Appender {
    pub(crate) area: Area,
    slot: u32,
    /// `None`: this slot takes no more.
    next: Option<u32>,
    /// Slot of the newest intact record: not to be erased before there is a newer one elsewhere.
    keep: Option<u32>,
    sequence: u32,
}

impl Appender {
    /// Finds the newest record and the place behind it.
    pub(crate) fn open<F: NorFlash>(flash: &mut F, area: Area) -> Result<Self, StoreError> {
        let mut newest: Option<Found> = None;
        for slot in 0..area.slots {
            area.records(flash, slot, |found| {
                if newest.is_none_or(|newest| found.header.sequence > newest.header.sequence) {
                    newest = Some(found);
                }
            })?;
        }
        let mut appender = Self {
            area,
            // The first slot comes after the last.
            slot: area.slots.saturating_sub(1),
            next: None,
            keep: newest.map(|newest| newest.slot),
            sequence: newest.map_or(0, |newest| newest.header.sequence),
        };
        if let Some(newest) = newest {
            let behind = newest
                .at
                .saturating_add(round_up(newest.header.record_bytes(), area.align));
            appender.slot = newest.slot;
            appender.next = area.blank_from(flash, newest.slot, behind)?.then_some(behind);
        }
        Ok(appender)
    }

    /// Appends a record whose payload stands in `room` behind the place of the header.
    ///
    /// What cannot be written here is written to the next slot; after two slots that fail it gives up.
    pub(crate) fn append<F: NorFlash>(
        &mut self,
        flash: &mut F,
        kind: Kind,
        length: u32,
        fingerprint: u32,
        room: &mut [u8],
    ) -> Result<(), StoreError> {
        let sequence = self.sequence.saturating_add(1);
        let record = Header::new(kind, length, sequence, fingerprint)
            .seal(room, self.area.align)
            .ok_or(StoreError::TooBig)?;
        let bytes = u32::try_from(record.len()).map_err(|_| StoreError::TooBig)?;
        if bytes > self.area.slot_bytes {
            return Err(StoreError::TooBig);
        }
        // Whatever comes of it, no second record may carry this number.
        self.sequence = sequence;
        let end = self.area.slot_from(self.slot).saturating_add(self.area.slot_bytes);
        if let Some(at) = self.next.take()
            && at.saturating_add(bytes) <= end
            && self.area.write(flash, at, record).is_ok()
        {
            self.written(self.slot, at, bytes);
            return Ok(());
        }
        let mut failure = StoreError::WornOut;
        for _ in 0..2 {
            self.slot = self.following(self.slot);
            let at = self.area.slot_from(self.slot);
            let tried = self
                .area
                .erase(flash, self.slot)
                .and_then(|()| self.area.write(flash, at, record));
            match tried {
                Ok(()) => {
                    self.written(self.slot, at, bytes);
                    return Ok(());
                }
                Err(error) => failure = error,
            }
        }
        Err(failure)
    }

    fn written(&mut self, slot: u32, at: u32, bytes: u32) {
        self.next = Some(at.saturating_add(bytes));
        self.keep = Some(slot);
    }

    /// The slot after this one that may be erased.
    fn following(&self, slot: u32) -> u32 {
        let after = |slot: u32| {
            let next = slot.saturating_add(1);
            if next < self.area.slots { next } else { 0 }
        };
        let next = after(slot);
        if Some(next) == self.keep { after(next) } else { next }
    }
}
