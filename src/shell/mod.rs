//! Everything that touches the outside: it only fills and drains bounded mailboxes.

pub mod clock;
pub mod pad;
