//! What a board keeps over a loss of power: what the lifts have learned, and the installation.
//!
//! **The promise**: whatever moment the power goes, the next start finds the newest state that was stored whole or the one before
//! it; never a mixture, never none once one was stored. What was torn is passed over.
//!
//! The flash is one [`NorFlash`]: the first two slots (whole pages, as many as an installation needs) hold installations, all other
//! pages learned state.
//!
//! * **Learned state** is appended to a page until it is full, then to the next page, erased first; the newest record stands in the
//!   page before. Pages are used in turn, so all wear alike: [`erases_a_year`].
//! * **An installation** is put into the slot that does not hold the present one, on trial. [`Store::commit`] makes it the one
//!   that the next start loads; until then, or after [`Store::revert`], the next start loads the one before.
//! * Every record carries its kind, a format version, a sequence number, the fingerprint of its installation and a CRC-32 over all
//!   of it. Learned state is given out for its own installation only.
//! * Each word is written once between two erasures, as flashes with their own error correction demand, and read back.
//!
//! Why not a library: the well-kept ones are asynchronous and know keys and queues; this is two slots with a trial and a commit.
//!
//! ```
//! use embedded_storage::nor_flash::NorFlash;
//! use risertrim::frame::fingerprint;
//! use risertrim::{Controller, Installation};
//! use risertrim_firmware::{Store, StoreError, Stored};
//!
//! # fn start(flash: impl NorFlash, built_in: Installation<2, 3>) -> Result<(), StoreError> {
//! let mut store = Store::<_, 2048>::open(flash)?;
//! let installation = match store.load_installation()? {
//!     Stored::Found(installation) => installation,
//!     Stored::Nothing | Stored::NotOurs => built_in,
//! };
//! let ours = fingerprint(&installation).unwrap_or(0);
//! let saved = match store.load_learned::<2>(ours)? {
//!     Stored::Found(learned) => learned,
//!     Stored::Nothing | Stored::NotOurs => heapless::Vec::new(),
//! };
//! if let Ok(controller) = Controller::new(&installation, &saved) {
//!     // Every ten minutes or so:
//!     store.save_learned(ours, &controller.learned())?;
//! }
//! # Ok(())
//! # }
//! ```

mod appender;
pub(crate) mod area;
mod bytes;
mod keeper;
mod part;
pub(crate) mod record;
mod wear;

pub use keeper::Keeper;
pub use part::Part;
pub use wear::erases_a_year;

use appender::Appender;
use area::{Area, Found, alignment};
use core::fmt;
use embedded_storage::nor_flash::{NorFlash, NorFlashErrorKind};
use record::{CRC_BYTES, HEADER_BYTES, Header, Kind, round_up};
use risertrim::Installation;
use risertrim::controller::Learned;
use risertrim::frame::{decode, fingerprint, to_bytes};
use serde::Serialize;
use serde::de::DeserializeOwned;

/// Why the store could not do what it was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StoreError {
    /// The flash gave an error.
    Flash(NorFlashErrorKind),
    /// The flash is too small: it needs this many bytes.
    TooSmall(u32),
    /// Its word or page size is none that the store can work with (words of up to 64 bytes, powers of two).
    Unsuitable,
    /// The value does not fit into the store's room, or into a slot.
    TooBig,
    /// What was written does not read back, on two pages: the flash is worn out or write-protected.
    WornOut,
    /// There is no installation on trial that could be committed.
    NothingOnTrial,
}

impl fmt::Display for StoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flash(kind) => write!(
                f,
                "the flash gave an error ({kind}): nothing new is kept; check its wiring and set-up"
            ),
            Self::TooSmall(needed) => write!(f, "the flash is too small: give the store {needed} bytes or more"),
            Self::Unsuitable => f.write_str("the flash has a word or page size that the store cannot work with"),
            Self::TooBig => f.write_str("the value is too big for the store: give it more room and larger slots"),
            Self::WornOut => {
                f.write_str("what was written does not read back: the flash is worn out or protected; replace it")
            }
            Self::NothingOnTrial => f.write_str("there is no installation on trial: put one first"),
        }
    }
}

