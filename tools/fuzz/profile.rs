//! Any text to the readers of rig files, operator profiles and quiet files.
#![no_main]

#[path = "../../tests/support/claims/mod.rs"]
mod claims;

use claims::texts;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    texts::profile(text);
});
