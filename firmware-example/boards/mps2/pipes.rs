//! Two named pipes of the machine that emulates the board, reached by semihosting: the only way out of an emulated processor
//! that is quick enough for a day in a minute.

// A semihosting call is a breakpoint instruction with the address of its arguments.
#![allow(unsafe_code)]

use core::ffi::CStr;
use cortex_m_semihosting::nr;

/// From the host. The names are those of the folder in which the emulator was started.
const FROM_HOST: &CStr = c"to-board";
/// To the host.
const TO_HOST: &CStr = c"from-board";
/// Open for reading, bytes as they are.
const READ: usize = nr::open::R_BINARY;
/// Open for writing, bytes as they are.
const WRITE: usize = nr::open::W_TRUNC_BINARY;

/// The open pipes.
pub struct Pipes {
    from_host: usize,
    to_host: usize,
    /// The host has closed its end.
    pub ended: bool,
}

impl Pipes {
    /// Opens both; the host must open them in the same order.
    pub fn open() -> Option<Self> {
        Some(Self {
            from_host: open(FROM_HOST, READ)?,
            to_host: open(TO_HOST, WRITE)?,
            ended: false,
        })
    }

    /// Waits for bytes and gives their number.
    pub fn read(&mut self, room: &mut [u8]) -> usize {
        let arguments = [self.from_host, room.as_mut_ptr() as usize, room.len()];
        // SAFETY: the handle is open, and `room` is as long as is said. The answer is the number of bytes not read.
        let unread = unsafe { cortex_m_semihosting::syscall(nr::READ, &arguments) };
        let read = room.len().saturating_sub(unread);
        self.ended |= read == 0;
        read
    }

    /// Writes them all.
    pub fn write(&mut self, bytes: &[u8]) {
        let arguments = [self.to_host, bytes.as_ptr() as usize, bytes.len()];
        // SAFETY: the handle is open, and `bytes` is as long as is said.
        let unwritten = unsafe { cortex_m_semihosting::syscall(nr::WRITE, &arguments) };
        self.ended |= unwritten != 0;
    }
}

fn open(name: &CStr, mode: usize) -> Option<usize> {
    let arguments = [name.as_ptr() as usize, mode, name.count_bytes()];
    // SAFETY: the name ends in a zero, which its length leaves out, as the call wants it.
    let handle = unsafe { cortex_m_semihosting::syscall(nr::OPEN, &arguments) };
    (handle != usize::MAX).then_some(handle)
}
