//! Files and pipes of the machine that emulates the board, reached by semihosting.

// A semihosting call is a breakpoint instruction with the address of its arguments.
#![allow(unsafe_code)]

use core::ffi::CStr;
use cortex_m_semihosting::nr;

/// Open for reading, bytes as they are.
pub const READ: usize = nr::open::R_BINARY;
/// Open for writing, bytes as they are.
pub const WRITE: usize = nr::open::W_TRUNC_BINARY;
/// Open for reading and writing, what is there left as it is.
#[cfg(feature = "test-resets")]
pub const READ_WRITE: usize = nr::open::RW_BINARY;
/// Open for reading and writing, made anew.
#[cfg(feature = "test-resets")]
pub const NEW: usize = nr::open::RW_TRUNC_BINARY;

/// An open file or pipe. The names are those of the folder in which the emulator was started.
pub struct HostFile(usize);

impl HostFile {
    /// Opens it; `None` when that cannot be done.
    pub fn open(name: &CStr, mode: usize) -> Option<Self> {
        let arguments = [name.as_ptr() as usize, mode, name.count_bytes()];
        // SAFETY: the name ends in a zero, which its length leaves out, as the call wants it.
        let handle = unsafe { cortex_m_semihosting::syscall(nr::OPEN, &arguments) };
        (handle != usize::MAX).then_some(Self(handle))
    }

    /// Waits for bytes and gives their number.
    pub fn read(&self, room: &mut [u8]) -> usize {
        let arguments = [self.0, room.as_mut_ptr() as usize, room.len()];
        // SAFETY: the handle is open, and `room` is as long as is said. The answer is the number of bytes not read.
        let unread = unsafe { cortex_m_semihosting::syscall(nr::READ, &arguments) };
        room.len().saturating_sub(unread)
    }

    /// Writes them; true when all were written.
    pub fn write(&self, bytes: &[u8]) -> bool {
        let arguments = [self.0, bytes.as_ptr() as usize, bytes.len()];
        // SAFETY: the handle is open, and `bytes` is as long as is said. The answer is the number of bytes not written.
        unsafe { cortex_m_semihosting::syscall(nr::WRITE, &arguments) == 0 }
    }

    /// Goes to its end. (QEMU 7.2 does not append to what is opened for appending.)
    #[cfg(feature = "test-resets")]
    pub fn go_to_end(&self) {
        // SAFETY: the handle is open.
        let length = unsafe { cortex_m_semihosting::syscall(nr::FLEN, &[self.0]) };
        self.go_to(length);
    }

    /// Goes to this byte of it.
    #[cfg(feature = "test-resets")]
    pub fn go_to(&self, byte: usize) {
        // SAFETY: the handle is open.
        let _ = unsafe { cortex_m_semihosting::syscall(nr::SEEK, &[self.0, byte]) };
    }

    /// Closes it.
    #[cfg(feature = "test-resets")]
    pub fn close(self) {
        // SAFETY: the handle is open, and not used again.
        let _ = unsafe { cortex_m_semihosting::syscall(nr::CLOSE, &[self.0]) };
    }
}

/// Removes a file.
#[cfg(feature = "test-resets")]
pub fn remove(name: &CStr) {
    let arguments = [name.as_ptr() as usize, name.count_bytes()];
    // SAFETY: as for `open`.
    let _ = unsafe { cortex_m_semihosting::syscall(nr::REMOVE, &arguments) };
}
