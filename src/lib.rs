//! stillhand

pub mod cli;
pub mod link;
pub mod profile;
pub mod shell;
pub mod soak;
