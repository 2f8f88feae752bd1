//! The pages of the board's flash that `memory.x` keeps free, for the store.
//!
//! The program runs out of the same flash, which does not answer while it is erased or written: so that is done by routines of the
//! chip's boot ROM (RP2040 datasheet, 2.8.3.1.3), called from memory, with interrupts off. A page of 4 KiB takes 45 ms to erase as a
//! rule and 400 ms at most (W25Q16JV datasheet), well within the watchdog's time. The second core is not used.
//!
//! No crate does this for the HAL's present version; `rp2040-flash` needs an older one beside it.

// The ROM's routines, and a flash that is gone for a moment.
#![allow(unsafe_code)]

use core::ptr::read_volatile;
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};
use rp2040_hal::rom_data;

/// Bytes kept free by `memory.x`.
const BYTES: usize = 64 * 1024;
/// What is erased at once, and what is written at once.
const SECTOR: usize = 4096;
const PAGE: usize = 256;
const WORD: usize = 4;
/// Where the flash begins in the processor's memory.
const XIP: usize = 0x1000_0000;
/// A larger block that could be erased at once, and its command; a single sector never is one.
const BLOCK: u32 = 1 << 16;
const BLOCK_ERASE: u8 = 0xD8;

unsafe extern "C" {
    /// Set by `memory.x`.
    static _store: u32;
}

/// The flash. There is one value of it.
#[derive(Debug)]
pub struct Flash(());

/// What is called while the flash is away: everything it needs, in memory.
#[repr(C)]
struct Calls {
    connect: unsafe extern "C" fn(),
    leave_xip: unsafe extern "C" fn(),
    erase: unsafe extern "C" fn(u32, usize, u32, u8),
    program: unsafe extern "C" fn(u32, *const u8, usize),
    flush: unsafe extern "C" fn(),
    /// The second stage of the boot loader, as it was run at the start: back to the same way of reading.
    boot2: [u32; 64],
}

impl Flash {
    /// # Safety
    /// Once only: two values would write behind each other's back.
    pub const unsafe fn take() -> Self {
        Self(())
    }

    fn base() -> usize {
        &raw const _store as usize
    }

    /// Programs a page when there are bytes, erases a sector when there are none. `offset` was checked to lie inside.
    fn alter(offset: usize, bytes: Option<&[u8; PAGE]>) {
        let at = Self::base() - XIP + offset;
        let mut calls = Calls {
            connect: rom_data::connect_internal_flash::ptr(),
            leave_xip: rom_data::flash_exit_xip::ptr(),
            erase: rom_data::flash_range_erase::ptr(),
            program: rom_data::flash_range_program::ptr(),
            flush: rom_data::flash_flush_cache::ptr(),
            boot2: [0; 64],
        };
        for (index, word) in calls.boot2.iter_mut().enumerate() {
            // SAFETY: the boot loader's 256 bytes at the beginning of the flash.
            *word = unsafe { read_volatile((XIP as *const u32).wrapping_add(index)) };
        }
        let bytes = bytes.map_or(core::ptr::null(), |bytes| bytes.as_ptr());
        #[allow(clippy::cast_possible_truncation)] // addresses of this processor
        cortex_m::interrupt::free(|_| {
            // SAFETY: inside the pages kept free; nothing else runs, on either core; what is called lies in memory.
            unsafe { without_flash(&calls, at as u32, bytes) };
        });
    }
}

/// # Safety
/// Interrupts are off, and `at` is a page or a sector that nothing runs from. It must not call anything that lies in flash.
#[inline(never)]
#[unsafe(link_section = ".data.without_flash")]
unsafe extern "C" fn without_flash(calls: *const Calls, at: u32, bytes: *const u8) {
    // SAFETY: as the caller says. The boot loader's code is position-independent and returns when it is called.
    unsafe {
        ((*calls).connect)();
        ((*calls).leave_xip)();
        if bytes.is_null() {
            ((*calls).erase)(at, SECTOR, BLOCK, BLOCK_ERASE);
        } else {
            ((*calls).program)(at, bytes, PAGE);
        }
        ((*calls).flush)();
        // Its first instruction; the lowest bit says that it is Thumb code.
        let boot2 = (&raw const (*calls).boot2).wrapping_byte_add(1);
        let boot2: unsafe extern "C" fn() = core::mem::transmute(boot2);
        boot2();
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len())?;
        for (at, place) in (Self::base() + offset as usize..).zip(bytes) {
            // SAFETY: a byte of the pages kept free.
            *place = unsafe { read_volatile(at as *const u8) };
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        BYTES
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = WORD;
    const ERASE_SIZE: usize = SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to)?;
        for offset in (from as usize..to as usize).step_by(SECTOR) {
            Self::alter(offset, None);
        }
        Ok(())
    }

    /// A page that is written in parts is written with ones around the part, which leave the rest as it is.
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len())?;
        let mut page = [0xFF; PAGE];
        let mut at = offset as usize;
        let mut written = false;
        for byte in bytes {
            if let Some(place) = page.get_mut(at % PAGE) {
                *place = *byte;
            }
            written = false;
            at += 1;
            if at.is_multiple_of(PAGE) {
                Self::alter(at - PAGE, Some(&page));
                page = [0xFF; PAGE];
                written = true;
            }
        }
        if !written && !bytes.is_empty() {
            Self::alter(at - at % PAGE, Some(&page));
        }
        Ok(())
    }
}
