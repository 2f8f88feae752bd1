//! The store of a board without flash of its own: memory, two slots an item, gone with the emulator.

use risertrim_firmware::{INSTALLATION_BYTES, Item};

/// Bytes of what was learned, at most.
const LEARNED_BYTES: usize = 512;

/// Both items.
pub struct Kept {
    installation: Slots<INSTALLATION_BYTES>,
    learned: Slots<LEARNED_BYTES>,
}

/// The newest bytes and those before.
struct Slots<const N: usize> {
    rooms: [([u8; N], usize); 2],
    newest: usize,
}

impl Kept {
    /// Nothing kept.
    pub const fn new() -> Self {
        Self {
            installation: Slots::new(),
            learned: Slots::new(),
        }
    }

    /// The newest bytes of an item.
    pub fn newest(&self, item: Item) -> Option<&[u8]> {
        match item {
            Item::Installation => self.installation.get(),
            Item::Learned => self.learned.get(),
        }
    }

    /// Keeps bytes beside those before.
    pub fn put(&mut self, item: Item, bytes: &[u8]) -> Option<()> {
        match item {
            Item::Installation => self.installation.put(bytes),
            Item::Learned => self.learned.put(bytes),
        }
    }

    /// Back to the bytes before.
    pub fn go_back(&mut self, item: Item) -> bool {
        match item {
            Item::Installation => self.installation.go_back(),
            Item::Learned => self.learned.go_back(),
        }
    }
}

impl<const N: usize> Slots<N> {
    const fn new() -> Self {
        Self {
            rooms: [([0; N], 0); 2],
            newest: 0,
        }
    }

    fn get(&self) -> Option<&[u8]> {
        let (room, length) = self.rooms.get(self.newest)?;
        room.get(..*length).filter(|bytes| !bytes.is_empty())
    }

    fn put(&mut self, bytes: &[u8]) -> Option<()> {
        let other = 1 - self.newest;
        let (room, length) = self.rooms.get_mut(other)?;
        for (place, byte) in room.get_mut(..bytes.len())?.iter_mut().zip(bytes) {
            *place = *byte;
        }
        *length = bytes.len();
        self.newest = other;
        Some(())
    }

    fn go_back(&mut self) -> bool {
        if let Some((_, length)) = self.rooms.get_mut(self.newest) {
            *length = 0;
        }
        self.newest = 1 - self.newest;
        self.get().is_some()
    }
}
