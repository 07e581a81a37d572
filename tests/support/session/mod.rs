//! Random sessions: rigs and operators with everything in them, and hands that do anything.
#![allow(dead_code, reason = "each test uses a part of it")]

pub mod hands;
pub mod kept;
pub mod meant;
pub mod operators;
pub mod play;
pub mod seen;
pub mod tell;
pub mod tips;
