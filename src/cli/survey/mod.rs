//! `stillhand survey`: how loud each speed of each axis is at the microphone.

pub mod wav;
