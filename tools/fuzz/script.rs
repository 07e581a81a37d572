//! Any text to the readers of scripts: a pad's, and the bench rig's troubles.
#![no_main]

#[path = "../../tests/support/claims/mod.rs"]
mod claims;

use claims::texts;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    texts::script(text);
});
