//! What the checker is told while a world runs.

use crate::facts::{Button, ControlId, Facts, Normal};
use crate::units::{Axes, Nanos};

/// Names a pad.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PadId(pub u16);

/// How a pad is connected, which decides how long it may be silent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bus {
    /// Declared wired: no bound, an unplug is reported at once.
    Wired,
    /// USB, may be a radio receiver: 10 to 60 s.
    Usb,
    /// Bluetooth: 2 to 60 s.
    Bluetooth,
    /// Its raw reports come all the time: 0.3 s.
    Streaming,
}

/// A motion asked for by something other than a stick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// A press is one exact step; kept down, a creep.
    Inching,
    /// The present speed is kept.
    Sustain,
    /// Travelling to a stored position.
    Recall,
    /// Playing a recorded pass.
    Repeat,
    /// Measuring loudness.
    Survey,
    /// Finding out which way is which.
    DirectionTest,
    /// The daily check.
    DailyCheck,
}

impl Asked {
    pub(crate) fn bit(self) -> u8 {
        1 << self as u8
    }

    /// Motions whose speed follows a script of their own while every input stays the same.
    ///
    /// Of inching because presses wait for the step before them.
    pub(crate) const SCRIPTED: u8 = 1 << Asked::Inching as u8
        | 1 << Asked::Repeat as u8
        | 1 << Asked::Survey as u8
        | 1 << Asked::DirectionTest as u8
        | 1 << Asked::DailyCheck as u8;
}

/// What a change of files or hands was about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Feel, gears, ceilings: withholds nothing.
    Profile,
    /// What drives what, or which way: withholds every axis.
    Bindings,
    /// Another operator: withholds every axis.
    Operator,
    /// The rig file.
    Rig,
}

/// A band of speeds to avoid, axis units/s, low below high.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Lower edge.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
}

/// The quiet ceilings of one axis.
#[derive(Clone, Debug, PartialEq)]
pub struct QuietAxis {
    /// Speed, axis units/s; 0 for `still`.
    pub speed: f64,
    /// Acceleration, axis units/s^2.
    pub accel: f64,
    /// Jerk, axis units/s^3.
    pub jerk: f64,
    /// Speeds to avoid.
    pub bands: Vec<Band>,
}

/// An external input, or a consequence of one that the world knows.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// A pad appeared. One that may drive takes every axis that has no pad.
    PadPlugged {
        /// Which.
        pad: PadId,
        /// How.
        bus: Bus,
        /// Whether it may drive, or only stop.
        may_drive: bool,
    },
    /// A pad is gone.
    PadUnplugged(
        /// Which.
        PadId,
    ),
    /// Control of some axes passes to a pad; an operator change for these axes.
    TakesControl {
        /// Which pad.
        pad: PadId,
        /// Which axes.
        axes: Axes,
    },
    /// A pad said something that changed nothing: it is alive.
    PadAlive(
        /// Which.
        PadId,
    ),
    /// How long a pad may be silent is judged by another bus from now on. That is no sign of life.
    PadBus(
        /// Which.
        PadId,
        /// By which.
        Bus,
    ),
    /// A stick or trigger's value, raw, before any processing.
    Stick {
        /// Which pad.
        pad: PadId,
        /// Which control.
        control: ControlId,
        /// -1..1; triggers 0..1.
        value: f64,
    },
    /// A button went down.
    ButtonDown(PadId, Button),
    /// A button came up.
    ButtonUp(PadId, Button),
    /// The rig may be driven: handshake done, with this session.
    LinkReady {
        /// Session of valid frames.
        session: u32,
    },
    /// The link is gone.
    LinkLost,
    /// Motor power is gone; every axis loses its reference.
    PowerLost,
    /// Motor power is back.
    PowerBack,
    /// An axis has found its reference.
    Referenced(usize),
    /// An axis no longer knows where it is.
    Unreferenced(usize),
    /// An axis was moved by hand, or its position was set anew.
    Moved(usize),
    /// A file or the operator changed; the facts from now on, if they differ.
    Changed(Change, Option<Box<Facts>>),
    /// The effective ceiling of an axis is now this, by whatever cause.
    Ceiling {
        /// Which axis.
        axis: usize,
        /// Axis units/s.
        speed: f64,
    },
    /// A normal set is a candidate: harder at once, softer as soon as the motion fits it.
    NormalSet {
        /// Which axis.
        axis: usize,
        /// The set.
        set: Normal,
    },
    /// Quiet on, with the ceilings of each axis, or off.
    Quiet(Option<Vec<QuietAxis>>),
    /// A telling of the rig comes late or not at all: what the engine takes for positions is put right later,
    /// in a step.
    PutOff,
    /// A position was put right so near to an end that no plan for braking fits any more.
    NearerEnd(usize),
    /// The rig stops by itself from now on, told of or not: its stop input, a fault.
    RigStops,
    /// The frame of this step could not leave: time that changes no speed has passed since the last one that did.
    Unsent,
    /// Some ceilings are shared out among all axes that move, or no longer: then the speed of one changes
    /// the ceilings of the others.
    Shared(bool),
    /// A motion was asked for.
    Ask(usize, Asked),
    /// A motion asked for has ended.
    AskEnded(usize, Asked),
    /// The enable control of an axis is held, or not.
    Enable {
        /// Which axis.
        axis: usize,
        /// Held.
        held: bool,
    },
    /// The process has begun a tick: lateness shows as a gap.
    Tick,
    /// Telemetry and estimate differ too much on an axis: a stop of that axis.
    Residual(usize),
    /// Frames that were sent do not reach the rig: until its watchdog has run out it may go on as an
    /// earlier one said.
    FramesLost {
        /// Those before may arrive so much later than they left.
        late: Nanos,
    },
    /// The stop command.
    Stop,
    /// The command that releases a stop.
    StopReleased,
    /// The run is asked to end.
    End,
}

/// A velocity frame as sent, decoded from the wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame<'a> {
    /// Axis units/s, one per axis.
    pub speeds: &'a [f64],
}

/// The true state of one axis.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlantAxis {
    /// Axis units.
    pub position: f64,
    /// Axis units/s.
    pub speed: f64,
}

/// The true state of the rig.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plant<'a> {
    /// One per axis.
    pub axes: &'a [PlantAxis],
}

/// What had been done to a frame before it reached the rig.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Handling {
    /// Nothing.
    Valid,
    /// Bits or bytes changed.
    Damaged,
    /// Cut short.
    Truncated,
    /// Sent once more.
    Duplicate,
    /// Overtaken by a later one.
    Reordered,
    /// Held back past its deadline.
    Outdated,
    /// Of another session, or no frame of ours.
    Foreign,
}

/// A frame at the rig's end, and what the rig did with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Arrival {
    /// What the carrier did to it.
    pub handling: Handling,
    /// Session it carries.
    pub session: u32,
    /// Sequence number it carries; wraps.
    pub seq: u32,
    /// Deadline it carries, rig clock.
    pub deadline: Nanos,
    /// Rig clock at its arrival.
    pub rig_clock: Nanos,
    /// Whether a setpoint of the rig changed because of it.
    pub setpoint_changed: bool,
    /// Whether it renewed the rig's watchdog.
    pub watchdog_renewed: bool,
}
