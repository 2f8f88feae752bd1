//! Reading frames, byte by byte.

use super::{CHECK_BYTES, Crc32, DELIMITER, FULL_BLOCK};

/// What is wrong with a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Harm {
    /// A block of it says that more bytes follow than there are, or it is shorter than its checksum: torn, or bytes were lost.
    Torn,
    /// Its checksum is not that of its payload.
    Checksum,
    /// It is longer than the reader has room for: a lost delimiter, a bad line, or not a frame at all.
    TooLong,
}

impl core::fmt::Display for Harm {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::Torn => "torn",
            Self::Checksum => "checksum wrong",
            Self::TooLong => "too long",
        })
    }
}

/// A stretch of bytes that gave no payload.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Damage {
    /// Where it begins, in bytes since the reader began.
    pub offset: u64,
    /// How long it is, its delimiter included.
    pub bytes: u64,
    /// What is wrong with it.
    pub harm: Harm,
}

/// What a byte brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Taken<'a> {
    /// Nothing yet.
    Nothing,
    /// The end of an intact frame with this payload.
    Payload(&'a [u8]),
    /// The end of a damaged frame.
    Damaged(Damage),
}

/// Reads frames whose payload and checksum together have at most `N` bytes.
///
/// Memory and time for a byte are bounded whatever comes in. A delimiter where no frame has begun is taken as idle line.
#[derive(Clone, Debug)]
pub struct FrameReader<const N: usize> {
    kept: [u8; N],
    length: usize,
    /// Data bytes that the open block still lacks.
    lacking: u8,
    /// A zero follows the open block, if another block does.
    zero_due: bool,
    too_long: bool,
    /// Where the frame that is being read begins.
    began: u64,
    /// Bytes taken in all.
    taken: u64,
    damaged: u32,
}

impl<const N: usize> FrameReader<N> {
    /// At the beginning of a stream.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            kept: [0; N],
            length: 0,
            lacking: 0,
            zero_due: false,
            too_long: false,
            began: 0,
            taken: 0,
            damaged: 0,
        }
    }

    /// Takes one byte in.
    pub fn take(&mut self, byte: u8) -> Taken<'_> {
        self.taken = self.taken.saturating_add(1);
        if byte == DELIMITER {
            return self.end_frame();
        }
        if self.lacking > 0 {
            self.lacking = self.lacking.saturating_sub(1);
            self.keep(byte);
        } else {
            if self.zero_due {
                self.keep(0);
            }
            self.lacking = byte.saturating_sub(1);
            self.zero_due = byte != FULL_BLOCK;
        }
        Taken::Nothing
    }

    /// Ends the stream: a frame that has begun and is not complete is damaged.
    pub fn finish(&mut self) -> Option<Damage> {
        let unfinished = self.unfinished();
        (unfinished > 0).then(|| self.lose(Harm::Torn))
    }

    /// Bytes of a frame that has begun and is not complete.
    #[must_use]
    pub fn unfinished(&self) -> u64 {
        self.taken.saturating_sub(self.began)
    }

    /// Bytes taken in so far.
    #[must_use]
    pub fn taken(&self) -> u64 {
        self.taken
    }

    /// Where the frame begins that is being read, or that the next byte will begin.
    #[must_use]
    pub fn began(&self) -> u64 {
        self.began
    }

    /// Damaged frames so far; stops at its largest value.
    #[must_use]
    pub fn damaged(&self) -> u32 {
        self.damaged
    }

    /// Forgets a frame that has begun, without counting it: for a line that was opened anew.
    pub fn restart(&mut self) {
        self.next_frame();
    }

    /// What was unstuffed of the frame being read, if its last block is whole.
    #[cfg(test)]
    pub(super) fn kept(&self) -> Option<&[u8]> {
        self.kept.get(..self.length).filter(|_| self.lacking == 0)
    }

    fn keep(&mut self, byte: u8) {
        match self.kept.get_mut(self.length) {
            Some(place) => {
                *place = byte;
                self.length = self.length.saturating_add(1);
            }
            None => self.too_long = true,
        }
    }

    fn end_frame(&mut self) -> Taken<'_> {
        if self.unfinished() <= 1 {
            self.next_frame();
            return Taken::Nothing;
        }
        let length = self.length;
        let harm = match self
            .kept
            .get(..length)
            .and_then(|kept| kept.split_last_chunk::<CHECK_BYTES>())
        {
            _ if self.too_long => Harm::TooLong,
            _ if self.lacking > 0 => Harm::Torn,
            None => Harm::Torn,
            Some((payload, check)) if Crc32::of(payload) != u32::from_le_bytes(*check) => Harm::Checksum,
            Some(_) => {
                self.next_frame();
                let payload = self.kept.get(..length.saturating_sub(CHECK_BYTES));
                return Taken::Payload(payload.unwrap_or_default());
            }
        };
        Taken::Damaged(self.lose(harm))
    }

    fn lose(&mut self, harm: Harm) -> Damage {
        let damage = Damage {
            offset: self.began,
            bytes: self.unfinished(),
            harm,
        };
        self.damaged = self.damaged.saturating_add(1);
        self.next_frame();
        damage
    }

    fn next_frame(&mut self) {
        self.length = 0;
        self.lacking = 0;
        self.zero_due = false;
        self.too_long = false;
        self.began = self.taken;
    }
}

impl<const N: usize> Default for FrameReader<N> {
    fn default() -> Self {
        Self::new()
    }
}
