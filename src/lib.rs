//! stillhand

pub mod cli;
pub mod link;
pub mod shell;
