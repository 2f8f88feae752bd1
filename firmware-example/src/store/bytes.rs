//! The store as a [`crate::Board`] wants it: bytes by item.

use super::area::{Area, Found};
use super::record::Kind;
use super::{Store, StoreError, committed_in};
use crate::board::Item;
use embedded_storage::nor_flash::NorFlash;
use risertrim::frame::Crc32;

/// For [`crate::Board::load`], [`crate::Board::save`] and [`crate::Board::go_back`]: call these from there. The bytes carry their own
/// fingerprint; do not mix them with the values of the other methods in one store.
impl<F: NorFlash, const ROOM: usize> Store<F, ROOM> {
    /// The newest bytes of an item, put at the start of `room`: how many. `None` where there are none.
    ///
    /// # Errors
    /// When the flash cannot be read, or `room` is too small.
    pub fn load_bytes(&mut self, item: Item, room: &mut [u8]) -> Result<Option<usize>, StoreError> {
        let (area, newest) = match item {
            Item::Installation => (self.installations, self.committed),
            Item::Learned => (self.learned.area, self.newest_learned()?),
        };
        let Some(found) = newest else { return Ok(None) };
        let payload = area.payload(&mut self.flash, &found, room)?;
        Ok(Some(payload.len()))
    }

    /// Keeps bytes: power lost at any moment leaves them or those before. An installation is put and committed.
    ///
    /// # Errors
    /// When they could not be written; those before are kept still.
    pub fn save_bytes(&mut self, item: Item, bytes: &[u8]) -> Result<(), StoreError> {
        let length = self.place_bytes(bytes)?;
        match item {
            Item::Installation => {
                self.put_placed(length, Crc32::of(bytes))?;
                self.commit()
            }
            Item::Learned => self
                .learned
                .append(&mut self.flash, Kind::Learned, length, 0, &mut self.room),
        }
    }

    /// Goes back to the installation kept before the newest: true when it is still there. The newest is erased; power lost in between
    /// leaves one of both. What was learned has no such step: what does not belong to its installation is not used.
    ///
    /// # Errors
    /// When the flash failed.
    pub fn go_back(&mut self, item: Item) -> Result<bool, StoreError> {
        let area: Area = self.installations;
        let (Item::Installation, Some(newest)) = (item, self.committed) else {
            return Ok(false);
        };
        let other = if newest.slot == 0 { 1 } else { 0 };
        let (Some(before), _) = committed_in(&mut self.flash, &area, other)? else {
            return Ok(false);
        };
        self.trial = None;
        area.erase(&mut self.flash, newest.slot)?;
        self.committed = Some(before);
        Ok(true)
    }

    fn newest_learned(&mut self) -> Result<Option<Found>, StoreError> {
        let area = self.learned.area;
        let mut newest: Option<Found> = None;
        for slot in 0..area.slots {
            area.records(&mut self.flash, slot, |found| {
                let newer = newest.is_none_or(|newest| found.header.sequence > newest.header.sequence);
                if found.header.is(Kind::Learned) && newer {
                    newest = Some(found);
                }
            })?;
        }
        Ok(newest)
    }
}
