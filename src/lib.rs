//! stillhand

pub mod cli;
pub mod shell;
