//! The line between the daemon and a rig: messages, framing and the small rules both ends share.
//!
//! A frame is `COBS(direction byte ++ postcard(message) ++ CRC-32) ++ 0x00`; `PROTOCOL.md` beside this
//! file documents it byte by byte. This crate has no clock, no IO and no allocation, so that a
//! microcontroller compiles the same source as the daemon.
//!
//! - [`messages`]: what is said, in both directions, with units.
//! - [`frame`]: [`encode`] one message, [`Deframer`] turns any chunking of bytes back into messages.
//! - [`rules`]: which sequence number is newer, which deadline still holds (both wrap-safe).
#![no_std]

pub mod frame;
pub mod messages;
pub mod rules;

pub use frame::{Deframer, FrameBytes, FromRigDeframer, Overflow, RESYNC, ToRigDeframer, encode};
/// The bounded list and string types the messages are made of.
pub use heapless;
pub use messages::{FromRig, Message, ToRig};
