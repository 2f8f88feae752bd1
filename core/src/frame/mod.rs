//! Values as frames of bytes that survive a bad line, a torn log and a restart in the middle.
//!
//! A frame is `COBS(payload, CRC-32 of the payload, low byte first)` and one zero byte. The payload is one value in
//! postcard's encoding. COBS (Cheshire & Baker 1999) leaves no zero byte inside, so a reader that lost its place finds it
//! again at the next zero; the CRC tells a damaged payload. A reader loses the frames that were touched, and no other; a damaged
//! zero byte touches the frames on both of its sides.
//!
//! * [`encode`], [`encode_bytes`]: a value, or bytes, into a frame; nothing but the output is needed as memory.
//! * [`FrameReader`]: byte by byte back to payloads, with the place of everything that was damaged.
//! * [`to_bytes`]: a value as the bytes of a payload, without a frame around them.
//! * [`decode`]: a payload back to its value.
//! * [`fingerprint`]: the CRC-32 of any value's encoding.

mod crc;
mod decode;
mod encoding;
mod fingerprint;
mod reader;
mod writer;

pub use crc::Crc32;
pub use decode::{Undecodable, decode};
pub use encoding::to_bytes;
pub use fingerprint::fingerprint;
pub use reader::{Damage, FrameReader, Harm, Taken};
pub use writer::{NoRoom, encode, encode_bytes};

/// Bytes of the checksum at the end of every payload.
pub const CHECK_BYTES: usize = 4;

/// The byte that ends a frame and stands nowhere else.
pub const DELIMITER: u8 = 0;

/// Longest frame that a payload of this many bytes can become, its delimiter included.
#[must_use]
pub const fn longest_frame(payload: usize) -> usize {
    let checked = payload + CHECK_BYTES;
    checked + checked / MOST_IN_BLOCK + 2
}

/// Bytes in a full COBS block.
const MOST_IN_BLOCK: usize = 254;
/// COBS code of a full block, which no zero follows.
const FULL_BLOCK: u8 = 0xFF;

#[cfg(test)]
mod tests;
