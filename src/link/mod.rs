//! The link to a rig: serial port, session, bench rig.
//!
//! | module | what lives there | waits? |
//! |---|---|---|
//! | [`session`] | the handshake and everything said on the line, sans-IO | never |
//! | [`accept`] | whether what a rig says of itself is believed | never |
//! | [`convert`] | between the picture's units and the rig's counts | never |
//! | [`clock`] | the rig's clock as seen from here | never |
//! | [`budget`] | how many frames a line can carry | never |
//! | [`simulated`] | what a simulated rig says of itself | never |
//! | [`writer`] | the one frame on its way into the port | never |
//! | [`port`] | the serial port, non-blocking once it is open | while opening, on its own thread |
//! | [`plant`] | the mechanics of the bench rig | never |
//! | [`mod@bench`] | the simulated rig behind a pseudo-terminal, a process of its own | yes, it is a process |

pub mod accept;
pub mod bench;
pub mod budget;
pub mod clock;
pub mod convert;
pub mod plant;
pub mod port;
pub mod session;
pub mod simulated;
pub mod writer;
