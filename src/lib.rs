//! stillhand

pub mod cli;
pub mod profile;
