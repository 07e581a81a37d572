//! Random sessions: rigs and operators with everything in them, and hands that do anything.
//!
//! | module | what lives there |
//! |---|---|
//! | [`play`] | a session: hands and the world they do it to |
//! | `hands`, `edits`, `errands`, `trouble` | what they think of: pads, files, moves asked for leg by leg, what goes wrong |
//! | `operators` | the rigs and profiles they have |
//! | [`act`] | what was done, as a list: a scene |
//! | [`stage`] | a world a scene is played in, and its judges |
//! | `meant`, `kept`, `tips` | judges beside the laws checker |
//! | `text` | a scene as text |
//! | [`shrink`] | a scene that breaks a law, made small |
//! | [`seen`] | what was come through, counted |
//! | `tell` | a session as a story |

pub mod act;
mod edits;
mod errands;
mod hands;
mod kept;
mod meant;
mod model;
mod operators;
pub mod play;
pub mod seen;
pub mod shrink;
pub mod stage;
mod streaming;
mod tell;
mod text;
mod tips;
mod trouble;
