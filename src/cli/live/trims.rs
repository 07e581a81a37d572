//! The folder of trims, read anew whenever something in it changes.

use crate::shell::pad::trim::file::Shelf;
use crate::shell::pad::trim::fresh::Fresh;
use crate::shell::watch::Looker;
use std::path::PathBuf;

/// Reads the folder, and leaves what changed for the pads' thread.
pub(in crate::cli) struct Trims {
    pub(in crate::cli) folder: PathBuf,
    /// As last read.
    pub(in crate::cli) shelf: Shelf,
    pub(in crate::cli) fresh: Fresh,
}

impl Looker for Trims {
    fn look(&mut self) -> Vec<PathBuf> {
        // A folder that can't be read leaves all trims as they are. One that is not there yet is found by the poll,
        // however many of the folders above it are missing too.
        if let Ok(shelf) = Shelf::read(&self.folder)
            && shelf != self.shelf
        {
            self.shelf = shelf.clone();
            self.fresh.put(shelf);
        }
        // A trim that is new is found by the folder's own stamp, at the next poll.
        let files = self.shelf.paths().map(PathBuf::from);
        files.chain([self.folder.clone()]).collect()
    }

    fn called(&mut self) -> Vec<PathBuf> {
        self.look()
    }

    /// Told by the thread that watches the profile's and the rig's files.
    fn blind(&mut self, _: String) {}
}
