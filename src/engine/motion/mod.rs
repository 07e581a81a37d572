//! From demands to the velocities a rig is sent.
//!
//! ```text
//! demand x lowest scaling ceiling ─▶ clipping ceilings ─▶ bands ─▶ slew ─▶ guard ─▶ velocity
//!                                       [ceiling]       [bands]  [slew]  [guard]   [rig]
//! ```
//!
//! Each axis has a speed and an acceleration of its own which the slew moves under the sets in
//! force ([`sets`]) and the guard holds within the travel. The rig holds each velocity it is sent
//! until the next one, so the position ([`estimate`]) is the sum of what was really sent over the
//! time that really passed, kept true by what the rig tells.

pub mod axis;
pub mod bands;
pub mod bump;
pub mod ceiling;
pub mod estimate;
pub mod guard;
pub mod in_force;
pub mod rig;
pub mod sets;
pub mod slew;
pub mod stopping;
