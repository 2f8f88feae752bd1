//! The flash of a board that has none: memory that no start-up code touches, with the manners of a NOR flash.
//!
//! Pages are erased to ones, a write only turns ones into zeros, and whole words only. It keeps over every reset, and is gone with
//! the emulator; for the tests of power cuts `kept_file` keeps it in a file too.

// Memory outside of anything Rust knows.
#![allow(unsafe_code)]

use core::ops::Range;
use core::ptr::{read_volatile, write_volatile};
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

/// Pages for the store.
pub const STORE: Range<u32> = 0..64 * 1024;
/// Pages for the log.
pub const LOG: Range<u32> = STORE.end..STORE.end + 1024 * 1024;
/// Bytes of it: what `memory.x` leaves behind the last words.
const BYTES: usize = LOG.end as usize;
const WORD: usize = 4;

unsafe extern "C" {
    /// Set by `memory.x`.
    static mut _kept_flash: u32;
}

/// The flash. There is one value of it.
#[derive(Debug)]
pub struct Nor(());

impl Nor {
    /// # Safety
    /// Once only: two values would write behind each other's back.
    pub const unsafe fn take() -> Self {
        Self(())
    }

    /// The word at an offset, which was checked to lie inside.
    fn word(offset: usize) -> *mut u32 {
        (&raw mut _kept_flash).wrapping_byte_add(offset)
    }
}

impl ErrorType for Nor {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Nor {
    const READ_SIZE: usize = WORD;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len())?;
        for (at, place) in (offset as usize..).step_by(WORD).zip(bytes.chunks_mut(WORD)) {
            // SAFETY: a whole aligned word, inside; any value is a valid one.
            let word = unsafe { read_volatile(Self::word(at)) };
            for (byte, read) in place.iter_mut().zip(word.to_le_bytes()) {
                *byte = read;
            }
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        BYTES
    }
}

impl NorFlash for Nor {
    const WRITE_SIZE: usize = WORD;
    const ERASE_SIZE: usize = 4096;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to)?;
        for at in (from as usize..to as usize).step_by(WORD) {
            // SAFETY: a whole aligned word, inside.
            unsafe { write_volatile(Self::word(at), u32::MAX) };
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len())?;
        for (at, wanted) in (offset as usize..).step_by(WORD).zip(bytes.chunks(WORD)) {
            let mut word = [0xFF; WORD];
            for (place, byte) in word.iter_mut().zip(wanted) {
                *place = *byte;
            }
            // SAFETY: a whole aligned word, inside. Zeros stay zeros until the page is erased.
            unsafe { write_volatile(Self::word(at), read_volatile(Self::word(at)) & u32::from_le_bytes(word)) };
        }
        Ok(())
    }
}
