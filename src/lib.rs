//! stillhand
pub mod link;
