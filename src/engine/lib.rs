//! The sans-IO core of stillhand.
//!
//! ```text
//! pad edges ──▶ feel ──▶ operate ──▶ motion ──▶ velocities for the wire
//!              demand    may it      ceilings, slew,
//!              -1..1     move?       travel guard
//! ```
//!
//! One entry, [`Engine::step`]: a [`Tick`] and the inputs drained since the last one go in, an
//! [`Outputs`] comes out. The engine never reads a clock, a file, a socket or a random source,
//! never logs, and allocates nothing after [`Engine::new`]. It computes with `+ - * /`, `sqrt`
//! and the `libm` crate only, so that the same inputs give the same bits in every build.
//!
//! | module | what lives there |
//! |---|---|
//! | [`time`], [`units`] | integer nanoseconds; speeds, accelerations, jerks in an axis's own unit |
//! | [`rig`], [`operator`], [`bindings`] | the valid types a rig file and an operator profile resolve to |
//! | [`errand`] | motion that is asked for leg by leg: surveys, direction tests, checks |
//! | [`input`], [`output`] | everything that can go in and come out |
//! | [`feel`] | a raw stick to a demand of -1..1 |
//! | [`operate`] | who may move the rig, and when it may not |
//! | [`motion`] | ceilings, the jerk-limited slew, the travel guard, the position estimate |

#![no_std]
#![forbid(unsafe_code)]

extern crate alloc;
#[cfg(test)]
extern crate std;

pub mod bindings;
pub mod current;
mod engine;
pub mod errand;
pub mod feel;
pub mod input;
pub mod motion;
pub mod operate;
pub mod operator;
pub mod output;
pub mod reference;
pub mod rig;
pub mod time;
pub mod units;

pub use engine::{
    Edit, Engine, EngineError, Now, RigEdit, edits, rig_edits, rig_wait_for, wait_for,
};
pub use input::{Input, Inputs, Tick};
pub use output::Outputs;

/// Most axes one rig can have.
pub const MAX_AXES: usize = 8;
/// Most rigs one engine can drive.
pub const MAX_RIGS: usize = 4;
/// Most pads that can be plugged in at once; a further one is ignored and reported.
pub const MAX_PADS: usize = 8;
