//! Random sessions: rigs and operators with everything in them, and hands that do anything.

pub mod act;
mod hands;
mod kept;
mod meant;
mod operators;
pub mod play;
pub mod seen;
pub mod shrink;
pub mod stage;
mod tell;
mod text;
mod tips;
