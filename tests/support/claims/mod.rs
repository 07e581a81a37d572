//! What must hold of any bytes and any text. The tests hold it against random ones, `tools/fuzz` against
//! those that libFuzzer finds; each claim stands here alone.

#![allow(dead_code)] // Each user holds its own part.

pub mod frames;
pub mod journal;
pub mod line;
pub mod page;
pub mod texts;
