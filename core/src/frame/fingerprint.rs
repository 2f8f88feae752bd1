//! A short mark by which two values are known to be the same.

use super::Crc32;
use postcard::ser_flavors::Flavor;
use serde::Serialize;

/// The CRC-32 of the postcard encoding of a value, without a buffer. Equal values have equal marks on every target and at every
/// capacity; two different installations share one by chance once in four thousand million.
///
/// `None` for a value that postcard cannot write (a sequence of unknown length); no type of this crate is one.
#[must_use]
pub fn fingerprint<T: Serialize + ?Sized>(value: &T) -> Option<u32> {
    postcard::serialize_with_flavor(value, Only(Crc32::new())).ok()
}

struct Only(Crc32);

impl Flavor for Only {
    type Output = u32;

    fn try_push(&mut self, byte: u8) -> postcard::Result<()> {
        self.0.push(byte);
        Ok(())
    }

    fn finalize(self) -> postcard::Result<u32> {
        Ok(self.0.value())
    }
}
