//! What the engine makes of pads, links, stops and time, through its one entry.
//!
//! `bench` is the only place that makes an engine: everything else says what happens and looks.

mod bands;
mod bench;
mod consent;
mod enable;
mod end_here;
mod ending;
mod errands;
mod gears;
mod groups;
mod inching;
mod links;
mod modes;
mod orders;
mod pads;
mod places;
mod radial;
mod reduced;
mod reference;
mod rig_file;
mod sent;
mod standstill;
mod stops;
mod sustain;
mod ticks;
mod triggers;
