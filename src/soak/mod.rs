//! Whole worlds in virtual time: pad, engine, wire, rig and mechanics, watched by the laws checker.
//!
//! Nothing here knows the engine's state: the checker is told what went in, the frames on the wire
//! and the true state of the mechanics.
//!
//! | module | what lives there |
//! |---|---|
//! | [`world`] | one world: what a test does to it, and a turn of its loop |
//! | `line` | the cable: bytes on their way, damage, a plug that is pulled |
//! | [`noise`] | what a bad cable does to frames |
//! | `far` | the rig's end and its mechanics, a millisecond at a time |
//! | `judge` | what the checker is told, and when |
//! | [`facts`] | what it is told beforehand |
//! | [`random`] | repeatable random numbers |
//! | [`rigs`] | random rigs and hands, each of them possible |
//! | [`temper`] | nervous, lazy and hostile hands |
//! | [`session`] | random sessions: hands that do anything |
//! | `arrivals` | what reached the rig, as the checker judges it |

mod arrivals;
pub mod facts;
mod far;
mod judge;
mod line;
mod losing;
pub mod noise;
pub mod random;
pub mod rigs;
pub mod session;
pub mod temper;
pub mod world;