impl core::error::Error for StoreError {}

/// What was found in the store.
#[derive(Clone, Debug, PartialEq)]
pub enum Stored<T> {
    /// Nothing was ever stored.
    Nothing,
    /// Something is stored, but for another installation, or by another version of this program.
    NotOurs,
    /// This.
    Found(T),
}

/// The store on a flash. `ROOM` is the working memory, bytes: the largest record with its 20 bytes of frame, rounded up to whole
/// words. 2048 holds an installation of eight lifts and nine tanks.
#[derive(Debug)]
pub struct Store<F, const ROOM: usize> {
    flash: F,
    learned: Appender,
    installations: Area,
    /// The installation that the next start loads.
    committed: Option<Found>,
    /// The installation put since, and where its commitment goes.
    trial: Option<(Found, u32)>,
    sequence: u32,
    room: [u8; ROOM],
}

impl<F: NorFlash, const ROOM: usize> Store<F, ROOM> {
    /// Opens the store that this flash holds, or a new one on a blank flash (or one that holds anything else: it is
    /// overwritten page by page). Nothing is written.
    ///
    /// # Errors
    /// When the flash cannot be read, or does not suit. [`StoreError::TooSmall`] says how much is needed: two slots for installations
    /// and two pages for learned state. The flash is gone then; a [`Keeper`] holds on to it and tries again.
    pub fn open(mut flash: F) -> Result<Self, StoreError> {
        let contents = Contents::find(&mut flash, ROOM)?;
        Ok(Self::of(flash, contents))
    }

    /// On a flash that was looked through.
    fn of(flash: F, contents: Contents) -> Self {
        Self {
            learned: contents.learned,
            flash,
            installations: contents.installations,
            committed: contents.committed,
            trial: None,
            sequence: contents.sequence,
            room: [0; ROOM],
        }
    }

    /// Gives the flash back.
    #[must_use]
    pub fn release(self) -> F {
        self.flash
    }

    /// What the lifts had learned, if it belongs to the installation with this fingerprint
    /// ([`risertrim::frame::fingerprint`]).
    ///
    /// # Errors
    /// When the flash cannot be read.
    pub fn load_learned<const LIFTS: usize>(
        &mut self,
        fingerprint: u32,
    ) -> Result<Stored<heapless::Vec<Learned, LIFTS>>, StoreError> {
        let area = self.learned.area;
        let mut any = false;
        let mut newest: Option<Found> = None;
        for slot in 0..area.slots {
            area.records(&mut self.flash, slot, |found| {
                any |= found.header.is(Kind::Learned);
                let ours = found.header.is(Kind::Learned) && found.header.fingerprint == fingerprint;
                if ours && newest.is_none_or(|newest| found.header.sequence > newest.header.sequence) {
                    newest = Some(found);
                }
            })?;
        }
        match newest {
            None if any => Ok(Stored::NotOurs),
            None => Ok(Stored::Nothing),
            Some(found) => self.take(&area, &found),
        }
    }

    /// Keeps what the lifts have learned under this installation. Every ten minutes is often enough; [`erases_a_year`] says what that
    /// wears.
    ///
    /// # Errors
    /// When it could not be written; what was kept before is kept still.
    pub fn save_learned(&mut self, fingerprint: u32, learned: &[Learned]) -> Result<(), StoreError> {
        let length = self.place(learned)?;
        self.learned
            .append(&mut self.flash, Kind::Learned, length, fingerprint, &mut self.room)
    }

    /// The installation committed last.
    ///
    /// # Errors
    /// When the flash cannot be read.
    pub fn load_installation<const LIFTS: usize, const TANKS: usize>(
        &mut self,
    ) -> Result<Stored<Installation<LIFTS, TANKS>>, StoreError> {
        match self.committed {
            None => Ok(Stored::Nothing),
            Some(found) => {
                let area = self.installations;
                self.take(&area, &found)
            }
        }
    }

