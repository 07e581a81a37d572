//! Random sessions: rigs and operators with everything in them, and hands that do anything.

mod errands;
mod hands;
mod kept;
mod meant;
mod operators;
pub mod play;
pub mod seen;
mod tell;
mod tips;
