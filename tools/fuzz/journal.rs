//! Any records to the reader of journals, with checks that fit, and what they say to the engine.
#![no_main]

#[path = "../../tests/support/claims/mod.rs"]
mod claims;

use claims::journal;
use libfuzzer_sys::fuzz_target;
use std::path::PathBuf;
use std::sync::LazyLock;

/// A file of this process's own; a journal is replayed from a file.
static PATH: LazyLock<PathBuf> =
    LazyLock::new(|| std::env::temp_dir().join(format!("fuzz-{}.journal", std::process::id())));

fuzz_target!(|bytes: &[u8]| {
    journal::journal(&journal::sealed(bytes), &PATH);
});
