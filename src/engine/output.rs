//! Everything that can come out of the engine.

use crate::MAX_AXES;
use crate::bindings::Action;
use crate::current::Current;
use crate::errand::{ErrandNews, Purpose};
use crate::input::{LinkLoss, PadId, StopSource};
use crate::motion::bands::Band;
use crate::operate::modes::{Mode, Modes};
use crate::operate::state::Turns;
use crate::operator::MAX_GROUPS;
use crate::reference::{Reference, ReferenceStatus, Stands};
use crate::time::{Span, Time};
use alloc::vec::Vec;

/// What one tick produced.
#[derive(Clone, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Outputs {
    /// One entry for each rig, in the order they were given to the engine.
    pub rigs: Vec<RigOutput>,
    /// What happened, in order, for the log and the operator.
    pub notices: Notices,
    /// How things stand after this tick.
    pub status: Status,
    /// The rows of the state machine's table that this tick went through.
    pub turns: Turns,
    /// Whether the daemon was asked to end and everything is at rest.
    pub ended: bool,
}

/// What one tick produced for one rig.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RigOutput {
    /// The velocity frame to send now, if one is due.
    pub frame: Option<Frame>,
    /// Each axis of the rig; the rest is unused.
    pub axes: [AxisStatus; MAX_AXES],
    /// With which current its motors hold.
    pub current: Current,
}

/// A velocity frame for one rig.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Frame {
    /// Counts frames of this session from 1, without gaps.
    pub seq: u32,
    /// Velocity of each axis in the rig's own sense, in 1/1024 count/s.
    pub velocity: [i32; MAX_AXES],
}

/// Most notices one tick can bring forth; further ones are counted, not kept.
pub const MAX_NOTICES: usize = 16;

/// The notices of one tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Notices {
    kept: [Option<Notice>; MAX_NOTICES],
    count: usize,
    /// How many did not fit.
    pub dropped: u32,
}

impl Notices {
    /// Adds one, or counts it as dropped.
    pub fn push(&mut self, notice: Notice) {
        match self.kept.get_mut(self.count) {
            Some(slot) => {
                *slot = Some(notice);
                self.count += 1;
            }
            None => self.dropped += 1,
        }
    }

    /// Adds one unless it is there: of several axes of a group, one tells for all.
    pub fn push_once(&mut self, notice: Notice) {
        if !self.iter().any(|one| one == notice) {
            self.push(notice);
        }
    }

    /// The notices in the order they happened.
    pub fn iter(&self) -> impl Iterator<Item = Notice> + '_ {
        self.kept.iter().take(self.count).copied().flatten()
    }
}

/// Something worth telling.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Notice {
    /// The state changed.
    Entered(State),
    /// This pad now holds a group of axes, or none does.
    Holds {
        /// The group's place in the operator's groups.
        group: u8,
        /// The pad.
        pad: Option<PadId>,
    },
    /// A pad asks for a group.
    Asks {
        /// The group's place in the operator's groups.
        group: u8,
        /// The pad that asks.
        pad: PadId,
    },
    /// The pad that holds a group agreed to pass it; it passes at rest, with the receiving sticks
    /// centred.
    Agreed {
        /// The group's place in the operator's groups.
        group: u8,
        /// The pad that asked.
        pad: PadId,
    },
    /// A request for a group was not answered and is forgotten.
    AskForgotten(u8),
    /// A group's axes stop and are withheld, while others may go on.
    GroupWithheld {
        /// The group's place in the operator's groups.
        group: u8,
        /// Why.
        why: Why,
    },
    /// A pad that holds something has been silent for half its bound.
    SilenceNear {
        /// The pad.
        pad: PadId,
        /// The time left until its axes are stopped.
        left: Span,
    },
    /// The gear of a group is now this one, 0 the slowest.
    Gear {
        /// The group's place in the operator's groups.
        group: u8,
        /// The gear.
        gear: u8,
    },
    /// A mode is now on or off.
    Mode(Mode, bool),
    /// A mode goes off as soon as the sticks are centred.
    ModeWaits(Mode),
    /// What was asked for is locked while the camera is rolling.
    Locked(Action),
    /// This pad asks for the next operator.
    NextOperator(PadId),
    /// The present speed of these axes of a group is kept, or none is any more.
    Sustain {
        /// The group's place in the operator's groups.
        group: u8,
        /// Whether it is kept.
        on: bool,
    },
    /// Where an axis stands with regard to its travel has changed.
    Place {
        /// The rig's place.
        rig: u8,
        /// The axis's place in the rig file.
        axis: u8,
        /// Where it stands.
        place: Place,
    },
    /// A rig file was taken over.
    RigApplied(u8),
    /// A changed rig file waits, and for what.
    RigWaits(Wait),
    /// A changed rig file describes another rig: that takes a new start.
    RigRefused(u8),
    /// Another profile is in force.
    ProfileApplied,
    /// Another profile waits, and for what.
    ProfileWaits(Wait),
    /// Another profile names an axis there is not; nothing changed.
    ProfileRefused,
    /// This axis began to brake for an end of its travel.
    TravelEnd {
        /// The rig's place.
        rig: u8,
        /// The axis's place in the rig file.
        axis: u8,
    },
    /// A pad asks that the end of this axis's travel which is nearest be where it stands.
    EndHere {
        /// The rig's place.
        rig: u8,
        /// The axis's place in the rig file.
        axis: u8,
    },
    /// This axis's guard found its plan too late and brakes with the stop set.
    GuardLate {
        /// The rig's place.
        rig: u8,
        /// The axis's place in the rig file.
        axis: u8,
    },
    /// This axis is again, or in a state that says something else, not where it was sent. The first time, the
    /// state that is entered tells it.
    Apart {
        /// The rig's place.
        rig: u8,
        /// The axis's place in the rig file.
        axis: u8,
    },
    /// A tick came this late.
    Late(Span),
    /// A further pad was plugged in than there are places for.
    TooManyPads,
    /// Something became of an errand.
    Errand(Purpose, ErrandNews),
    /// Something became of a reference that was asked for.
    Reference {
        /// What was asked for.
        asked: Reference,
        /// What became of it.
        stands: Stands,
    },
}

