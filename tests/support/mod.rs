//! What several tests need.

pub mod fakepad;
pub mod watch;
