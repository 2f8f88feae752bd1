//! An installation that comes in parts.

use heapless::Vec;
use risertrim::Installation;
use risertrim::frame::Crc32;
use risertrim::link::Not;
use serde::de::DeserializeOwned;

/// Postcard bytes of the largest installation that can be sent or kept: eight lifts and nine tanks, every table full, take less.
pub const INSTALLATION_BYTES: usize = 4096;

/// What has come so far.
#[derive(Clone, Debug)]
pub struct Incoming {
    room: [u8; INSTALLATION_BYTES],
    length: usize,
    /// Length and fingerprint announced; nothing when none is on its way.
    announced: Option<(usize, u32)>,
}

impl Incoming {
    /// Nothing on its way.
    pub const fn new() -> Self {
        Self {
            room: [0; INSTALLATION_BYTES],
            length: 0,
            announced: None,
        }
    }

    /// Nothing on its way any more.
    pub fn forget(&mut self) {
        self.length = 0;
        self.announced = None;
    }

    /// The room for bytes, for other use while nothing is on its way.
    pub fn room(&mut self) -> &mut [u8] {
        self.forget();
        &mut self.room
    }

    /// One is announced.
    pub fn begin(&mut self, bytes: u32, fingerprint: u32) -> Result<(), Not> {
        self.forget();
        let bytes = usize::try_from(bytes).ok().filter(|bytes| *bytes <= INSTALLATION_BYTES);
        self.announced = Some((bytes.ok_or(Not::TooLarge)?, fingerprint));
        Ok(())
    }

    /// A part of it. Parts come in order.
    pub fn part(&mut self, offset: u32, part: &[u8]) -> Result<(), Not> {
        let (bytes, _) = self.announced.ok_or(Not::PartsOutOfOrder)?;
        let end = self.length.saturating_add(part.len());
        if usize::try_from(offset) != Ok(self.length) || end > bytes {
            return Err(Not::PartsOutOfOrder);
        }
        let room = self.room.get_mut(self.length..end).ok_or(Not::TooLarge)?;
        // Byte by byte: that both are of one length cannot be shown to the compiler, and a copy of slices would keep a panic.
        for (place, byte) in room.iter_mut().zip(part) {
            *place = *byte;
        }
        self.length = end;
        Ok(())
    }

    /// The bytes of the whole, once they are those announced.
    pub fn whole(&self) -> Result<&[u8], Not> {
        let (bytes, fingerprint) = self.announced.ok_or(Not::PartsOutOfOrder)?;
        if bytes != self.length {
            return Err(Not::PartsOutOfOrder);
        }
        let whole = self.room.get(..bytes).unwrap_or_default();
        if Crc32::of(whole) == fingerprint {
            Ok(whole)
        } else {
            Err(Not::NotAnInstallation)
        }
    }
}

/// Reads an installation where it is to lie, part by part: read whole and then moved, it would pass through the stack several
/// times over. The order is that of the fields, as postcard writes them.
pub fn read_into<const LIFTS: usize, const TANKS: usize>(
    bytes: &[u8],
    installation: &mut Installation<LIFTS, TANKS>,
) -> Result<(), Not> {
    let rest = one(bytes, |site| {
        installation.site = site;
        Ok(())
    })?;
    let rest = one(rest, |air| {
        installation.air = air;
        Ok(())
    })?;
    let rest = several(rest, &mut installation.tanks)?;
    let rest = several(rest, &mut installation.lifts)?;
    let rest = one(rest, |settings| {
        installation.settings = settings;
        Ok(())
    })?;
    if rest.is_empty() {
        Ok(())
    } else {
        Err(Not::NotAnInstallation)
    }
}

#[inline(never)]
fn one<T: DeserializeOwned>(bytes: &[u8], put: impl FnOnce(T) -> Result<(), Not>) -> Result<&[u8], Not> {
    let (value, rest) = postcard::take_from_bytes(bytes).map_err(|_| Not::NotAnInstallation)?;
    put(value)?;
    Ok(rest)
}

fn several<'a, T: DeserializeOwned, const N: usize>(bytes: &'a [u8], into: &mut Vec<T, N>) -> Result<&'a [u8], Not> {
    into.clear();
    let mut count = 0usize;
    let mut rest = one(bytes, |number| {
        count = number;
        Ok(())
    })?;
    for _ in 0..count {
        rest = one(rest, |value| into.push(value).map_err(|_| Not::TooLarge))?;
    }
    Ok(rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_installation_read_part_by_part_is_the_one_that_was_written() {
        let mut written = Installation::<3, 4>::NONE;
        written.site.altitude_m = 12.5;
        written.settings.period_ms = 500;
        let bytes = postcard::to_stdvec(&written).unwrap();
        let mut read = Installation::<3, 4>::NONE;
        read.site.water_c = -1.0;
        assert_eq!(read_into(&bytes, &mut read), Ok(()));
        assert_eq!(read, written);
        for length in 0..bytes.len() {
            assert_eq!(
                read_into(&bytes[..length], &mut read),
                Err(Not::NotAnInstallation),
                "{length}"
            );
        }
        let longer = [&bytes[..], &[0]].concat();
        assert_eq!(read_into(&longer, &mut read), Err(Not::NotAnInstallation));
    }
}
