//! One record in flash: a header, the payload, a checksum over both.

use risertrim::frame::Crc32;

/// Bytes of the header.
pub(crate) const HEADER_BYTES: usize = 16;
/// Bytes of the checksum behind the payload.
pub(crate) const CRC_BYTES: usize = 4;
/// First bytes of every record, its format version among them.
const MARK: [u8; 3] = [0x52, 0x54, 1];

/// What a record is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub(crate) enum Kind {
    /// What the lifts have learned.
    Learned = 1,
    /// An installation.
    Installation = 2,
    /// Says that the installation with the same sequence number is the one to run.
    Commit = 3,
    /// Begins a page of the log.
    LogPage = 4,
}

/// The header of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Header {
    /// A byte of [`Kind`].
    pub(crate) kind: u8,
    /// Bytes of the payload.
    pub(crate) length: u32,
    /// Rises with every record of an area.
    pub(crate) sequence: u32,
    /// Fingerprint of the installation it belongs to.
    pub(crate) fingerprint: u32,
}

impl Header {
    pub(crate) fn new(kind: Kind, length: u32, sequence: u32, fingerprint: u32) -> Self {
        Self {
            kind: kind as u8,
            length,
            sequence,
            fingerprint,
        }
    }

    pub(crate) fn is(&self, kind: Kind) -> bool {
        self.kind == kind as u8
    }

    /// Bytes of the whole record before it is rounded up to whole words.
    pub(crate) fn record_bytes(&self) -> u32 {
        self.length.saturating_add((HEADER_BYTES + CRC_BYTES) as u32)
    }

    fn bytes(&self) -> [u8; HEADER_BYTES] {
        let [a, b, c] = MARK;
        let [l0, l1, l2, l3] = self.length.to_le_bytes();
        let [s0, s1, s2, s3] = self.sequence.to_le_bytes();
        let [f0, f1, f2, f3] = self.fingerprint.to_le_bytes();
        [a, b, c, self.kind, l0, l1, l2, l3, s0, s1, s2, s3, f0, f1, f2, f3]
    }

    /// The header at the start of these bytes, if there is one.
    pub(crate) fn parse(bytes: &[u8]) -> Option<Self> {
        let header: [u8; HEADER_BYTES] = bytes.get(..HEADER_BYTES)?.try_into().ok()?;
        let [a, b, c, kind, l0, l1, l2, l3, s0, s1, s2, s3, f0, f1, f2, f3] = header;
        ([a, b, c] == MARK).then_some(Self {
            kind,
            length: u32::from_le_bytes([l0, l1, l2, l3]),
            sequence: u32::from_le_bytes([s0, s1, s2, s3]),
            fingerprint: u32::from_le_bytes([f0, f1, f2, f3]),
        })
    }

    /// Puts header and checksum around the payload that already stands in `room` behind the place of the header, and fills up to
    /// whole words. Gives the record's bytes; `None` when there is no room.
    pub(crate) fn seal<'a>(&self, room: &'a mut [u8], align: u32) -> Option<&'a [u8]> {
        let end = usize::try_from(self.record_bytes()).ok()?;
        let whole = usize::try_from(round_up(self.record_bytes(), align)).ok()?;
        let room = room.get_mut(..whole)?;
        room.get_mut(..HEADER_BYTES)?.copy_from_slice(&self.bytes());
        let crc_at = end.checked_sub(CRC_BYTES)?;
        let crc = Crc32::of(room.get(..crc_at)?);
        room.get_mut(crc_at..end)?.copy_from_slice(&crc.to_le_bytes());
        room.get_mut(end..)?.fill(0xFF);
        Some(room)
    }
}

/// `bytes` rounded up to a multiple of `align`, a power of two.
pub(crate) const fn round_up(bytes: u32, align: u32) -> u32 {
    bytes.saturating_add(align.wrapping_sub(1)) & !align.wrapping_sub(1)
}
