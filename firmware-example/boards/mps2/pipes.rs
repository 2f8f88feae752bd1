//! Two named pipes to the host: the only way out of an emulated processor that is quick enough for a day in a minute.

use crate::host_file::{HostFile, READ, WRITE};

/// The open pipes.
pub struct Pipes {
    from_host: HostFile,
    to_host: HostFile,
    /// The host has closed its end.
    pub ended: bool,
    /// What came last may have been no more than a sign of life.
    idle: bool,
}

impl Pipes {
    /// Opens both; the host must open them in the same order. After a reset they are opened again: what the host has sent
    /// meanwhile waits in them.
    pub fn open() -> Option<Self> {
        Some(Self {
            from_host: HostFile::open(c"to-board", READ)?,
            to_host: HostFile::open(c"from-board", WRITE)?,
            ended: false,
            idle: false,
        })
    }

    /// Waits for bytes and gives their number. A host with nothing to say sends a zero now and then, which ends no frame; after one
    /// there is nothing at the next call. So the board goes round as one whose line does not wait, and looks at its clock: it read on
    /// for 32 of them, and a host that fell silent at the wrong moment was a reset by the watchdog.
    pub fn read(&mut self, room: &mut [u8]) -> usize {
        if core::mem::take(&mut self.idle) {
            return 0;
        }
        let read = self.from_host.read(room);
        self.idle = read == 1 && room.first() == Some(&0);
        self.ended |= read == 0;
        read
    }

    /// Writes them all.
    pub fn write(&mut self, bytes: &[u8]) {
        self.ended |= !self.to_host.write(bytes);
    }
}
