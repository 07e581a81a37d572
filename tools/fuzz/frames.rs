//! Any bytes to the frame decoders of both directions, cut at any two places.
#![no_main]

#[path = "../../tests/support/claims/mod.rs"]
mod claims;

use claims::line::Step;
use claims::{frames, page};
use libfuzzer_sys::fuzz_target;

// A fuzzer does not guess a CRC, so a piece of the input may ask for one.
fuzz_target!(|input: &[u8]| {
    let Some((cuts, bytes)) = input.split_first_chunk::<2>() else {
        return;
    };
    let mut line = Vec::new();
    for step in Step::all(bytes) {
        match step {
            Step::Raw(bytes) => line.extend(bytes),
            Step::ToRig(message) => line.extend(page::frame(&[&[0], &message[..]].concat())),
            Step::FromRig(message) => line.extend(page::frame(&[&[1], &message[..]].concat())),
            Step::Pass(_) => line.push(0),
        }
    }
    frames::hold(&line, &cuts.map(usize::from));
});
