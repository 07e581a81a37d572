//! The folder of a journal: which files are its, and how many are kept.

use std::fs::{File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};

/// What the name of a journal's file ends with.
const ENDING: &str = ".journal";
/// Digits of its number.
const DIGITS: usize = 10;
/// The file that a running daemon keeps locked.
const LOCK: &str = "in-use";

/// The name of the file of this number.
pub fn name(number: u64) -> String {
    format!("{number:0DIGITS$}{ENDING}")
}

/// The number in such a name.
pub fn number(name: &str) -> Option<u64> {
    let digits = name.strip_suffix(ENDING)?;
    let plain = digits.len() == DIGITS && digits.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| digits.parse().ok())?
}

/// The journal's files in a folder, oldest first.
///
/// # Errors
/// The folder's, when it can't be read.
pub fn files(folder: &Path) -> io::Result<Vec<(u64, PathBuf)>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().and_then(|name| name.to_str());
        if let Some(number) = name.and_then(number) {
            found.push((number, path));
        }
    }
    found.sort();
    Ok(found)
}

/// A folder this process alone writes a journal to.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    keep: usize,
    next: u64,
    /// Locked as long as it is open.
    _lock: File,
}

impl Folder {
    /// Makes the folder if need be and keeps others from writing to it; at most `keep` files (at least 2)
    /// will be in it.
    ///
    /// # Errors
    /// In words, why that is not possible.
    pub fn open(path: &Path, keep: usize) -> Result<Folder, String> {
        let told = |error: io::Error| format!("{}: {error}", path.display());
        std::fs::create_dir_all(path).map_err(told)?;
        let lock = OpenOptions::new()
            .create(true)
            .append(true)
            .open(path.join(LOCK))
            .map_err(told)?;
        let how = rustix::fs::FlockOperation::NonBlockingLockExclusive;
        rustix::fs::flock(&lock, how).map_err(|error| match error {
            rustix::io::Errno::WOULDBLOCK => {
                format!(
                    "{}: another stillhand writes its journal here",
                    path.display()
                )
            }
            other => told(other.into()),
        })?;
        let last = files(path).map_err(told)?.last().map_or(0, |(n, _)| *n);
        Ok(Folder {
            path: path.to_owned(),
            keep: keep.max(2),
            next: last.saturating_add(1),
            _lock: lock,
        })
    }

    /// Begins the next file, and takes away the oldest ones there is no room for. Files of earlier runs
    /// count as well.
    ///
    /// # Errors
    /// The system's.
    pub fn begin(&mut self) -> io::Result<(u64, File)> {
        let old = files(&self.path)?;
        let over = (old.len() + 1).saturating_sub(self.keep);
        for (_, path) in old.iter().take(over) {
            std::fs::remove_file(path)?;
        }
        let number = self.next;
        let file = OpenOptions::new()
            .create_new(true)
            .write(true)
            .open(self.path.join(name(number)))?;
        self.next += 1;
        Ok((number, file))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }
}
