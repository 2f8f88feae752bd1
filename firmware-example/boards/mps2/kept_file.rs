//! For the tests of power cuts alone: the flash with all of its words in the file `flash` too, which outlives the emulator.
//!
//! Every erasure and every word goes to the file in the order in which the flash got them, one call of the host each, so that an
//! emulator that is killed at any moment leaves there what a chip would hold: words of a write or parts of an erasure may be lacking
//! at the end, none in between. A chip can also be caught with half the bits of a word; that is tried on the host
//! (`firmware-example/tests/flash`).
//!
//! QEMU 7.2 hands each write to its host's system at once and keeps none back.

use crate::host_file::{HostFile, NEW, READ_WRITE};
use crate::nor::Nor;
use crate::power_cut::{self, Done};
use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};

/// Bytes of the file read at a time.
const CHUNK: usize = 1024;
/// Bytes of an erasure that go to the file at once: a cut leaves a page half erased.
const ERASED: [u8; 64] = [0xFF; 64];
const WORD: usize = Nor::WRITE_SIZE;

/// The flash, and its file.
pub struct KeptFile {
    nor: Nor,
    file: HostFile,
}

impl KeptFile {
    /// The flash as the file left it; without a file, or behind its end, a blank one. A chip holds its words before any program runs,
    /// so this comes before the start.
    #[inline(never)]
    pub fn open(nor: Nor) -> Option<Self> {
        let file = HostFile::open(c"flash", READ_WRITE).or_else(|| HostFile::open(c"flash", NEW))?;
        let mut kept = Self { nor, file };
        kept.load().ok()?;
        Some(kept)
    }

    fn load(&mut self) -> Result<(), NorFlashErrorKind> {
        let bytes = end(0, self.nor.capacity());
        self.nor.erase(0, bytes)?;
        let mut chunk = [0; CHUNK];
        for at in (0..bytes).step_by(CHUNK) {
            self.file.go_to(at as usize);
            let read = self.file.read(&mut chunk);
            if read < CHUNK {
                chunk.iter_mut().skip(read).for_each(|byte| *byte = 0xFF);
                self.file.go_to(at as usize);
                self.carry(&chunk)?;
            }
            if chunk.iter().any(|byte| *byte != 0xFF) {
                self.nor.write(at, &chunk)?;
            }
        }
        Ok(())
    }

    /// Writes where the file stands.
    fn carry(&self, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        self.file.write(bytes).then_some(()).ok_or(NorFlashErrorKind::Other)
    }
}

impl ErrorType for KeptFile {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for KeptFile {
    const READ_SIZE: usize = Nor::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        self.nor.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.nor.capacity()
    }
}

impl NorFlash for KeptFile {
    const WRITE_SIZE: usize = Nor::WRITE_SIZE;
    const ERASE_SIZE: usize = Nor::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.nor.erase(from, to)?;
        self.file.go_to(from as usize);
        for at in (from..to).step_by(ERASED.len()) {
            self.carry(&ERASED)?;
            power_cut::step(at, Done::Erased);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        self.nor.write(offset, bytes)?;
        self.file.go_to(offset as usize);
        for at in (offset..end(offset, bytes.len())).step_by(WORD) {
            let mut word = [0; WORD];
            self.nor.read(at, &mut word)?;
            self.carry(&word)?;
            power_cut::step(at, Done::Wrote);
        }
        Ok(())
    }
}

#[allow(clippy::cast_possible_truncation)] // the flash was asked before, and ends within 32 bits
fn end(from: u32, bytes: usize) -> u32 {
    from.saturating_add(bytes as u32)
}
