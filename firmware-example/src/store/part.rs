//! A part of a flash that others use too.

use core::cell::RefCell;
use core::ops::Range;
use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash};

/// A part of a flash as a flash of its own, so that the store, the log and the program share one chip.
///
/// ```
/// use core::cell::RefCell;
/// use embedded_storage::nor_flash::NorFlash;
/// use risertrim_firmware::{FlashLog, Part, Store, StoreError};
///
/// # fn wire(chip: impl NorFlash) -> Result<(), StoreError> {
/// let chip = RefCell::new(chip);
/// let store = Store::<_, 2048>::open(Part::new(&chip, 0..32 * 1024))?;
/// let log = FlashLog::open(Part::new(&chip, 32 * 1024..256 * 1024))?;
/// # let _ = (store, log);
/// # Ok(())
/// # }
/// ```
#[derive(Debug)]
pub struct Part<'a, F> {
    flash: &'a RefCell<F>,
    from: u32,
    bytes: u32,
}

impl<'a, F> Part<'a, F> {
    /// The part at these addresses; both ends at whole pages. What lies beyond the flash itself is refused when it is used.
    #[must_use]
    pub fn new(flash: &'a RefCell<F>, range: Range<u32>) -> Self {
        Self {
            flash,
            from: range.start,
            bytes: range.end.saturating_sub(range.start),
        }
    }

    fn place(&self, offset: u32, length: usize) -> Result<u32, NorFlashErrorKind> {
        let end = u32::try_from(length).ok().and_then(|length| offset.checked_add(length));
        match end {
            Some(end) if end <= self.bytes => self.from.checked_add(offset).ok_or(NorFlashErrorKind::OutOfBounds),
            _ => Err(NorFlashErrorKind::OutOfBounds),
        }
    }
}

impl<F> ErrorType for Part<'_, F> {
    type Error = NorFlashErrorKind;
}

impl<F: NorFlash> ReadNorFlash for Part<'_, F> {
    const READ_SIZE: usize = F::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        let at = self.place(offset, bytes.len())?;
        let mut flash = self.flash.try_borrow_mut().map_err(|_| NorFlashErrorKind::Other)?;
        flash.read(at, bytes).map_err(|error| error.kind())
    }

    fn capacity(&self) -> usize {
        usize::try_from(self.bytes).unwrap_or(usize::MAX)
    }
}

impl<F: NorFlash> NorFlash for Part<'_, F> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        let length = usize::try_from(to.saturating_sub(from)).map_err(|_| NorFlashErrorKind::OutOfBounds)?;
        let at = self.place(from, length)?;
        let mut flash = self.flash.try_borrow_mut().map_err(|_| NorFlashErrorKind::Other)?;
        flash
            .erase(at, at.saturating_add(to.saturating_sub(from)))
            .map_err(|error| error.kind())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        let at = self.place(offset, bytes.len())?;
        let mut flash = self.flash.try_borrow_mut().map_err(|_| NorFlashErrorKind::Other)?;
        flash.write(at, bytes).map_err(|error| error.kind())
    }
}
