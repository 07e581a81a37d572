//! The link to a rig: serial port, session, bench rig.
//!
//! | module | what lives there | waits? |
//! |---|---|---|
//! | [`session`] | the handshake and everything said on the line, sans-IO | never |
//! | [`accept`] | whether what a rig says of itself is believed | never |
//! | [`convert`] | between the picture's units and the rig's counts | never |
//! | [`clock`] | the rig's clock as seen from here | never |
//! | [`news`] | which tellings are not old ones | never |
//! | [`budget`] | how many frames a line can carry | never |
//! | [`hush`] | a deliberate silence, to see the rig's watchdog | never |
//! | [`writer`] | the one frame on its way into the port | never |
//! | [`traffic`] | what left, and what of it was lost | never |
//! | [`port`] | the serial port | opening, reading and closing may, on threads of their own; writing never |
//! | [`Heard`] | the first bytes, when nothing else makes sense | never |
//! | [`mischief`] | what the bench rig does wrong on request | never |
//! | [`plant`] | the mechanics of the bench rig | never |
//! | [`mod@bench`] | the simulated rig behind a pseudo-terminal, a process of its own | yes, it is a process |

pub mod accept;
pub mod bench;
pub mod budget;
pub mod clock;
pub mod convert;
mod heard;
pub mod hush;
pub mod mischief;
pub mod news;
pub mod plant;
pub mod port;
pub mod session;
pub mod traffic;
pub mod writer;

pub use heard::Heard;
