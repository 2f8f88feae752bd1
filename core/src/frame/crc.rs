//! CRC-32 as in Ethernet and zip.

/// CRC-32/ISO-HDLC: polynomial 0x04C11DB7 reflected, start and final inversion all ones. Published check value of the nine
/// ASCII digits "123456789": 0xCBF43926.
///
/// It finds every single flipped bit and every burst of up to 32 bits; of other damage it misses one in 2^32.
///
/// ```
/// # use risertrim::frame::Crc32;
/// assert_eq!(Crc32::of(b"123456789"), 0xCBF4_3926);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Crc32(u32);

/// The polynomial, low bit first.
const POLYNOMIAL: u32 = 0xEDB8_8320;

/// The remainders of the sixteen half bytes: 64 bytes of flash, a quarter of the work of going bit by bit.
const REMAINDERS: [u32; 16] = {
    let mut table = [0; 16];
    let mut half: u32 = 0;
    while half < 16 {
        let mut rest = half;
        let mut bit = 0;
        while bit < 4 {
            rest = if rest & 1 == 1 {
                rest >> 1 ^ POLYNOMIAL
            } else {
                rest >> 1
            };
            bit += 1;
        }
        table[half as usize] = rest;
        half += 1;
    }
    table
};

impl Crc32 {
    /// Before the first byte.
    #[must_use]
    pub const fn new() -> Self {
        Self(u32::MAX)
    }

    /// Takes one byte in.
    pub const fn push(&mut self, byte: u8) {
        let mut rest = self.0 ^ byte as u32;
        // Four bits never pass the end of sixteen entries.
        rest = rest >> 4 ^ REMAINDERS[(rest & 0xF) as usize];
        rest = rest >> 4 ^ REMAINDERS[(rest & 0xF) as usize];
        self.0 = rest;
    }

    /// Takes bytes in.
    pub fn extend(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.push(*byte);
        }
    }

    /// The checksum of what was taken in so far.
    #[must_use]
    pub const fn value(self) -> u32 {
        !self.0
    }

    /// The checksum of these bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> u32 {
        let mut crc = Self::new();
        crc.extend(bytes);
        crc.value()
    }
}

impl Default for Crc32 {
    fn default() -> Self {
        Self::new()
    }
}
