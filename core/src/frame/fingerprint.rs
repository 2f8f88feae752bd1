//! A short mark by which two values are known to be the same.

use super::encoding::{Output, write};
use super::{Crc32, NoRoom};
use serde::Serialize;

/// The CRC-32 of the postcard encoding of a value, without a buffer. Equal values have equal marks on every target and at every
/// capacity; two different installations share one by chance once in four thousand million.
///
/// `None` for a value that cannot be written (a sequence of unknown length); no type of this crate is one.
#[must_use]
pub fn fingerprint<T: Serialize + ?Sized>(value: &T) -> Option<u32> {
    let mut crc = Crc32::new();
    write(value, &mut crc).ok()?;
    Some(crc.value())
}

impl Output for Crc32 {
    fn put(&mut self, byte: u8) -> Result<(), NoRoom> {
        self.push(byte);
        Ok(())
    }
}
