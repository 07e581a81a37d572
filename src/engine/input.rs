//! Everything that can go into the engine.

use crate::MAX_AXES;
use crate::errand::Errand;
use crate::operate::modes::Mode;
use crate::operator::Operator;
use crate::reference::{NotReferenced, Reference};
use crate::rig::Rig;
use crate::time::{Span, Time};
use alloc::boxed::Box;

/// One turn of the loop: when it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Tick {
    /// Counts the loop's periods since the start; skipped periods are counted too.
    pub index: u64,
    /// The moment this tick's inputs were drained.
    pub now: Time,
}

/// What was drained since the last tick.
#[derive(Clone, Debug, Default)]
pub struct Inputs<'a> {
    /// The slot of its own that a stop has: it is obeyed first, whatever else arrived.
    pub stop: Option<StopSource>,
    /// Everything else, in the order it happened. A press and a release between two ticks are two
    /// entries, and both count.
    pub edges: &'a [Input],
    /// Another profile, already valid. It is taken over whole, at once or when its moment has come;
    /// the box of the one it replaces comes back through [`crate::Engine::retired`].
    pub operator: Option<Box<Operator>>,
    /// Another file of the rig at this place, already valid; as with the profile.
    pub rig: Option<(u8, Box<Rig>)>,
    /// An errand, to wait for its press. Its box comes back through [`crate::Engine::retired_errand`].
    pub errand: Option<Box<Errand>>,
}

/// Who asked for the stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum StopSource {
    /// The stop button of this pad.
    Pad(PadId),
    /// The daemon itself or a command to it.
    Command,
}

/// One thing that happened.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[expect(
    clippy::large_enum_variant,
    reason = "inputs live in preallocated buffers; a box would allocate"
)]
pub enum Input {
    /// On a pad.
    Pad(PadId, PadEvent),
    /// On the link to the rig at this place in the slice.
    Link(u8, LinkEvent),
    /// Asked for by something that is no pad: a terminal, another program.
    Order(Order),
    /// The daemon was asked to end: stop, wait for rest, say so.
    End,
}

/// What can be asked for without a pad. Nothing of it moves an axis; where a press would be locked or
/// would wait, so is or does an order.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Order {
    /// Switch a mode on or off.
    Mode(Mode, bool),
    /// Select a gear, 0 the slowest; one there is not is the fastest.
    Gear {
        /// The group's place in the operator's groups.
        group: u8,
        /// The gear.
        gear: u8,
    },
    /// Call off the errand that waits or runs.
    CallOff,
    /// An axis stands at this position: the rig is asked to go by it.
    Reference(Reference),
}

/// A pad, by the place the shell gave it: 0 to [`crate::MAX_PADS`] - 1. A place is given to
/// another pad only after the last one there was unplugged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct PadId(pub u8);

/// What happened on a pad.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum PadEvent {
    /// It appeared. All its controls are unknown until they speak.
    Plugged {
        /// How it is connected.
        bus: PadBus,
        /// Whether it may drive; one that may not still stops everything.
        drives: bool,
    },
    /// It vanished.
    Unplugged,
    /// A stick or trigger moved: sticks -1..=1 with right and up positive, triggers 0..=1.
    Moved(Control, f64),
    /// A button went down (`true`) or up.
    Pressed(Button, bool),
    /// It spoke without a change: it is alive.
    Alive,
    /// From now on its silence is judged as of a pad on this bus. That alone is no sign of life.
    Bus(PadBus),
}

/// How a pad is connected, as far as its silence is concerned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum PadBus {
    /// Declared wired by its file, or a script: an unplug is reported at once, silence means rest.
    Wired,
    /// USB: wired, or the receiver of a radio pad.
    Usb,
    /// Bluetooth.
    Bluetooth,
    /// Whatever it is connected by, its raw reports were seen to come while nothing changed.
    Streaming,
}

/// A stick direction or trigger of a pad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum Control {
    /// Left stick, right is plus (`ABS_X`).
    Lx,
    /// Left stick, up is plus (`ABS_Y`, whose sign the shell turns round).
    Ly,
    /// Right stick, right is plus (`ABS_RX`).
    Rx,
    /// Right stick, up is plus (`ABS_RY`, whose sign the shell turns round).
    Ry,
    /// Left trigger (`ABS_HAT2Y`, in practice `ABS_Z`).
    Lt,
    /// Right trigger (`ABS_HAT2X`, in practice `ABS_RZ`).
    Rt,
}

impl Control {
    /// All of them, each at the place of its number.
    pub const ALL: [Control; 6] = [
        Control::Lx,
        Control::Ly,
        Control::Rx,
        Control::Ry,
        Control::Lt,
        Control::Rt,
    ];

    /// The name files and screens use.
    pub const fn name(self) -> &'static str {
        match self {
            Control::Lx => "lx",
            Control::Ly => "ly",
            Control::Rx => "rx",
            Control::Ry => "ry",
            Control::Lt => "lt",
            Control::Rt => "rt",
        }
    }

    /// The other direction of the same stick; `None` for a trigger.
    pub const fn other_direction(self) -> Option<Control> {
        match self {
            Control::Lx => Some(Control::Ly),
            Control::Ly => Some(Control::Lx),
            Control::Rx => Some(Control::Ry),
            Control::Ry => Some(Control::Rx),
            Control::Lt | Control::Rt => None,
        }
    }

    /// The control of that name.
    pub fn from_name(name: &str) -> Option<Control> {
        Control::ALL.into_iter().find(|c| c.name() == name)
    }
}