/// Whether the rig may move.
///
/// ```text
///             link ready, pad there             a control armed
///   NoLink ───────────────▶ Withheld ───────────────────────────▶ Driving
///   NoPad  ◀───────────────    ▲  ▲   ◀─────────────────────────    │
///             link or pad lost │  └── lateness, residual, silence ──┤
///                              │ release held                       │
///                           Stopped ◀──── stop, from any state ─────┤
///                           Still   ◀───▶ still on, still off ──────┤
///                           Ending  ◀──── end, from any state ──────┘
/// ```
///
/// Still off leads to Withheld, once every motor has its full current. A link, pad or stop that matters more is named instead of it.
/// A stop outlives the loss of link or pad: only its release ends it. Ending ends only the daemon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum State {
    /// No rig to move.
    NoLink(Why),
    /// Nobody to move it.
    NoPad(Why),
    /// A stop is latched.
    Stopped(StopSource),
    /// All there, but no control armed yet.
    Withheld(Why),
    /// At least one control is armed.
    Driving,
    /// All there, and nothing may move until `still` is switched off.
    Still,
    /// Coming to rest for good.
    Ending,
}

/// What a change of profile or rig waits for, least first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Wait {
    /// Nothing: it applies at once.
    Nothing,
    /// The sticks that would become faster are centred.
    Centred,
    /// Nothing moves and every stick is centred.
    RestAndCentred,
    /// The camera is no longer rolling; then also rest and every stick centred.
    NotRolling,
}

/// What withheld motion last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Why {
    /// The daemon has just started.
    Start,
    /// The pad in control vanished.
    PadLost,
    /// The pad in control was silent for too long while the rig moved.
    PadSilent,
    /// The link was lost.
    LinkLost(LinkLoss),
    /// A stop was released.
    StopReleased,
    /// Another operator, or other bindings, came into force.
    ProfileChanged,
    /// `still` was switched off.
    StillEnded,
    /// A group of axes passed to another pad.
    ControlPassed,
    /// Another rig file came into force.
    RigChanged,
    /// An axis found its reference, or lost it.
    Reference,
    /// The loop came later than [`crate::input::LATENESS_BOUND`].
    Late,
    /// This axis is not where it was sent.
    Residual {
        /// The rig's place.
        rig: u8,
        /// The axis's place in the rig file.
        axis: u8,
    },
    /// A reference was asked for; the rig has not taken it yet, or refused.
    ReferenceAsked,
}

/// How things stand, for whoever looks.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Status {
    /// When this was.
    pub at: Time,
    /// Whether the rig may move.
    pub state: State,
    /// The groups of axes; the rest is unused.
    pub groups: [GroupStatus; MAX_GROUPS],
    /// Quiet, still, reduced, rolling.
    pub modes: Modes,
    /// The last reference that was asked for.
    pub reference: ReferenceStatus,
}

