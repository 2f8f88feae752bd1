//! The store as a board holds it: opened at its first use.

use super::Store;
use crate::board::{Item, Unkept};
use embedded_storage::nor_flash::NorFlash;

/// A store that is opened when something is first loaded or saved, so that outputs can be made safe before any flash is read.
/// [`crate::Board::load`], [`crate::Board::save`] and [`crate::Board::go_back`] pass their arguments on to the methods of the
/// same names. A flash that cannot be read keeps nothing, and the application says so.
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
    pub fn load(&mut self, item: Item, room: &mut [u8]) -> Option<usize> {
        self.store()?.load_bytes(item, room).ok()?
    }

    /// For [`crate::Board::save`].
    ///
    /// # Errors
    /// When nothing could be written; what was kept before is kept still.
    pub fn save(&mut self, item: Item, bytes: &[u8]) -> Result<(), Unkept> {
        let store = self.store().ok_or(Unkept::Failed)?;
        store.save_bytes(item, bytes).map_err(|_| Unkept::Failed)
    }

    /// For [`crate::Board::go_back`].
    pub fn go_back(&mut self, item: Item) -> bool {
        self.store().is_some_and(|store| store.go_back(item).unwrap_or(false))
    }

    fn store(&mut self) -> Option<&mut Store<F, ROOM>> {
        if let Some(flash) = self.unopened.take() {
            self.store = Store::open(flash).ok();
        }
        self.store.as_mut()
    }
}
