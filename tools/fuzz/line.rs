//! Any bytes, and any messages with a right CRC, to a session and a rig that have met.
#![no_main]

#[path = "../../tests/support/claims/mod.rs"]
mod claims;

use claims::line::{self, Step};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|input: &[u8]| {
    line::hold(&Step::all(input));
});
