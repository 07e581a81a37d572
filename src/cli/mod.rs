//! One file per command.

pub mod pads;
