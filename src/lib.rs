//! stillhand
pub mod link;
pub mod shell;
