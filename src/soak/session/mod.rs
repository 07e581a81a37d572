//! Random sessions: rigs and operators with everything in them, and hands that do anything.

mod hands;
mod kept;
mod meant;
mod model;
mod operators;
pub mod play;
pub mod seen;
mod tell;
mod tips;
