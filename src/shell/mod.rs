//! Everything that touches the machine: it fills and drains bounded mailboxes, and runs the loop.
//!
//! | module | what lives there |
//! |---|---|
//! | [`clock`] | the one place that reads the clock |
//! | [`lines`] | what text scripts share: words, times, problems |
//! | [`pad`] | real pads and pad scripts, into a mailbox |
//! | [`opener`] | opens the port, and again after it was lost, on a thread of its own |
//! | [`mod@line`] | an open port: the loop writes, a thread of the port's own reads |
//! | [`drive`] | the control loop: one thread owns the engine |
//! | [`watch`] | notices that files may have changed |
//! | [`edits`] | changed files on their way to the loop |
//! | [`wishes`] | another operator, asked of whoever reads profiles |
//! | [`realtime`] | making that thread punctual |
//! | [`mod@panic`] | what a panic does: it ends the process |
//! | [`pages`] | how things stand, for socket and board |
//! | [`socket`] | the control socket: status, stop, modes and gears for terminals and programs |
//! | [`errands`], [`probe`], `answers` | what a command at work asks of the loop, what it is shown of it, and what d-pads answer it |
//! | [`stats`] | what it did, for the summary |

mod answers;
pub mod clock;
pub mod drive;
pub mod edits;
pub mod errands;
pub mod line;
pub mod lines;
pub mod opener;
pub mod pad;
pub mod pages;
pub mod panic;
pub mod probe;
pub mod realtime;
pub mod socket;
pub mod stats;
pub mod watch;
pub mod wishes;
