//! Who may move the rig, and when it may not.

pub mod consent;
pub mod life;
pub mod pads;
pub mod state;

#[cfg(test)]
mod tests;
