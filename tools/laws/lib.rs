//! The laws checker.

mod axis;
mod breach;
mod ceiling;
mod checker;
mod compare;
mod consent;
mod event;
mod facts;
mod input;
mod intact;
mod judge;
mod loss;
mod motion;
mod pads;
mod quiet;
mod sense;
mod sets;
mod slew;
mod smooth;
mod stats;
mod travel;
mod units;

pub use breach::{BREACHES_KEPT, Breach, Law};
pub use checker::Checker;
pub use compare::{Change as ProfileChange, Trace, compare_same, compare_unchanged, compare_whole};
pub use event::{
    Arrival, Asked, Band, Bus, Change, Event, Frame, Handling, PadId, Plant, PlantAxis, QuietAxis,
};
pub use facts::{
    AxisFacts, Button, ControlFacts, ControlId, Drive, Facts, Normal, Set, Travel, Unit,
};
pub use slew::Slew;
pub use stats::{Peaks, Stats};
pub use units::{Axes, Nanos};
