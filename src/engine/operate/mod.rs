//! Who may move the rig, and when it may not.

pub mod consent;
pub mod hand;
pub mod holders;
pub mod inching;
pub mod life;
pub mod modes;
pub mod pads;
pub mod presses;
pub mod state;
pub mod sustain;

#[cfg(test)]
mod tests;
