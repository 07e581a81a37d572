//! The reader of journals: any records, with checks that fit, are replayed or refused.

#![allow(dead_code)] // Each user holds its own part.

use super::page::crc32;
use std::path::{Path, PathBuf};
use stillhand::journal::replay::{Blind, Found, replay};

/// Magic and version.
const HEAD: usize = 8;

/// The same bytes with the check of each record made to fit, as far as they are records at all.
pub fn sealed(bytes: &[u8]) -> Vec<u8> {
    let mut sealed = bytes.to_vec();
    let mut rest = sealed.get_mut(HEAD..).unwrap_or_default();
    while let Some((length, _)) = rest.split_first_chunk::<4>() {
        let checked = (u32::from_le_bytes(*length) as usize).saturating_add(4);
        if rest.len() < checked.saturating_add(4) {
            break;
        }
        let (record, after) = rest.split_at_mut(checked + 4);
        let (said, check) = record.split_at_mut(checked);
        check.copy_from_slice(&crc32(said).to_le_bytes());
        rest = after;
    }
    sealed
}

/// Replays a journal of one file with these bytes, written to `path`.
pub fn journal(bytes: &[u8], path: &Path) -> Found {
    std::fs::write(path, bytes).expect("writable");
    let found = replay(&[PathBuf::from(path)], &mut Blind).expect("a file that can be opened");
    // Whatever else was wrong with it, a tick is counted only if it was replayed.
    assert!(found.files == 1 && found.seconds.is_finite() && found.seconds >= 0.0);
    found
}
