//! What a command at work is shown of every turn of the loop: what was commanded, and whatever the rig told, as it
//! came, whichever session it was of.

use rtrb::{Consumer, Producer, RingBuffer};
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::{Button, PadId};
use stillhand_engine::output::{AxisStatus, State};
use stillhand_engine::time::Time;
use stillhand_wire::messages::Telemetry;
use stillhand_wire::{FromRig, FromRigDeframer};

/// A second at the highest rate, with fifty tellings; whoever looks does so twenty times a second.
const KEPT: usize = 1_100;

/// One thing that was seen.
#[derive(Clone, Debug)]
pub enum Seen {
    /// A turn of the loop.
    Turn(Turn),
    /// The rig told this, and when it was heard.
    Told(Time, Telemetry),
    /// A d-pad answered a question.
    Tapped(PadId, Button),
}

/// What a turn of the loop did.
#[derive(Clone, Copy, Debug)]
pub struct Turn {
    /// When it was.
    pub at: Time,
    /// Whether the rig might move after it.
    pub state: State,
    /// Whether nothing was written, on purpose.
    pub hushed: bool,
    /// Each axis after it.
    pub axes: [Commanded; MAX_AXES],
}

/// What a turn commanded one axis, in the picture's sense and the axis's unit.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Commanded {
    /// The speed.
    pub speed: f64,
    /// How long a stop would take from here, in seconds.
    pub stop_time: f64,
    /// How far the axis would still go.
    pub stop_distance: f64,
}

/// The loop's end.
#[derive(Debug)]
pub struct Probe {
    shown: Producer<Seen>,
    deframer: FromRigDeframer,
}

/// The two ends.
pub fn probe() -> (Probe, Consumer<Seen>) {
    let (shown, seen) = RingBuffer::new(KEPT);
    let deframer = FromRigDeframer::new();
    (Probe { shown, deframer }, seen)
}

impl Probe {
    /// Bytes of the rig, heard at `at`.
    pub(super) fn hear(&mut self, at: Time, bytes: &[u8]) {
        let Probe { shown, deframer } = self;
        deframer.feed::<FromRig>(bytes, |message| {
            if let FromRig::Telemetry(told) = message {
                // A full ring means that nobody has looked for a second.
                let _ = shown.push(Seen::Told(at, told));
            }
        });
    }

    /// A d-pad answered.
    pub(super) fn tapped(&mut self, pad: PadId, button: Button) {
        let _ = self.shown.push(Seen::Tapped(pad, button));
    }

    /// A turn is over.
    pub(super) fn turn(&mut self, at: Time, state: State, hushed: bool, axes: &[AxisStatus]) {
        let mut turn = Turn {
            at,
            state,
            hushed,
            axes: [Commanded::default(); MAX_AXES],
        };
        for (own, status) in turn.axes.iter_mut().zip(axes) {
            *own = Commanded {
                speed: status.speed,
                stop_time: status.stop_time,
                stop_distance: status.stop_distance,
            };
        }
        let _ = self.shown.push(Seen::Turn(turn));
    }
}
