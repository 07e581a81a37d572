//! Random sessions: rigs and operators with everything in them, and hands that do anything.
#![allow(dead_code, reason = "each test uses a part of it")]

pub mod meant;
pub mod operators;
pub mod play;
