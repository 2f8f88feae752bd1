//! From a payload back to its record.

use super::header::{FORMAT, LAYOUT, MAGIC};
use super::{InstallationMark, Record};
use crate::frame::{Undecodable, decode, fingerprint};
use crate::installation::Installation;

/// Why an intact payload gave no record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Unread {
    /// A header of a newer format: what follows may mean anything.
    NewerFormat(u16),
    /// Not a record: another stream's frame, a record of a newer format, or one for more lifts or tanks than there is room for.
    NotARecord,
}

impl core::fmt::Display for Unread {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NewerFormat(format) => write!(f, "log format {format} is newer than {FORMAT}, the newest known here"),
            Self::NotARecord => f.write_str("intact, but not a record known here"),
        }
    }
}

impl core::error::Error for Unread {}

/// Number of the record, the record, and for [`Record::Installation`] the bytes of the installation.
///
/// # Errors
/// [`Unread`] says why the payload is none.
pub fn read<const LIFTS: usize, const TANKS: usize>(
    payload: &[u8],
) -> Result<(u16, Record<LIFTS, TANKS>, &[u8]), Unread> {
    // A header says its format before anything that may have changed since.
    if let Ok(((_, 0u8, MAGIC, format), _)) = postcard::take_from_bytes::<(u16, u8, [u8; 4], u16)>(payload)
        && format > FORMAT
    {
        return Err(Unread::NewerFormat(format));
    }
    match postcard::take_from_bytes(payload) {
        Ok(((number, record), rest)) => match (&record, rest) {
            (Record::Header(header), []) if header.magic != MAGIC => Err(Unread::NotARecord),
            (Record::Installation(_), _) | (_, []) => Ok((number, record, rest)),
            _ => Err(Unread::NotARecord),
        },
        Err(_) => Err(Unread::NotARecord),
    }
}

/// The installation behind its mark, when it is laid out as in this version.
///
/// # Errors
/// [`Undecodable`] when it is laid out otherwise, is for larger capacities, or is not what its fingerprint says.
pub fn read_installation<const LIFTS: usize, const TANKS: usize>(
    mark: InstallationMark,
    bytes: &[u8],
) -> Result<Installation<LIFTS, TANKS>, Undecodable> {
    if mark.layout != LAYOUT {
        return Err(Undecodable);
    }
    let installation = decode(bytes)?;
    if fingerprint(&installation) == Some(mark.fingerprint) {
        Ok(installation)
    } else {
        Err(Undecodable)
    }
}
