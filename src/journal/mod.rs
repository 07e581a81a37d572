//! The daemon's own record of what went in and what came out, and the replay of it.
//!
//! ```text
//! loop ──▶ Recorder ──ring of bytes──▶ writer's thread ──▶ DIR/0000000001.journal ...
//!          (encodes, never waits)      (files, rotation)            │
//!                                                 engine ◀── replay ┘
//! ```
//!
//! Each file begins with the whole state of the engine, so that it can be replayed by itself. The loop
//! encodes each turn into a buffer of its own and offers it to the ring whole; a ring without room costs
//! that turn and those up to the next image of the engine, and the journal says how many. What the files
//! hold, byte by byte, is in `FORMAT.md` beside this file.

mod bytes;
pub mod folder;
pub mod read;
pub mod recorder;
pub mod replay;
pub mod row;
pub mod writer;

use serde::{Deserialize, Serialize};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use stillhand_engine::units::Unit;

/// What a file begins with, before the version.
pub const MAGIC: [u8; 6] = *b"SHJRNL";
/// The version of the format, which follows it.
pub const VERSION: u16 = 1;
/// The longest record: an image of four rigs with everything in it has a third of this, a turn with every
/// mailbox full an eighth.
pub const MOST_RECORD: usize = 256 * 1024;

/// How much is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// A file this long, in bytes, is followed by another one as soon as everything is at rest, and at
    /// twice this in any case.
    pub file_bytes: usize,
    /// So many files are kept; the oldest goes first. At least 2.
    pub files: usize,
    /// Bytes between the loop and the writer.
    pub ring_bytes: usize,
}

impl Default for Bounds {
    /// Half a gigabyte in files a mail can carry; a ring that holds over half a minute of motion, in which
    /// the slowest memory card comes back.
    fn default() -> Bounds {
        Bounds {
            file_bytes: 16 * 1024 * 1024,
            files: 32,
            ring_bytes: 4 * 1024 * 1024,
        }
    }
}

/// What stands at the head of each file, for people and for names in tables.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// The version of the program that recorded it.
    pub program: String,
    /// The same in every file of a run.
    pub run: u64,
    /// The file's number in its folder.
    pub number: u64,
    /// When the file was begun, in seconds since 1970.
    pub begun_s: u64,
    /// The operator's name when the run began.
    pub operator: String,
    /// The rigs.
    pub rigs: Vec<RigHead>,
}

/// A rig, as far as tables and plots name it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RigHead {
    /// Its identity.
    pub id: String,
    /// Its axes, by name.
    pub axes: Vec<(String, Unit)>,
}

/// How the journal of a running daemon stands; its loop, its writer and whoever looks share it.
#[derive(Debug, Default)]
pub struct Standing {
    stopped: AtomicBool,
    why: Mutex<Option<String>>,
    lost: AtomicU64,
    written: AtomicU64,
}

impl Standing {
    /// Why nothing is recorded any more; `None` while it is.
    pub fn stopped(&self) -> Option<String> {
        if !self.stopped.load(Ordering::Acquire) {
            return None;
        }
        let why = self.why.lock().ok()?.clone();
        Some(why.unwrap_or_else(|| "no reason is known".to_owned()))
    }

    /// How many turns were not recorded because the ring had no room.
    pub fn lost(&self) -> u64 {
        self.lost.load(Ordering::Relaxed)
    }

    /// How many bytes this run has written.
    pub fn written(&self) -> u64 {
        self.written.load(Ordering::Relaxed)
    }

    /// The journal stops for good, and says why.
    pub(crate) fn stop(&self, words: String) {
        if let Ok(mut why) = self.why.lock() {
            why.get_or_insert(words);
        }
        self.stopped.store(true, Ordering::Release);
    }

    fn is_stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests;
