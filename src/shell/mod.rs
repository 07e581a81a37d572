//! Everything that touches the machine: it fills and drains bounded mailboxes, and runs the loop.
pub mod clock;
pub mod realtime;
pub mod stats;
