//! stillhand drives a motorised camera rig live from a game controller over a serial line.
//!
//! ```text
//! pad ──▶ feel ──▶ operate ──▶ motion ──▶ wire ──▶ link ──▶ rig
//! (raw     (demand   (who, may    (ceilings,  (frames)  (port)    │
//!  sticks)  -1..1)    it move?)    slew, guard)                   │
//!                          board ◀── status     telemetry ◀─────────┘
//! ```
//!
//! Feel, operate and motion are a crate of their own, `stillhand_engine`: one call, no clock, no file,
//! no port. What a microphone hears of a rig is computed in another, `stillhand_acoustics`. This package is
//! what is around them.
//!
//! | module | what lives there | may use |
//! |---|---|---|
//! | [`profile`] | text of files to the engine's valid types; opens no file | engine |
//! | [`link`] | session with the rig, serial port, bench rig | engine, wire, rig end; of shell the clock and the lines of scripts |
//! | [`journal`] | what went through the engine, to files and back: record, read, replay | engine |
//! | [`shell`] | pads, clock, the control loop: fills and drains bounded mailboxes | engine, link, journal |
//! | [`board`] | the local web page that shows how a run stands; changes nothing | of shell the pages |
//! | [`soak`] | whole worlds in virtual time, held against the laws | engine, link, journal, laws checker |
//! | [`cli`] | one file for each command | all of them |
//!
//! **The dependency rule:** the engine, the wire, the rig end and the laws checker are crates that know
//! nothing of this package, and the checker nothing of the engine; so does acoustics, which knows the engine's
//! types of a rig; here nothing but the program itself
//! knows [`cli`]. DEVELOPERS.md at the top of the repository goes on from here.

pub mod board;
pub mod cli;
pub mod journal;
pub mod link;
pub mod profile;
pub mod shell;
pub mod soak;