/// A button, named as in the Linux Gamepad Specification (Documentation/input/gamepad.rst).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum Button {
    /// `BTN_SOUTH`
    South,
    /// `BTN_EAST`
    East,
    /// `BTN_NORTH`
    North,
    /// `BTN_WEST`
    West,
    /// `BTN_TL`, the upper left shoulder.
    Tl,
    /// `BTN_TR`, the upper right shoulder.
    Tr,
    /// `BTN_SELECT`
    Select,
    /// `BTN_START`
    Start,
    /// `BTN_MODE`
    Mode,
    /// `BTN_THUMBL`, a press on the left stick.
    Thumbl,
    /// `BTN_THUMBR`, a press on the right stick.
    Thumbr,
    /// `BTN_DPAD_UP`
    DpadUp,
    /// `BTN_DPAD_DOWN`
    DpadDown,
    /// `BTN_DPAD_LEFT`
    DpadLeft,
    /// `BTN_DPAD_RIGHT`
    DpadRight,
}

impl Button {
    /// All of them, each at the place of its number.
    pub const ALL: [Button; 15] = [
        Button::South,
        Button::East,
        Button::North,
        Button::West,
        Button::Tl,
        Button::Tr,
        Button::Select,
        Button::Start,
        Button::Mode,
        Button::Thumbl,
        Button::Thumbr,
        Button::DpadUp,
        Button::DpadDown,
        Button::DpadLeft,
        Button::DpadRight,
    ];

    /// The name files and screens use.
    pub const fn name(self) -> &'static str {
        match self {
            Button::South => "south",
            Button::East => "east",
            Button::North => "north",
            Button::West => "west",
            Button::Tl => "tl",
            Button::Tr => "tr",
            Button::Select => "select",
            Button::Start => "start",
            Button::Mode => "mode",
            Button::Thumbl => "thumbl",
            Button::Thumbr => "thumbr",
            Button::DpadUp => "dpad-up",
            Button::DpadDown => "dpad-down",
            Button::DpadLeft => "dpad-left",
            Button::DpadRight => "dpad-right",
        }
    }

    /// The button of that name.
    pub fn from_name(name: &str) -> Option<Button> {
        Button::ALL.into_iter().find(|b| b.name() == name)
    }
}

/// What happened on a link.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[expect(
    clippy::large_enum_variant,
    reason = "inputs live in preallocated buffers; a box would allocate"
)]
pub enum LinkEvent {
    /// The rig was met, matches its file, is at rest and has acknowledged travel and stop sets.
    Ready(RigReport),
    /// The link is gone, or the rig must not be moved through it any more.
    Lost(LinkLoss),
    /// The rig told where it is.
    Told(Telemetry),
    /// The frame of this number could not leave in the tick that made it; the rig still follows
    /// the one before.
    Unsent(u32),
    /// The frame of this number left late, at this moment.
    SentLate(u32, Time),
    /// The reference that was asked for changed nothing. One that is taken ends the rig's session:
    /// [`LinkLoss::Reference`].
    NotReferenced(NotReferenced),
    /// Every motor of the rig has its full current again, or had it all the time.
    FullCurrent,
}

/// Why a link was lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum LinkLoss {
    /// The port vanished or reported an error.
    Unplugged,
    /// Nothing could be written for longer than the rig's watchdog.
    Stalled,
    /// Nothing was heard from the rig for too long.
    Silent,
    /// The rig started again or began another session.
    Restarted,
    /// The rig stopped by its own watchdog or at its own travel ends.
    RigStopped,
    /// The rig reported a fault.
    Fault,
    /// The rig's own stop input is active.
    StopInput,
    /// Motor power is gone.
    PowerOff,
    /// What the rig says does not match its file or makes no sense.
    Disagrees,
    /// Frames were left out on purpose, to see the rig stop by its own watchdog.
    Hushed,
    /// The rig took a reference: positions mean something else, so it is met anew.
    Reference,
}

/// What a rig says of itself when it is met, in the picture's sense and the axes' units.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RigReport {
    /// One entry for each axis of the rig; the rest is unused.
    pub axes: [AxisReport; MAX_AXES],
}

/// What a rig says of one axis.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AxisReport {
    /// Where it is.
    pub position: f64,
    /// Whether that position is to be believed.
    pub referenced: bool,
    /// The rig's own speed limit, if it told one.
    pub speed: Option<f64>,
    /// The rig's own acceleration limit, if it told one.
    pub accel: Option<f64>,
    /// The rig's own jerk limit, if it told one.
    pub jerk: Option<f64>,
}

/// Where a rig is, in the picture's sense and the axes' units.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Telemetry {
    /// The number of the last frame it applied.
    pub applied: u32,
    /// Each axis's position at the moment it applied that frame.
    pub at_applied: [f64; MAX_AXES],
    /// Each axis's position when it spoke.
    pub position: [f64; MAX_AXES],
    /// Whether each axis's position is to be believed.
    pub referenced: [bool; MAX_AXES],
}

/// How late a tick may be before the loss law stops the rig.
pub const LATENESS_BOUND: Span = Span::from_millis(80);
