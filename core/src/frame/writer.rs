//! Writing frames.

use super::encoding::{Output, write};
use super::{Crc32, DELIMITER, FULL_BLOCK};
use serde::Serialize;

/// The frame did not fit into the room given (or the value cannot be written at all, as a sequence of unknown length). What is in
/// the room then means nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NoRoom;

impl core::fmt::Display for NoRoom {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("the frame is longer than the room for it")
    }
}

impl core::error::Error for NoRoom {}

/// Writes a value as a frame into `room` and returns the frame's length, its delimiter included.
///
/// ```
/// # use risertrim::frame::{decode, encode, FrameReader, Taken};
/// let mut room = [0; 16];
/// let length = encode(&(7u8, true), &mut room)?;
/// let mut reader = FrameReader::<16>::new();
/// for byte in room.iter().take(length) {
///     if let Taken::Payload(payload) = reader.take(*byte) {
///         assert_eq!(decode::<(u8, bool)>(payload), Ok((7, true)));
///     }
/// }
/// # Ok::<(), risertrim::frame::NoRoom>(())
/// ```
///
/// # Errors
/// [`NoRoom`] when it does not fit; [`super::longest_frame`] tells what a payload may need.
pub fn encode<T: Serialize + ?Sized>(value: &T, room: &mut [u8]) -> Result<usize, NoRoom> {
    let mut writer = FrameWriter::new(room);
    write(value, &mut writer)?;
    writer.end()
}

/// Writes bytes as the payload of a frame into `room` and returns the frame's length, its delimiter included.
///
/// # Errors
/// [`NoRoom`] when it does not fit.
pub fn encode_bytes(payload: &[u8], room: &mut [u8]) -> Result<usize, NoRoom> {
    let mut writer = FrameWriter::new(room);
    for byte in payload {
        writer.payload(*byte)?;
    }
    writer.end()
}

/// Writes one frame: checks and stuffs byte by byte.
struct FrameWriter<'a> {
    room: &'a mut [u8],
    /// Where the next byte goes.
    at: usize,
    /// Where the code of the open block stands.
    code_at: usize,
    /// Code of the open block: bytes in it, and one.
    code: u8,
    crc: Crc32,
}

impl<'a> FrameWriter<'a> {
    fn new(room: &'a mut [u8]) -> Self {
        Self {
            room,
            at: 1,
            code_at: 0,
            code: 1,
            crc: Crc32::new(),
        }
    }

    fn payload(&mut self, byte: u8) -> Result<(), NoRoom> {
        self.crc.push(byte);
        self.stuff(byte)
    }

    /// Takes one byte into the open block, or closes it at a zero.
    fn stuff(&mut self, byte: u8) -> Result<(), NoRoom> {
        if self.code == FULL_BLOCK {
            // Only now: a full block at the very end needs no other behind it.
            self.close_block()?;
        }
        if byte == DELIMITER {
            return self.close_block();
        }
        put(self.room, self.at, byte)?;
        self.at = self.at.saturating_add(1);
        self.code = self.code.saturating_add(1);
        Ok(())
    }

    fn close_block(&mut self) -> Result<(), NoRoom> {
        put(self.room, self.code_at, self.code)?;
        self.code_at = self.at;
        self.at = self.at.saturating_add(1);
        self.code = 1;
        Ok(())
    }

    fn end(mut self) -> Result<usize, NoRoom> {
        for byte in self.crc.value().to_le_bytes() {
            self.stuff(byte)?;
        }
        put(self.room, self.code_at, self.code)?;
        put(self.room, self.at, DELIMITER)?;
        Ok(self.at.saturating_add(1))
    }
}

fn put(room: &mut [u8], at: usize, byte: u8) -> Result<(), NoRoom> {
    *room.get_mut(at).ok_or(NoRoom)? = byte;
    Ok(())
}

impl Output for FrameWriter<'_> {
    fn put(&mut self, byte: u8) -> Result<(), NoRoom> {
        self.payload(byte)
    }
}
