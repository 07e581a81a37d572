//! What several tests need.

pub mod aftermath;
pub mod checked;
pub mod daemon;
pub mod desk;
pub mod edit;
pub mod fakepad;
pub mod hall;
pub mod judge;
pub mod line;
pub mod mechanics;
pub mod relay;
pub mod stage;
pub mod steady;
pub mod talk;
pub mod tape;
pub mod watch;
pub mod watched;
pub mod worn;