    /// Puts an installation into the other slot, on trial: the next start still loads the one committed before. Validate it first.
    ///
    /// # Errors
    /// When it could not be written; the one committed before is kept still.
    pub fn put_installation<const LIFTS: usize, const TANKS: usize>(
        &mut self,
        installation: &Installation<LIFTS, TANKS>,
    ) -> Result<(), StoreError> {
        let length = self.place(installation)?;
        let ours = fingerprint(installation).ok_or(StoreError::TooBig)?;
        self.put_placed(length, ours)
    }

    /// Puts the installation that stands in the room.
    fn put_placed(&mut self, length: u32, ours: u32) -> Result<(), StoreError> {
        self.trial = None;
        let sequence = self.sequence.saturating_add(1);
        let header = Header::new(Kind::Installation, length, sequence, ours);
        let area = self.installations;
        let record = header.seal(&mut self.room, area.align).ok_or(StoreError::TooBig)?;
        let bytes = u32::try_from(record.len()).map_err(|_| StoreError::TooBig)?;
        let slot = match self.committed {
            Some(committed) if committed.slot == 0 => 1,
            _ => 0,
        };
        let at = area.slot_from(slot);
        self.sequence = sequence;
        area.erase(&mut self.flash, slot)?;
        area.write(&mut self.flash, at, record)?;
        self.trial = Some((Found { slot, at, header }, at.saturating_add(bytes)));
        Ok(())
    }

    /// Makes the installation on trial the one that the next start loads.
    ///
    /// # Errors
    /// When there is none on trial, or it could not be written: the one committed before then stays.
    pub fn commit(&mut self) -> Result<(), StoreError> {
        let Some((found, at)) = self.trial else {
            return Err(StoreError::NothingOnTrial);
        };
        let area = self.installations;
        let commitment = Header::new(Kind::Commit, 0, found.header.sequence, found.header.fingerprint);
        let record = commitment.seal(&mut self.room, area.align).ok_or(StoreError::TooBig)?;
        // A failed attempt leaves the trial without a place for its commitment: it must be put again.
        self.trial = None;
        if let Err(error) = area.write(&mut self.flash, at, record)
            && !self.is_committed(&found, at)
        {
            // Whatever stands there, the next start must not take it for a commitment that was told to have failed.
            let _ = area.erase(&mut self.flash, found.slot);
            return Err(error);
        }
        self.committed = Some(found);
        Ok(())
    }

    /// True when the commitment of what was put stands at its place after all: it may only have been read wrongly.
    fn is_committed(&mut self, put: &Found, at: u32) -> bool {
        let area = self.installations;
        matches!(area.record_at(&mut self.flash, put.slot, at), Ok(Some(found))
            if found.header.is(Kind::Commit)
                && found.header.sequence == put.header.sequence
                && found.header.fingerprint == put.header.fingerprint)
    }

    /// Drops the installation on trial; the next start loads the one committed before. Nothing needs to be written for that.
    pub fn revert(&mut self) {
        self.trial = None;
    }

    /// True when an installation was put and neither committed nor reverted since.
    #[must_use]
    pub fn on_trial(&self) -> bool {
        self.trial.is_some()
    }

    /// Encodes a value into the room behind the place of the header; gives its length.
    fn place<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<u32, StoreError> {
        let room = self.room.get_mut(HEADER_BYTES..).ok_or(StoreError::TooBig)?;
        let bytes = to_bytes(value, room).map_err(|_| StoreError::TooBig)?;
        u32::try_from(bytes.len()).map_err(|_| StoreError::TooBig)
    }

