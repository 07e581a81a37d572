//! Whole worlds in virtual time: pad, engine, wire, rig and mechanics, watched by the laws checker.
//!
//! Nothing here knows the engine's state: the checker is told what went in, the frames on the wire
//! and the true state of the mechanics.

mod arrivals;
pub mod facts;
pub mod world;
