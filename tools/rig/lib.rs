//! The rig's end of the line: parser, session, stop ramps, watchdog, travel and step generation.
//!
//! No IO, no clock, no allocation, integers only: a microcontroller compiles this crate unchanged, and the bench rig runs the same code.
//! The firmware calls [`Rig::on_bytes`] with what the line brought, [`Rig::set_inputs`] when an input changed, [`Rig::tick`] every
//! millisecond, and follows [`Rig::output`]: a step rate, a whole-count position and whether to hold with less current, per axis.
//! The rules are those of PROTOCOL.md, section 6.
//!
//! ```text
//! bytes -> rig (session, who may move it) -> axis (setpoint or stop) -> travel guard -> counter -> output
//! ```
#![no_std]

mod axis;
mod config;
mod counter;
mod feed;
mod guard;
mod rig;
mod session;
mod standstill;
mod stop;

pub use config::{AxisConfig, Config, DEFAULT_TELEMETRY_MS, Inputs};
pub use rig::{Moving, Output, Rig};
pub use stop::{Stop, TIME_UNITS_PER_S};
