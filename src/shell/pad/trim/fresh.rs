//! Trims read anew while pads are heard: whoever watches their folder reads, the pads' thread only takes.

use std::sync::{Arc, Mutex, PoisonError};

use super::file::Shelf;

/// A mailbox of one: newer trims replace those nobody has taken yet.
#[derive(Clone, Debug, Default)]
pub struct Fresh(Arc<Mutex<Option<Shelf>>>);

impl Fresh {
    /// Leaves all trims there are.
    pub fn put(&self, shelf: Shelf) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(shelf);
    }

    /// Takes them, without waiting.
    pub(in super::super) fn take(&self) -> Option<Shelf> {
        self.0.try_lock().ok()?.take()
    }
}
