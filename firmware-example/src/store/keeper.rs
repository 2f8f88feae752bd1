//! The store as a board holds it: opened at its first use.

use super::{Contents, Store};
use crate::board::{Item, Unkept};
use embedded_storage::nor_flash::NorFlash;

/// A store that is opened when something is first loaded or saved, so that outputs can be made safe before any flash is read.
/// [`crate::Board::load`], [`crate::Board::save`] and [`crate::Board::go_back`] pass their arguments on to the methods of the
/// same names. A flash that cannot be opened is tried again at the next use; until then nothing is kept, and the application
/// says so.
///
/// `ROOM` is that of the [`Store`]: [`crate::INSTALLATION_BYTES`] and 32 hold everything a host can send.
#[derive(Debug)]
pub struct Keeper<F, const ROOM: usize> {
    unopened: Option<F>,
    store: Option<Store<F, ROOM>>,
}

impl<F: NorFlash, const ROOM: usize> Keeper<F, ROOM> {
    /// Not opened yet.
    pub const fn new(flash: F) -> Self {
        Self {
            unopened: Some(flash),
            store: None,
        }
    }

    /// For [`crate::Board::load`].
    ///
    /// # Errors
    /// When the flash cannot be read, or `room` is too small for what is kept.
    pub fn load(&mut self, item: Item, room: &mut [u8]) -> Result<Option<usize>, Unkept> {
        self.store()?.load_bytes(item, room).map_err(|_| Unkept::Failed)
    }

    /// For [`crate::Board::save`].
    ///
    /// # Errors
    /// When nothing could be written; what was kept before is kept still.
    pub fn save(&mut self, item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        self.store()?.save_bytes(item, bytes).map_err(|_| Unkept::Failed)
    }

    /// For [`crate::Board::go_back`].
    ///
    /// # Errors
    /// When the flash failed.
    pub fn go_back(&mut self, item: Item) -> Result<bool, Unkept> {
        self.store()?.go_back(item).map_err(|_| Unkept::Failed)
    }

    fn store(&mut self) -> Result<&mut Store<F, ROOM>, Unkept> {
        if let Some(flash) = &mut self.unopened {
            let contents = Contents::find(flash, ROOM).map_err(|_| Unkept::Failed)?;
            self.store = self.unopened.take().map(|flash| Store::of(flash, contents));
        }
        self.store.as_mut().ok_or(Unkept::Failed)
    }
}