    /// Puts bytes into the room behind the place of the header; gives their length.
    fn place_bytes(&mut self, bytes: &[u8]) -> Result<u32, StoreError> {
        let end = HEADER_BYTES.saturating_add(bytes.len());
        let room = self.room.get_mut(HEADER_BYTES..end).ok_or(StoreError::TooBig)?;
        room.copy_from_slice(bytes);
        u32::try_from(bytes.len()).map_err(|_| StoreError::TooBig)
    }

    /// Reads and decodes a record. One that is intact but no such value was stored by another version.
    fn take<T: DeserializeOwned>(&mut self, area: &Area, found: &Found) -> Result<Stored<T>, StoreError> {
        let payload = match area.payload(&mut self.flash, found, &mut self.room) {
            Err(StoreError::TooBig) => return Ok(Stored::NotOurs),
            payload => payload?,
        };
        Ok(decode(payload).map_or(Stored::NotOurs, Stored::Found))
    }
}

/// What a flash holds.
#[derive(Debug)]
struct Contents {
    learned: Appender,
    installations: Area,
    committed: Option<Found>,
    sequence: u32,
}

impl Contents {
    /// Looks through a flash; nothing is written. `room` is that of the store, bytes.
    fn find<F: NorFlash>(flash: &mut F, room: usize) -> Result<Self, StoreError> {
        let align = alignment::<F>()?;
        let page = u32::try_from(F::ERASE_SIZE).map_err(|_| StoreError::Unsuitable)?;
        let record = u32::try_from(room).map_err(|_| StoreError::Unsuitable)?;
        // A slot holds the installation and its commitment.
        let commitment = round_up((HEADER_BYTES + CRC_BYTES) as u32, align);
        let slot_bytes = round_up_to(record.saturating_add(commitment), page);
        let capacity = u32::try_from(flash.capacity()).unwrap_or(u32::MAX);
        let learned_from = slot_bytes.saturating_mul(2);
        let least = learned_from.saturating_add(page.saturating_mul(2));
        if capacity < least {
            return Err(StoreError::TooSmall(least));
        }
        let installations = Area {
            from: 0,
            slot_bytes,
            slots: 2,
            align,
        };
        let learned = Area {
            from: learned_from,
            slot_bytes: page,
            slots: capacity.saturating_sub(learned_from).checked_div(page).unwrap_or(0),
            align,
        };
        let (committed, sequence) = newest_committed(flash, &installations)?;
        Ok(Self {
            learned: Appender::open(flash, learned)?,
            installations,
            committed,
            sequence,
        })
    }
}

/// The newest installation with a commitment behind it, and the highest sequence number met.
fn newest_committed<F: NorFlash>(flash: &mut F, area: &Area) -> Result<(Option<Found>, u32), StoreError> {
    let mut newest: Option<Found> = None;
    let mut highest = 0u32;
    for slot in 0..area.slots {
        let (found, met) = committed_in(flash, area, slot)?;
        highest = highest.max(met);
        if let Some(found) = found
            && newest.is_none_or(|newest| found.header.sequence > newest.header.sequence)
        {
            newest = Some(found);
        }
    }
    Ok((newest, highest))
}

/// The same in one slot.
fn committed_in<F: NorFlash>(flash: &mut F, area: &Area, slot: u32) -> Result<(Option<Found>, u32), StoreError> {
    let mut committed: Option<Found> = None;
    let mut put: Option<Found> = None;
    let mut highest = 0u32;
    area.records(flash, slot, |found| {
        highest = highest.max(found.header.sequence);
        if found.header.is(Kind::Installation) {
            put = Some(found);
        } else if found.header.is(Kind::Commit)
            && let Some(put) = put
            && put.header.sequence == found.header.sequence
            && put.header.fingerprint == found.header.fingerprint
        {
            committed = Some(put);
        }
    })?;
    Ok((committed, highest))
}

/// `bytes` rounded up to whole pages.
fn round_up_to(bytes: u32, page: u32) -> u32 {
    bytes.div_ceil(page.max(1)).saturating_mul(page)
}
