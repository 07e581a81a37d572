//! What the engine makes of pads, links, stops and time, through its one entry.
//!
//! `bench` is the only place that makes an engine: everything else says what happens and looks.

mod bench;
mod consent;
mod ending;
mod gears;
mod links;
mod pads;
mod sent;
mod stops;
mod ticks;