/// How a group of axes stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct GroupStatus {
    /// The pad that holds it.
    pub pad: Option<PadId>,
    /// The pad that asks for it.
    pub asked: Option<PadId>,
    /// For how long the pad that holds it has been silent.
    pub silent_for: Span,
    /// The silence after which its present motion is stopped; `None` if there is no bound.
    pub silence_bound: Option<Span>,
    /// The gear, 0 the slowest.
    pub gear: u8,
    /// The speed trigger has not spoken yet on the pad that holds it, so it counts as its slower end.
    pub trigger_unheard: bool,
}

impl Status {
    /// How things stand before the first tick.
    pub const fn at_start(state: State) -> Status {
        Status {
            at: Time(0),
            state,
            groups: [GroupStatus {
                pad: None,
                asked: None,
                silent_for: Span::ZERO,
                silence_bound: None,
                gear: 0,
                trigger_unheard: false,
            }; MAX_GROUPS],
            modes: Modes::NONE,
            reference: ReferenceStatus::NONE,
        }
    }

    /// The pad that holds the first group that is held.
    pub fn pad(&self) -> Option<PadId> {
        self.groups.iter().find_map(|group| group.pad)
    }
}

/// Where an axis stands with regard to its travel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Place {
    /// Its position is known and inside.
    #[default]
    Inside,
    /// Its position is known and outside, by an edit or by hand: it moves inward only, reduced. So
    /// it counts until, back inside, its stick was let go.
    Outside,
    /// Its position is not known: its travel is not guarded, it moves reduced and only while the
    /// enable control is held.
    Unreferenced,
}

/// Whether an axis has what enables it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Enabled {
    /// It needs nothing.
    #[default]
    NotNeeded,
    /// The enable control is held.
    Held,
    /// The enable control is not held.
    Wanted,
    /// It needs an enable control, and the operator has bound none.
    Unbound,
}

/// What moves an axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Mover {
    /// Its sticks, or nothing.
    #[default]
    Sticks,
    /// A speed that is kept.
    Sustain,
    /// Inching.
    Inching,
    /// An errand, or the pause before its next leg.
    Errand,
}

/// How one axis stands. All in the picture's sense and the axis's unit.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct AxisStatus {
    /// Where it is, as far as is known.
    pub position: f64,
    /// Whether that is to be believed.
    pub referenced: bool,
    /// The speed it is commanded to go.
    pub speed: f64,
    /// The acceleration of that speed.
    pub accel: f64,
    /// What the sticks ask for, -1..=1.
    pub demand: f64,
    /// The speed of a full stick now.
    pub full_stick: f64,
    /// The ceiling that makes it so, or that clips the present demand.
    pub binding: Option<Ceiling>,
    /// The band to avoid that has this ceiling, or the speed asked for, inside.
    pub band: Option<Band>,
    /// The share of the ceilings that the speed trigger leaves, 0..=1.
    pub trigger: f64,
    /// The share that the tip speeds of all axes together leave while reduced, 0..=1.
    pub shared: f64,
    /// What moves it.
    pub mover: Mover,
    /// Where it stands with regard to its travel.
    pub place: Place,
    /// Whether it has what enables it.
    pub enabled: Enabled,
    /// Whether the control that drives it has been centred since motion was last withheld.
    pub armed: bool,
    /// How long a stop would take from here, in seconds.
    pub stop_time: f64,
    /// How far the axis would still go.
    pub stop_distance: f64,
}

/// The ceilings, in the order in which equal ones are named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Ceiling {
    /// What the rig's file or the rig itself allows. Scales.
    Rig,
    /// The operator's own highest speed. Scales.
    Operator,
    /// The selected gear. Scales.
    Gear,
    /// Quiet. Scales.
    Quiet,
    /// What the picture bears. Scales.
    Framing,
    /// Reduced speed, switched on or because the position is not to be trusted. Scales.
    Reduced,
    /// An end of the travel. Clips.
    Travel,
    /// What the link can carry. Clips.
    Link,
}

impl Ceiling {
    /// All of them.
    pub const ALL: [Ceiling; 8] = [
        Ceiling::Rig,
        Ceiling::Operator,
        Ceiling::Gear,
        Ceiling::Quiet,
        Ceiling::Framing,
        Ceiling::Reduced,
        Ceiling::Travel,
        Ceiling::Link,
    ];

    /// The name files and screens use.
    pub const fn name(self) -> &'static str {
        match self {
            Ceiling::Rig => "rig",
            Ceiling::Operator => "operator",
            Ceiling::Gear => "gear",
            Ceiling::Quiet => "quiet",
            Ceiling::Framing => "framing",
            Ceiling::Reduced => "reduced",
            Ceiling::Travel => "travel",
            Ceiling::Link => "link",
        }
    }
}
